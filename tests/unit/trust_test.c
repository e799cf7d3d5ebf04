/* What a hold-down study says of its own ground: whether the survey could show enough, whether the
 * plate leans, rocks or lies two ways, how thick it is where, and what the other face up would
 * take. */
#include "support/check.h"

#include <stdio.h>

#include "answer/holddown_words.h"
#include "answer/turned_words.h"
#include "linalg/linalg.h"
#include "support/studied.h"

enum { HOLES = 24 };

/* Holes on a lopsided raster within 700 mm */
static void place_holes(studied *s)
{
    size_t n = 0;
    for (int k = 0; n < HOLES; k++) {
        double x = -640 + 260.0 * (k % 6) + 7 * (k / 6), y = -650 + 250.0 * (k / 6) - 11 * (k % 6);
        if (hypot(x, y) > 930) continue;
        s->x[n] = x, s->y[n++] = y;
    }
    s->nominal = (pp_nominal){.count = n, .x = s->x, .y = s->y};
}

static pp_status study_with(const pp_job *job, test_shape shape, const pp_holddown_options *options,
                            double pitch, studied *s, pp_error *error)
{
    *s = (studied){0};
    place_holes(s);
    return test_study(job, shape, 12, pitch, options, s, error);
}

static pp_status study_on(const pp_job *job, test_shape shape, double pitch, studied *s,
                          pp_error *error)
{
    pp_holddown_options options = {.threads = 1, .remedies = pp_hold_remedies_of};
    return study_with(job, shape, &options, pitch, s, error);
}

static void study(const pp_job *job, test_shape shape, studied *s)
{
    pp_error error = {0};
    assert_ok(study_on(job, shape, 150, s, &error), &error);
}

static pp_job disc_job(void)
{
    pp_job job = test_hold_job(PP_OUTLINE_DISC, 2000, 0, 25);
    job.support.seat = PP_SEAT_REST;
    job.holddown.clamp_force_limit = 40000;
    job.holddown.clamp_pad = 60;
    return job;
}

static bool is_said(const studied *s, const char *words)
{
    for (size_t k = 0; k < s->words.note_count; k++)
        if (strstr(s->words.notes[k], words)) return true;
    return strstr(s->words.advice, words) != NULL;
}

static void dome(double x, double y, double w[4])
{
    double a = x / 1000, b = y / 1000;
    w[0] = 1.6 - 0.9 * a * a - 0.7 * b * b + 0.2 * a * b + 0.15 * b * b * b;
    w[1] = (-1.8 * a + 0.2 * b) / 1000;
    w[2] = (-1.4 * b + 0.2 * a + 0.45 * b * b) / 1000;
    w[3] = 0.2 / 1e6;
}

/* Points 300 mm apart on a disc of 2 m: nothing shorter than 600 mm shows; 200 mm are wanted, which
 * is pi 1000^2 / 200^2 = 78.5, so 79 points. Up to a quarter more than that passes without a word.
 */
static void the_shortest_wave_that_a_survey_shows_is_said(void **state)
{
    (void)state;
    pp_job job = disc_job();
    pp_error error = {0};
    studied s;
    assert_ok(study_on(&job, dome, 300, &s, &error), &error);
    assert_near(s.result.shortest_wave, 600, 1e-9);
    assert_true(s.judged.survey_sparse);
    assert_true(is_said(&s, "shorter than 600 mm") && is_said(&s, "with about 79 "));
    pp_memory_free(&s.memory);
    assert_ok(study_on(&job, dome, 249, &s, &error), &error);
    assert_false(s.judged.survey_sparse);
    assert_true(is_said(&s, "shorter than 498 mm") && !is_said(&s, "So few points"));
    pp_memory_free(&s.memory);
}

static void holes_that_lean_beyond_their_limit_are_counted(void **state)
{
    (void)state;
    pp_job job = disc_job();
    studied s;
    job.holddown.gap_limit = 3; /* so that no gap matters */
    job.foot.force = 20000;
    study(&job, dome, &s);
    double middle = 0;
    for (size_t i = 0; i < s.result.count; i++) middle += s.result.holes[i].tilt / HOLES;
    assert_true(s.judged.ready && middle > 0);
    pp_memory_free(&s.memory);
    job.holddown.tilt_limit = middle;
    study(&job, dome, &s);
    size_t leaning = 0;
    for (size_t i = 0; i < s.result.count; i++) leaning += s.result.holes[i].tilt > middle;
    assert_true(leaning > 0 && leaning < HOLES);
    assert_int_equal(s.judged.leaning, leaning);
    assert_false(s.judged.ready);
    assert_true(is_said(&s, "lean by more than tilt_limit"));
    pp_memory_free(&s.memory);
}

static void twisted(double x, double y, double w[4])
{
    w[0] = 2.4e-6 * x * y + 0.2e-6 * (x * x + y * y);
    w[1] = 2.4e-6 * y + 0.4e-6 * x, w[2] = 2.4e-6 * x + 0.4e-6 * y, w[3] = 2.4e-6;
}

/* A twisted plate stands on two opposite corners and tips about their line: two ways to lie. */
static void a_plate_on_two_corners_lies_two_ways(void **state)
{
    (void)state;
    studied s;
    pp_job job = test_hold_job(PP_OUTLINE_RECTANGLE, 2000, 2000, 100);
    job.support.seat = PP_SEAT_REST;
    job.survey.laid = PP_LAID_FREE;
    study(&job, twisted, &s);
    assert_true(s.judged.balances && s.judged.rocks);
    assert_true(s.result.tip_distance < 0.02 * 2000);
    assert_true(is_said(&s, "it can lie either way"));
    pp_memory_free(&s.memory);
    study(&job, dome, &s); /* stands on its rim all round */
    assert_false(s.judged.balances || s.judged.rocks);
    assert_true(s.result.tip_distance > 500);
    pp_memory_free(&s.memory);
}

static void flat(double x, double y, double w[4])
{
    (void)x, (void)y;
    w[0] = w[1] = w[2] = w[3] = 0;
}

static void round_dome(double x, double y, double w[4])
{
    w[0] = -1e-6 * (x * x + y * y);
    w[1] = -2e-6 * x, w[2] = -2e-6 * y, w[3] = 0;
}

/* Pins opposite each other, as they are laid out: the survey touches two of 21 in one line with the
 * centre, and what the tolerance grows to does not make the plate stand. */
static void a_twisted_plate_on_its_pins_rocks(void **state)
{
    (void)state;
    studied s;
    static const char path[] = PP_BINARY_DIR "/trust-pins.csv";
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fprintf(file, "x,y,z\n");
    for (int i = 0; i < 21; i++)
        fprintf(file, "%d,%d,0\n", -900 + 300 * (i / 3), -900 + 900 * (i % 3));
    fclose(file);
    pp_job job = test_hold_job(PP_OUTLINE_RECTANGLE, 2000, 2000, 50);
    job.support.seat = PP_SEAT_REST;
    job.support.kind = PP_SUPPORT_PINS;
    job.support.file.path = path;
    job.holddown.gap_limit = 6; /* every hole seats */
    study(&job, twisted, &s);
    assert_true(s.result.touch_gap_grown && s.judged.counts.needs_holddown == 0);
    assert_true(s.judged.rocks && !s.judged.ready && is_said(&s, "it can lie either way"));
    pp_memory_free(&s.memory);
    study(&job, round_dome, &s);
    assert_int_equal(s.result.touching, 4); /* its corners */
    assert_true(!s.judged.balances);
    assert_true(s.judged.rocks && !s.judged.ready && is_said(&s, "stands on a few of its pins"));
    pp_memory_free(&s.memory);
    study(&job, flat, &s);
    assert_true(!s.judged.rocks && s.judged.ready);
    pp_memory_free(&s.memory);
}

static void bowl(double x, double y, double w[4])
{
    w[0] = 5e-6 * (x * x + y * y);
    w[1] = 1e-5 * x, w[2] = 1e-5 * y, w[3] = 0;
}

/* A round bowl rests on its middle, level: its gaps do not depend on where its drawing has x. */
static void a_bowl_rests_on_its_middle(void **state)
{
    (void)state;
    studied s;
    pp_job job = disc_job();
    job.foot.force = 1000;
    study(&job, bowl, &s);
    for (size_t i = 0; i < s.result.count; i++)
        assert_near(s.result.holes[i].gap, 5e-6 * (s.x[i] * s.x[i] + s.y[i] * s.y[i]), 0.004);
    pp_memory_free(&s.memory);
}

/* Thickness ------------------------------------------------------------------------------- */

/* A list of readings of 24.8 + 0.3 x/1000 - 0.2 y/1000 mm at `count` places, plus `more`, as a file
 */
static const char *write_readings(size_t count, double more)
{
    static const char path[] = PP_BINARY_DIR "/trust-thickness.csv";
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fprintf(file, "x,y,t\n");
    for (size_t k = 0; k < count; k++) {
        double x = 800 * cos(2.4 * (double)k), y = 90 * (double)(k * k % 17) - 700;
        fprintf(file, "%.6f,%.6f,%.9f\n", x, y, 24.8 + 0.3e-3 * x - 0.2e-3 * y + more);
    }
    fclose(file);
    return path;
}

static void less_wedge(double x, double y, double w[4])
{
    dome(x, y, w);
    w[0] -= 0.3e-3 * x - 0.2e-3 * y, w[1] -= 0.3e-3, w[2] += 0.2e-3;
}

/* The underside is the top less the thickness: a wedge read at eight places is a wedge less of gap.
 */
static void the_thickness_read_place_by_place_is_what_lies_beneath(void **state)
{
    (void)state;
    studied read, known;
    pp_job job = disc_job();
    job.plate.thickness = 24.8; /* the wedge's mean: so much for weight and stiffness */
    job.support.seat = PP_SEAT_LEVEL;
    job.support.touch_gap = 0.8;
    study(&job, less_wedge, &known);
    job.plate.thickness_points.path = write_readings(8, 0);
    study(&job, dome, &read);
    assert_int_equal(read.result.thickness.terms, 3);
    assert_near(read.result.thickness.plate_mean, 24.8, 1e-3);
    assert_near(read.result.half_variation, 0, 1e-6);
    assert_near(read.result.plate_weight / known.result.plate_weight, 1, 1e-4);
    bool differs = false;
    for (size_t i = 0; i < known.result.count; i++) {
        const pp_hold *a = &known.result.holes[i], *b = &read.result.holes[i];
        assert_near(b->gap, a->gap, 1e-3);
        differs |= fabs(b->force_to_close - a->force_to_close) > 0.003 * a->force_to_close;
    }
    assert_true(differs); /* stiffer where thicker */
    assert_true(is_said(&read, "a plane through 8 readings"));
    pp_memory_free(&known.memory);
    pp_memory_free(&read.memory);
}

/* Read 28 mm everywhere, a plate of nominally 25 is as heavy and stiff as one of 28. */
static void a_thicker_plate_than_said_is_reckoned_as_thick(void **state)
{
    (void)state;
    studied read, known;
    pp_job job = disc_job();
    static const char path[] = PP_BINARY_DIR "/trust-even.csv";
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fprintf(file, "x,y,t\n");
    for (int k = 0; k < 7; k++) fprintf(file, "%d,%d,28\n", 100 * k - 300, 90 * (k * k % 7) - 200);
    fclose(file);
    job.plate.thickness = 28;
    study(&job, dome, &known);
    job.plate.thickness = 25;
    job.plate.thickness_points.path = path;
    study(&job, dome, &read);
    assert_near(read.result.plate_weight, known.result.plate_weight, 1e-6);
    for (size_t i = 0; i < known.result.count; i++) {
        const pp_hold *a = &known.result.holes[i], *b = &read.result.holes[i];
        assert_near(b->gap_under_foot, a->gap_under_foot, 1e-7);
        assert_near(b->force_to_close, a->force_to_close, 1e-5 * a->force_to_close);
    }
    pp_memory_free(&known.memory);
    pp_memory_free(&read.memory);
}

/* Four readings tell no plane: the plate stays as thick as said, and their range may be anywhere.
 */
static void few_readings_are_a_range(void **state)
{
    (void)state;
    studied few, none;
    pp_job job = disc_job();
    pp_error error = {0};
    study(&job, dome, &none);
    job.plate.thickness_points.path = write_readings(4, 0);
    study(&job, dome, &few);
    const pp_thickness_readings *t = &few.result.thickness;
    assert_int_equal(t->terms, 0);
    assert_near(few.result.half_variation, (t->high - t->low) / 2, 1e-12);
    assert_true(t->high - t->low > 0.1);
    assert_near(few.result.holes[3].gap_under_foot, none.result.holes[3].gap_under_foot, 0);
    assert_true(is_said(&few, "too few"));
    pp_memory_free(&few.memory);
    job.plate.thickness_points.path = write_readings(8, -22.3); /* centimetres, say */
    assert_int_equal(study_on(&job, dome, 150, &few, &error), PP_EINPUT);
    assert_non_null(strstr(error.message, "is the unit right"));
    pp_memory_free(&few.memory);
    pp_memory_free(&none.memory);
}

/* Clamps found are the advice, and none are listed beside the advice not to clamp: whether they
 * would bend the plate too far or are too weak. */
static void one_advice_that_agrees_with_the_plan(void **state)
{
    (void)state;
    static const struct {
        double stress_share, force_limit;
        const char *advice;
    } cases[] = {{1.01, 40000, "Clamps as planned bring"},
                 {0.99, 40000, "Do not clamp: the clamps that close the gaps would bend"},
                 {0, 20, "Do not clamp: "}};
    pp_job job = disc_job();
    pp_error error = {0};
    studied s;
    job.foot.force = 900;
    study(&job, dome, &s);
    double stress = s.result.plan_stress;
    assert_true(s.result.clamp_count > 0 && stress > 0);
    pp_memory_free(&s.memory);
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        pp_holddown_options options = {.threads = 1,
                                       .remedies = pp_hold_remedies_of,
                                       .plan_stress_most = cases[k].stress_share * stress};
        bool clamps = k == 0;
        job.holddown.clamp_force_limit = cases[k].force_limit;
        assert_ok(study_with(&job, dome, &options, 150, &s, &error), &error);
        assert_non_null(strstr(s.words.advice, cases[k].advice));
        assert_int_equal(s.judged.plan_found, clamps);
        assert_int_equal(s.judged.clamping_advised, clamps);
        assert_int_equal(s.result.clamp_count > 0, clamps);
        assert_int_equal(s.result.setups.count > 0, clamps);
        pp_text headline = {0};
        pp_results results = {.job = &job,
                              .holddown = &s.result,
                              .holddown_judgement = &s.judged,
                              .holddown_words = &s.words};
        pp_holddown_headline_say(&headline, &results);
        assert_int_equal(strncmp(headline.data, "Drill with ", 11) == 0, clamps);
        pp_text_free(&headline);
        pp_memory_free(&s.memory);
    }
}

/* Where noise cannot be told from shape, all of the curvature may be noise. */
static void without_a_known_noise_the_stress_may_be_none(void **state)
{
    (void)state;
    pp_job job = disc_job();
    pp_error error = {0};
    pp_holddown_options options = {.threads = 1};
    for (int unreliable = 0; unreliable < 2; unreliable++) {
        studied s = {0};
        place_holes(&s);
        assert_ok(pp_mesh_make(pp_job_outline(&job), 12, &s.memory, &s.mesh, &error), &error);
        s.flatness = test_flatness(&s.mesh, test_field(&s.mesh, dome, &s.memory));
        s.flatness.surface.noise_unreliable = unreliable;
        assert_ok(pp_holddown_study(&job, &s.flatness, &s.nominal, &options, &s.memory, &s.result,
                                    &error),
                  &error);
        assert_true(s.result.flattening_stress > 0);
        assert_int_equal(s.result.flattening_low == 0, unreliable);
        pp_memory_free(&s.memory);
    }
}

/* Turned over ------------------------------------------------------------------------------ */

static void dome_turned(double x, double y, double w[4])
{
    dome(x, -y, w); /* -dome(x, -y) */
    w[0] = -w[0], w[1] = -w[1], w[3] = +w[3];
}

/* Surveyed free, a plate turned over is a plate whose survey is the other one mirrored and of the
 * opposite sign: both studies, each with its own plan, say the same of it. */
static void the_other_face_up_has_a_plan_of_its_own(void **state)
{
    (void)state;
    studied s, other;
    pp_job job = disc_job();
    job.survey.laid = PP_LAID_FREE;
    job.plate.thickness = 40;
    job.foot.force = 900;
    job.holddown.clamp_force_limit = 150000;
    study(&job, dome, &s);
    study(&job, dome_turned, &other);
    const pp_turned_over *over = &s.result.turned_over;
    assert_true(over->valid && over->about_x && over->plan_wanted);
    for (size_t i = 0; i < s.result.count; i++) {
        assert_near(over->gaps[i].as_laid, other.result.holes[i].gap, 1e-6);
        assert_near(over->gaps[i].under_foot, other.result.holes[i].gap_under_foot, 1e-6);
    }
    assert_true(other.result.plan_found && over->plan.found);
    assert_int_equal(over->plan.clamp_count, other.result.clamp_count);
    for (size_t k = 0; k < over->plan.clamp_count; k++) {
        assert_near(over->plan.clamps[k].x, other.result.plan[k].x, 1e-6);
        assert_near(over->plan.clamps[k].y, other.result.plan[k].y, 1e-6);
        assert_near(over->plan.clamps[k].force, other.result.plan[k].force, 1e-6);
    }
    assert_int_equal(over->setups.count, other.result.setups.count);
    for (size_t i = 0; i < s.result.count; i++) {
        assert_near(over->gap_after[i], other.result.gap_after[i], 1e-6);
        assert_true(over->gap_after[i] <= 0.25 + 1e-6 && s.result.gap_after[i] <= 0.25 + 1e-6);
    }
    assert_true(s.judged.turned_plan_found);
    pp_memory_free(&s.memory);
    pp_memory_free(&other.memory);
}

static void clamps_are_paired_where_they_stand_nearest(void **state)
{
    (void)state;
    const pp_clamp laid[] = {{.x = 0, .y = 0}, {.x = 500, .y = 0}, {.x = 0, .y = 700}};
    const pp_clamp turned[] = {{.x = 480, .y = 30}, {.x = -20, .y = 690}};
    pp_holddown s = {.clamp_count = 3, .plan = laid};
    pp_clamp_pair pairs[PP_CLAMP_PAIRS_MAX];
    assert_int_equal(pp_clamps_pair(&s, pairs), 0);
    s.turned_over.plan = (pp_plan){.clamp_count = 2, .clamps = turned};
    assert_int_equal(pp_clamps_pair(&s, pairs), 3);
    assert_true(pairs[0].turned == SIZE_MAX && pairs[1].turned == 0 && pairs[2].turned == 1);
    s.plan = turned, s.clamp_count = 2;
    s.turned_over.plan = (pp_plan){.clamp_count = 3, .clamps = laid};
    assert_int_equal(pp_clamps_pair(&s, pairs), 3);
    assert_true(pairs[0].turned == 1 && pairs[1].turned == 2);
    assert_true(pairs[2].laid == SIZE_MAX && pairs[2].turned == 0);
}

int main(void)
{
    pp_blas_single_thread();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_shortest_wave_that_a_survey_shows_is_said),
        cmocka_unit_test(holes_that_lean_beyond_their_limit_are_counted),
        cmocka_unit_test(a_plate_on_two_corners_lies_two_ways),
        cmocka_unit_test(a_twisted_plate_on_its_pins_rocks),
        cmocka_unit_test(a_bowl_rests_on_its_middle),
        cmocka_unit_test(the_thickness_read_place_by_place_is_what_lies_beneath),
        cmocka_unit_test(a_thicker_plate_than_said_is_reckoned_as_thick),
        cmocka_unit_test(few_readings_are_a_range),
        cmocka_unit_test(one_advice_that_agrees_with_the_plan),
        cmocka_unit_test(without_a_known_noise_the_stress_may_be_none),
        cmocka_unit_test(the_other_face_up_has_a_plan_of_its_own),
        cmocka_unit_test(clamps_are_paired_where_they_stand_nearest),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* The hold-down study on plates of known shape: what each figure means, and what must not change
 * it. */
#include "support/check.h"

#include "answer/holddown_words.h"
#include "flatness/redraw.h"
#include "holddown/curvature.h"
#include "holddown/under_foot.h"
#include "linalg/linalg.h"
#include "support/studied.h"
#include "support/surveys.h"

enum { HOLES = 7 };
static const double hole_x[HOLES] = {12, -430, 390, 260, -250, 610, -40};
static const double hole_y[HOLES] = {-30, 220, 300, -510, -380, 60, 650};

static pp_status study_with(const pp_job *job, test_shape shape, size_t cells, int threads,
                            const double *x, const double *y, studied *s, pp_error *error)
{
    *s = (studied){0};
    memcpy(s->x, x, HOLES * sizeof *x);
    memcpy(s->y, y, HOLES * sizeof *y);
    s->nominal = (pp_nominal){.count = HOLES, .x = s->x, .y = s->y};
    pp_holddown_options options = {.threads = threads, .remedies = pp_hold_remedies_of};
    return test_study(job, shape, cells, NAN, &options, s, error);
}

static void study(const pp_job *job, test_shape shape, studied *s)
{
    pp_error error = {0};
    assert_ok(study_with(job, shape, 12, 1, hole_x, hole_y, s, &error), &error);
}

static pp_job disc_job(void)
{
    pp_job job = test_hold_job(PP_OUTLINE_DISC, 2000, 0, 25);
    job.foot.outer_diameter = 150;
    job.foot.inner_diameter = 80;
    job.foot.thrust = 1900;
    job.holddown.force_cap = 150000;
    return job;
}

/* A dome with three low places on its rim around the centre, symmetric about nothing. */
static void lopsided(double x, double y, double w[4])
{
    double a = x / 1000, b = y / 1000;
    w[0] = 1.9 - 1.4 * a * a - 1.6 * b * b + 0.35 * (a * a * a - 3 * a * b * b) - 0.13 * a * b;
    w[1] = (-2.8 * a + 1.05 * (a * a - b * b) - 0.13 * b) / 1000;
    w[2] = (-3.2 * b - 2.1 * a * b - 0.13 * a) / 1000;
    w[3] = (-2.1 * b - 0.13) / 1e6;
}

static void mirrored(double x, double y, double w[4])
{
    lopsided(-x, y, w);
    w[1] = -w[1], w[3] = -w[3];
}

static void quarter_turned(double x, double y, double w[4])
{
    double v[4]; /* w(x, y) = v(y, -x) */
    lopsided(y, -x, v);
    w[0] = v[0], w[1] = -v[2], w[2] = v[1], w[3] = -v[3];
}

/* `share`: of each figure */
static void assert_same_holes(const studied *a, const studied *b, double share)
{
    for (int i = 0; i < HOLES; i++) {
        const pp_hold *p = &a->result.holes[i], *q = &b->result.holes[i];
        assert_near(q->gap, p->gap, 1e-7);
        assert_near(q->gap_under_foot, p->gap_under_foot, share);
        assert_near(q->force_to_close, p->force_to_close, share * p->force_to_close);
        assert_near(q->tilt, p->tilt, share);
        assert_near(q->spring_back, p->spring_back, share);
        assert_near(q->held_gap_under_foot, p->held_gap_under_foot, share);
        assert_int_equal(b->judged.class_[i], a->judged.class_[i]);
    }
    assert_near(b->result.flattening_stress, a->result.flattening_stress, 1e-8);
}

static void a_turn_a_mirror_and_a_shift_change_nothing(void **state)
{
    (void)state;
    pp_job job = disc_job();
    job.support.seat = PP_SEAT_REST;
    studied plain, other;
    double x[HOLES], y[HOLES];
    study(&job, lopsided, &plain);
    assert_true(plain.judged.counts.needs_holddown > 0);
    pp_error error = {0};

    for (int i = 0; i < HOLES; i++) x[i] = -hole_x[i], y[i] = hole_y[i];
    assert_ok(study_with(&job, mirrored, 12, 1, x, y, &other, &error), &error);
    assert_same_holes(&plain, &other, 1e-7);
    assert_near(other.result.turned_over.worst_gap, plain.result.turned_over.worst_gap, 1e-7);
    pp_memory_free(&other.memory);

    for (int i = 0; i < HOLES; i++) x[i] = -hole_y[i], y[i] = hole_x[i];
    assert_ok(study_with(&job, quarter_turned, 12, 1, x, y, &other, &error), &error);
    /* the cut cells are integrated by chords along y: the mesh itself is not quite turned */
    assert_same_holes(&plain, &other, 3e-5);
    pp_memory_free(&other.memory);

    pp_job shifted = job;
    shifted.plate.centre_x = 731.5;
    shifted.plate.centre_y = -2212;
    for (int i = 0; i < HOLES; i++) x[i] = hole_x[i] + 731.5, y[i] = hole_y[i] - 2212;
    assert_ok(study_with(&shifted, lopsided, 12, 1, x, y, &other, &error), &error);
    assert_same_holes(&plain, &other, 1e-6);
    pp_memory_free(&other.memory);
    pp_memory_free(&plain.memory);
}

static void the_force_to_close_closes_to_the_limit(void **state)
{
    (void)state;
    pp_job job = disc_job();
    studied s;
    study(&job, lopsided, &s);
    pp_hold holes[HOLES];
    memcpy(holes, s.result.holes, sizeof holes);
    pp_memory_free(&s.memory);
    int checked = 0;
    for (int i = 0; i < HOLES; i++) {
        if (!(holes[i].force_to_close > 0)) continue;
        pp_job same = job;
        same.foot.force = holes[i].force_to_close;
        study(&same, lopsided, &s);
        assert_near(s.result.holes[i].gap_under_foot, job.holddown.gap_limit, 2e-6);
        assert_int_equal(s.judged.class_[i], PP_SEATS_UNDER_FOOT);
        pp_memory_free(&s.memory);
        checked++;
    }
    assert_true(checked >= 4);
}

static void beyond_the_cap_there_is_no_number(void **state)
{
    (void)state;
    pp_job job = disc_job();
    studied s;
    study(&job, lopsided, &s);
    double least = INFINITY, most = 0;
    for (int i = 0; i < HOLES; i++) {
        double f = s.result.holes[i].force_to_close;
        if (f > 0) least = fmin(least, f), most = fmax(most, f);
    }
    assert_near(s.result.largest_force_to_close, most, 0);
    pp_memory_free(&s.memory);
    job.holddown.force_cap = 0.5 * (least + most);
    study(&job, lopsided, &s);
    int without = 0;
    for (int i = 0; i < HOLES; i++) {
        double f = s.result.holes[i].force_to_close;
        without += isnan(f);
        if (!isnan(f)) assert_true(f <= job.holddown.force_cap);
    }
    assert_true(without > 0 && without < HOLES);
    pp_memory_free(&s.memory);
    job.holddown.force_cap = 0.5 * least;
    study(&job, lopsided, &s);
    assert_true(isnan(s.result.largest_force_to_close));
    pp_memory_free(&s.memory);
}

static void the_gap_falls_as_the_force_grows(void **state)
{
    (void)state;
    pp_job job = disc_job();
    double before[HOLES], tilt[HOLES];
    for (int i = 0; i < HOLES; i++) before[i] = INFINITY, tilt[i] = 0;
    for (double force = 100; force < 1e6; force *= 6.3) {
        studied s;
        job.foot.force = force;
        study(&job, lopsided, &s);
        for (int i = 0; i < HOLES; i++) {
            const pp_hold *h = &s.result.holes[i];
            assert_true(h->gap_under_foot <= before[i] + 1e-9);
            assert_true(h->gap_under_foot >= 0 && h->gap_under_foot <= h->gap);
            /* closed: the plate stays, the rest of the force goes into the table */
            if (before[i] == 0) assert_near(h->tilt, tilt[i], 1e-5 * tilt[i]);
            assert_near(h->shift, 12.5 * h->tilt / 1000, 1e-15);
            assert_true(h->spring_back >= 0);
            before[i] = h->gap_under_foot;
            tilt[i] = h->tilt;
        }
        pp_memory_free(&s.memory);
    }
    for (int i = 0; i < HOLES; i++) assert_near(before[i], 0, 0);
}

/* At break-through the thrust goes: the plate springs back by what the thrust had pushed it down */
static void spring_back_is_the_gap_without_less_with_thrust(void **state)
{
    (void)state;
    pp_job job = disc_job(), both = job;
    both.foot.force += job.foot.thrust;
    studied foot, more;
    study(&job, lopsided, &foot);
    study(&both, lopsided, &more);
    for (int i = 0; i < HOLES; i++)
        assert_near(foot.result.holes[i].spring_back,
                    foot.result.holes[i].gap_under_foot - more.result.holes[i].gap_under_foot,
                    1e-9);
    assert_near(foot.result.largest_support_force, more.result.largest_support_force,
                0.6 * more.result.largest_support_force);
    pp_memory_free(&foot.memory);
    pp_memory_free(&more.memory);
}

static void flat(double x, double y, double w[4])
{
    (void)x, (void)y;
    w[0] = w[1] = w[2] = w[3] = 0;
}

/* Free of load flat, then laid on its 4 corners or 3 rim points: self-weight sags, E 200 GPa, nu
 * 0.3, 7850 kg/m3 (data/reference/plate_bending and Roark: square of 2 m, h 50 mm, on its corners:
 * centre 0.686142 mm; disc of 1 m radius on 3 rim points: 0.193001). */
static void a_flat_plate_sags_under_its_own_weight(void **state)
{
    (void)state;
    pp_job job = test_hold_job(PP_OUTLINE_RECTANGLE, 2000, 2000, 50);
    job.survey.laid = PP_LAID_FREE;
    double zero[4] = {0};
    double cx[] = {-1000, 1000, 1000, -1000}, cy[] = {-1000, -1000, 1000, 1000};
    double rx[] = {1000, -500, -500}, ry[] = {0, 866.0254037844386, -866.0254037844386};
    const struct {
        pp_outline outline;
        pp_place_list pins;
        double sag, tolerance;
    } cases[] = {{PP_OUTLINE_RECTANGLE, {4, cx, cy, zero, NULL, NULL}, 0.686142, 1e-3},
                 {PP_OUTLINE_DISC, {3, rx, ry, zero, NULL, NULL}, 0.193001, 3e-3}};
    for (int k = 0; k < 2; k++) {
        pp_memory memory = {0};
        pp_error error = {0};
        pp_mesh mesh;
        pp_hold_plate plate;
        pp_hold_state at_rest;
        job.plate.outline = cases[k].outline;
        job.plate.diameter = 2000;
        assert_ok(pp_mesh_make(pp_job_outline(&job), 16, &memory, &mesh, &error), &error);
        pp_hold_setup setup = pp_hold_setup_of(&job, 0, &cases[k].pins, NULL);
        assert_ok(pp_hold_plate_make(&mesh, test_field(&mesh, flat, &memory), &setup, NULL, 1,
                                     &memory, &plate, &error),
                  &error);
        assert_ok(pp_hold_state_take(&plate, &memory.keep, &at_rest, &error), &error);
        assert_ok(pp_hold_settle(&plate, NULL, 0, NULL, NULL, &memory, &at_rest, &error), &error);
        pp_probe centre;
        pp_probe_point(&plate.compliance, 0, 0, 0, 0, &centre);
        assert_near(-pp_probe_field(&centre, at_rest.field) / cases[k].sag, 1, cases[k].tolerance);
        pp_memory_free(&memory);
    }
}

static double mesh_of(const studied *s, int hole)
{
    return s->result.mesh_check.gap_u ? s->result.mesh_check.gap_u[hole] : NAN;
}

/* Whether the class of a hole hangs on half the thickness variation and what the mesh leaves open.
 */
static bool may_change(const pp_hold *h, double mesh, double half)
{
    double under = h->gap_under_foot, more = half + (isnan(mesh) ? 0 : mesh);
    return (under > 0.25) != (under - more > 0.25) || (under > 0.25) != (under + more > 0.25) ||
           (h->gap > 0.25) != (h->gap - half > 0.25) || (h->gap > 0.25) != (h->gap + half > 0.25);
}

static void classes_and_their_uncertainty(void **state)
{
    (void)state;
    pp_job job = disc_job();
    studied s;
    study(&job, lopsided, &s);
    size_t uncertain = 0;
    for (int i = 0; i < HOLES; i++) {
        const pp_hold *h = &s.result.holes[i];
        pp_hold_class want = h->gap <= 0.25              ? PP_SEATED
                             : h->gap_under_foot <= 0.25 ? PP_SEATS_UNDER_FOOT
                                                         : PP_NEEDS_HOLDDOWN;
        assert_int_equal(s.judged.class_[i], want);
        /* the job gives no thickness variation */
        assert_int_equal(s.judged.uncertain[i], may_change(h, mesh_of(&s, i), 0));
    }
    assert_int_equal(s.judged.counts.seated + s.judged.counts.seats_under_foot +
                         s.judged.counts.needs_holddown,
                     HOLES);
    pp_hold plain[HOLES];
    uint8_t class_[HOLES];
    memcpy(plain, s.result.holes, sizeof plain);
    memcpy(class_, s.judged.class_, sizeof class_);
    pp_memory_free(&s.memory);
    job.plate.thickness_variation = 0.9;
    study(&job, lopsided, &s);
    for (int i = 0; i < HOLES; i++) {
        bool could = may_change(&plain[i], mesh_of(&s, i), 0.45);
        assert_int_equal(s.judged.uncertain[i], could);
        assert_int_equal(s.judged.class_[i], class_[i]);
        uncertain += could;
    }
    assert_true(uncertain > 0 && uncertain < HOLES);
    assert_int_equal(s.judged.counts.uncertain, uncertain);
    pp_memory_free(&s.memory);
}

static void bowl(double x, double y, double w[4])
{
    w[0] = 0.013 * 1e-3 * (x * x + y * y);
    w[1] = 0.026 * 1e-3 * x, w[2] = 0.026 * 1e-3 * y, w[3] = 0;
}

static void trough(double x, double y, double w[4])
{
    (void)y;
    w[0] = 0.013 * 1e-3 * x * x;
    w[1] = 0.026 * 1e-3 * x, w[2] = w[3] = 0;
}

/* The same bowl surveyed with noise: the largest of many noisy curvatures is too large, by far more
 * than the noise of one; the figure corrected is not, and the true stress lies within its range. */
static void noise_does_not_bend_the_plate(void **state)
{
    (void)state;
    int within = 0;
    for (int which = 0; which < 8; which++) {
        pp_memory memory = {0};
        pp_error error = {0};
        pp_mesh mesh;
        pp_surface surface;
        pp_curvature c, raw;
        double *redraw, depth = 3 + which, truth = 200000 * 25 * depth * 1e-6 / 0.7;
        pp_job job = test_hold_job(PP_OUTLINE_DISC, 2000, 0, 25);
        pp_plate_spec solid = pp_plate_spec_of(&job);
        assert_ok(pp_mesh_make(pp_job_outline(&job), 32, &memory, &mesh, &error), &error);
        test_points p = test_points_take(&memory, 400);
        test_fill_disc(&p, 995);
        test_random seed = {11 + (uint64_t)which};
        for (size_t k = 0; k < p.count; k++)
            p.z[k] =
                depth * 1e-6 * (p.x[k] * p.x[k] + p.y[k] * p.y[k]) + 0.1 * random_normal(&seed);
        pp_survey survey = test_survey(&p);
        pp_surface_options options = {.uncertainty = 0.2, .threads = 1};
        assert_ok(pp_surface_fit(&survey, &mesh, &options, &memory, &surface, &error), &error);
        assert_ok(pp_surface_redraw(&surface, 20, &memory, &redraw, &error), &error);
        assert_ok(pp_curvature_of(&solid, &mesh, surface.field, 20, redraw, &memory, &c, &error),
                  &error);
        assert_ok(pp_curvature_of(&solid, &mesh, surface.field, 0, NULL, &memory, &raw, &error),
                  &error);
        assert_true(raw.flattening_stress > 2.5 * truth);
        assert_near(c.flattening_stress, truth, 0.2 * truth);
        within += c.stress_low <= truth && truth <= c.stress_high;
        assert_near(c.double_height, depth, 0.15 * depth);
        pp_memory_free(&memory);
    }
    assert_true(within >= 7);
}

/* w = c r^2, c = 1.3e-5/mm: both curvatures 2 c, a dome of c R^2 = 13 mm over R = 1 m. Stress
 * E t/(2 (1 - nu^2)) (1 + nu) 2 c = E t c/(1 - nu). A trough has one curvature and flattens without
 * stretching. */
static void curvature_both_ways_takes_more_than_bending(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_error error = {0};
    pp_mesh mesh;
    pp_job job = test_hold_job(PP_OUTLINE_DISC, 2000, 0, 25);
    assert_ok(pp_mesh_make(pp_job_outline(&job), 12, &memory, &mesh, &error), &error);
    pp_plate_spec solid = pp_plate_spec_of(&job);
    pp_curvature round, single;
    assert_ok(pp_curvature_of(&solid, &mesh, test_field(&mesh, bowl, &memory), 0, NULL, &memory,
                              &round, &error),
              &error);
    assert_near(round.flattening_stress, 200000 * 25 * 1.3e-5 / 0.7, 1e-6);
    assert_near(round.double_height, 13, 1e-8);
    assert_ok(pp_curvature_of(&solid, &mesh, test_field(&mesh, trough, &memory), 0, NULL, &memory,
                              &single, &error),
              &error);
    assert_near(single.flattening_stress, 200000 * 25 * 1.3e-5 / (1 - 0.09), 1e-6);
    assert_near(single.double_height, 0, 1e-6);
    /* 13 mm on 25 mm: 1 + 0.262 (13/25)^2; a square by hand: 3/4 0.91 2/4 = 0.34125 */
    assert_near(round.stiffening, 1.0708448, 1e-6);
    assert_near(single.stiffening, 1, 1e-9);
    pp_mesh square = {.outline = PP_OUTLINE_RECTANGLE, .width = 900, .height = 900};
    assert_near(pp_curvature_stiffening(&solid, &square, 25), 1.34125, 1e-12);
    pp_memory_free(&memory);
    studied s;
    job = disc_job(); /* 25 mm thick: 13 mm is more than half */
    study(&job, bowl, &s);
    assert_true(s.judged.forces_low);
    bool said = false;
    for (size_t k = 0; k < s.words.note_count; k++)
        said |= strstr(s.words.notes[k], "Forces are higher than computed, by about 14 %") != NULL;
    assert_true(said);
    /* as of a segment or a polygon, for which there is no estimate */
    s.result.stiffening = NAN;
    assert_ok(pp_holddown_say(&job, &s.result, &s.judged, &s.memory, &s.words, &error), &error);
    said = false;
    for (size_t k = 0; k < s.words.note_count; k++) {
        said |= strstr(s.words.notes[k], "the linear plate is not to be trusted") != NULL;
        assert_null(strstr(s.words.notes[k], "nan"));
    }
    assert_true(said);
    pp_memory_free(&s.memory);
    study(&job, trough, &s);
    assert_false(s.judged.forces_low);
    pp_memory_free(&s.memory);
}

static pp_hold pressed_with(bool softening)
{
    static double x[4000], y[4000];
    pp_memory memory = {0};
    pp_error error = {0};
    pp_mesh mesh;
    pp_holddown result;
    pp_job job = disc_job();
    job.holddown.ligament_softening = softening;
    job.foot.force = 600;
    job.foot.thrust = NAN;
    size_t n = 1;
    x[0] = 12.5, y[0] = -9.3; /* holes as good as everywhere: 50 mm triangular pitch */
    for (int j = -25; j <= 25; j++)
        for (int i = -25; i <= 25; i++) {
            double u = 50 * (i + (j % 2 ? 0.5 : 0)), v = 50 * sqrt(0.75) * j;
            if (hypot(u, v) < 1000) x[n] = u, y[n++] = v;
        }
    pp_nominal nominal = {.count = n, .x = x, .y = y};
    assert_ok(pp_mesh_make(pp_job_outline(&job), 12, &memory, &mesh, &error), &error);
    pp_flatness flatness = test_flatness(&mesh, test_field(&mesh, lopsided, &memory));
    pp_holddown_options options = {.threads = 1, .pitch = 50, .hole_diameter = 35};
    assert_ok(pp_holddown_study(&job, &flatness, &nominal, &options, &memory, &result, &error),
              &error);
    if (softening) {
        assert_near(result.softened_share, 1, 0.03);
        assert_near(result.elastic_modulus / 200000, 0.335787, 1e-6);
    } else {
        assert_near(result.softened_share, 0, 0);
    }
    pp_hold first = result.holes[0];
    pp_memory_free(&memory);
    return first;
}

/* With mu = 0.3 and half a pitch of thickness the modulus falls to 0.0054 + 0.5279 mu + 3.0461 mu^2
 * - 4.3657 mu^3 + 1.9435 mu^4 = 0.335787 of the solid plate's: the foot does much more. */
static void a_drilled_plate_is_softer(void **state)
{
    (void)state;
    pp_hold solid = pressed_with(false), drilled = pressed_with(true);
    assert_near(drilled.gap, solid.gap, 1e-12);
    double ratio = (solid.gap - solid.gap_under_foot) / (drilled.gap - drilled.gap_under_foot);
    /* rigidities = 0.335787 (1 - 0.3^2)/(1 - 0.2548^2) = 0.327, and another Poisson's ratio */
    assert_near(ratio, 0.327, 0.02);
    assert_near(drilled.force_to_close / solid.force_to_close, 0.327, 0.02);
}

static void what_cannot_be_computed_is_refused(void **state)
{
    (void)state;
    studied s;
    pp_error error = {0};
    pp_job job = disc_job();
    job.holddown.gap_limit = NAN;
    assert_int_equal(study_with(&job, lopsided, 12, 1, hole_x, hole_y, &s, &error), PP_ENOTHING);
    assert_non_null(strstr(error.message, "gap_limit"));
    pp_memory_free(&s.memory);
    job = disc_job();
    job.foot.force = NAN;
    assert_int_equal(study_with(&job, lopsided, 12, 1, hole_x, hole_y, &s, &error), PP_ENOTHING);
    assert_non_null(strstr(error.message, "force"));
    pp_memory_free(&s.memory);
    job = disc_job();
    job.support.kind = PP_SUPPORT_NONE;
    assert_int_equal(study_with(&job, lopsided, 12, 1, hole_x, hole_y, &s, &error), PP_ENOTHING);
    pp_memory_free(&s.memory);
    job = disc_job();
    job.plate.thickness = NAN;
    assert_int_equal(study_with(&job, lopsided, 12, 1, hole_x, hole_y, &s, &error), PP_EINPUT);
    assert_non_null(strstr(error.message, "thickness"));
    pp_memory_free(&s.memory);
    job = disc_job();
    job.support.height = -40; /* the survey hovers above its supports */
    assert_int_equal(study_with(&job, lopsided, 12, 1, hole_x, hole_y, &s, &error), PP_EINPUT);
    assert_non_null(strstr(error.message, "support_height"));
    pp_memory_free(&s.memory);
}

static void a_wider_touching_tolerance_is_said(void **state)
{
    (void)state;
    studied s;
    pp_job job = disc_job();
    study(&job, lopsided, &s);
    /* w is above 0.02 mm everywhere on one side: nothing there touches until the tolerance grows */
    assert_true(s.result.touch_gap_grown);
    assert_true(s.result.touch_gap > 0.02);
    assert_int_equal(s.judged.gap_limit_small, 0.25 < s.result.touch_gap);
    pp_memory_free(&s.memory);
    job.support.touch_gap = NAN;
    job.support.seat = PP_SEAT_REST;
    study(&job, lopsided, &s);
    assert_true(s.result.touch_gap >= 0.02); /* 2 x 0.004 standard error is less than the least */
    pp_memory_free(&s.memory);
}

static void pins_and_their_load(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_error error = {0};
    pp_job job = test_hold_job(PP_OUTLINE_RECTANGLE, 2000, 1600, 20);
    job.survey.laid = PP_LAID_FREE;
    double px[] = {-800, 800, 800, -800}, py[] = {-600, -600, 600, 600}, pz[] = {0, 0, 0, 0};
    pp_place_list pins = {4, px, py, pz, NULL, NULL};
    pp_mesh mesh;
    pp_hold_plate plate;
    pp_hold_state at_rest;
    assert_ok(pp_mesh_make(pp_job_outline(&job), 12, &memory, &mesh, &error), &error);
    pp_hold_setup setup = pp_hold_setup_of(&job, 0, &pins, NULL);
    assert_ok(pp_hold_plate_make(&mesh, test_field(&mesh, flat, &memory), &setup, NULL, 1, &memory,
                                 &plate, &error),
              &error);
    assert_ok(pp_hold_state_take(&plate, &memory.keep, &at_rest, &error), &error);
    assert_ok(pp_hold_settle(&plate, NULL, 0, NULL, NULL, &memory, &at_rest, &error), &error);
    /* by symmetry a quarter of the weight each; a foot right over a pin goes into that pin */
    for (int k = 0; k < 4; k++) assert_near(at_rest.base.v[k] / plate.weight, 0.25, 1e-9);
    pp_hold_question question = {
        .force = 7000, .thrust = NAN, .gap_limit = 0.2, .force_cap = NAN, .only_gap = false};
    pp_hold_places over = {1, px, py};
    pp_hold_answer answer;
    double force[4];
    assert_ok(pp_hold_press(&plate, &at_rest,
                            &(pp_hold_visit){.question = &question, .places = &over, .count = 1},
                            &memory, &answer, force, &error),
              &error);
    assert_near(force[0], plate.weight / 4 + 7000, 1e-6 * plate.weight);
    assert_near(answer.largest_support, force[0], 1e-9);
    for (int k = 1; k < 4; k++) assert_near(force[k], plate.weight / 4, 1e-6 * plate.weight);
    /* between the pins it goes down below them: that is a sag, not a closed gap */
    double x = 100, y = 0;
    pp_hold_places between = {1, &x, &y};
    assert_ok(pp_hold_press(&plate, &at_rest,
                            &(pp_hold_visit){.question = &question, .places = &between, .count = 1},
                            &memory, &answer, force, &error),
              &error);
    assert_true(answer.gap_under_foot < answer.gap && answer.gap < 0);
    assert_near(force[0] + force[1] + force[2] + force[3], plate.weight + 7000,
                1e-6 * plate.weight);
    pp_memory_free(&memory);
}

int main(void)
{
    pp_blas_single_thread();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_turn_a_mirror_and_a_shift_change_nothing),
        cmocka_unit_test(the_force_to_close_closes_to_the_limit),
        cmocka_unit_test(beyond_the_cap_there_is_no_number),
        cmocka_unit_test(the_gap_falls_as_the_force_grows),
        cmocka_unit_test(spring_back_is_the_gap_without_less_with_thrust),
        cmocka_unit_test(a_flat_plate_sags_under_its_own_weight),
        cmocka_unit_test(classes_and_their_uncertainty),
        cmocka_unit_test(curvature_both_ways_takes_more_than_bending),
        cmocka_unit_test(noise_does_not_bend_the_plate),
        cmocka_unit_test(a_drilled_plate_is_softer),
        cmocka_unit_test(what_cannot_be_computed_is_refused),
        cmocka_unit_test(a_wider_touching_tolerance_is_said),
        cmocka_unit_test(pins_and_their_load),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

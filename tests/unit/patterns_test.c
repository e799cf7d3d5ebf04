/* Patterns of the error field that are searched for or told by labels: what is named, what is left
 * unclear, and what is only information. */
#include "support/check.h"
#include "support/measures.h"
#include "support/random.h"

enum { ACROSS = 20, ROWS = 18, HOLES = ACROSS * ROWS, BLOCKS = 6 };
static const double SIGMA = 0.02;

typedef struct recipe {
    double step, odd, half, wave, label; /* mm */
    double blocks;                       /* mm: standard deviation of the place of each of six */
    double walk;                         /* mm: root mean square about its mean, along the order */
    double shrink;                       /* of the scatter, everywhere */
    double mirror;                       /* -1: x measured mirrored */
    uint64_t seed;
} recipe;

/* Four sweeps of rows, there and back. */
static size_t place_of(size_t i)
{
    size_t row = i / ACROSS, k = i % ACROSS, before = 0;
    for (size_t r = 0; r < ROWS; r++) before += r % 4 < row % 4 || (r % 4 == row % 4 && r < row);
    return before * ACROSS + (row / 4 % 2 ? ACROSS - 1 - k : k);
}

static void begin(test_plate *p, const recipe *c)
{
    double x[HOLES], y[HOLES];
    test_random r = {c->seed};
    double level[BLOCKS][2] = {{0}};
    for (int b = 0; c->blocks > 0 && b < BLOCKS; b++)
        for (int axis = 0; axis < 2; axis++) level[b][axis] = c->blocks * random_normal(&r);
    double walk[HOLES][2] = {{0}};
    for (size_t k = 1; c->walk > 0 && k < HOLES; k++)
        for (int axis = 0; axis < 2; axis++)
            walk[k][axis] = walk[k - 1][axis] + c->walk * sqrt(6.0 / HOLES) * random_normal(&r);
    for (size_t i = 0; i < HOLES; i++)
        x[i] = 40 * (double)(i % ACROSS) - 380, y[i] = 45 * (double)(i / ACROSS) - 382.5;
    test_plate_begin(p, HOLES, x, y, HOLES);
    for (uint32_t i = 0; i < HOLES; i++) {
        size_t k = place_of(i);
        double ex = SIGMA * c->shrink * random_normal(&r);
        double ey = SIGMA * c->shrink * random_normal(&r);
        ex += k >= 130 ? c->step : 0;
        ey += k % 2 ? c->odd : 0;
        ey += x[i] > 0 ? c->half : 0;
        ex += c->wave * sin((x[i] + 2 * y[i]) / 150 + 1);
        ey += c->wave * sin((2 * x[i] - y[i]) / 150 + 2);
        ex += k / 30 % 3 == 1 ? c->label : 0;
        ex += level[k * BLOCKS / HOLES][0], ey += level[k * BLOCKS / HOLES][1];
        ex += walk[k][0], ey += walk[k][1];
        double mirror = c->mirror == 0 ? 1 : c->mirror;
        test_plate_measure(p, i, PP_ENTRY, mirror * (x[i] + ex), y[i] + ey,
                           25.6 + 0.004 * random_normal(&r), (double)k + 1);
    }
}

static pp_diagnosis diagnose(test_plate *p, int threads)
{
    pp_diagnosis d;
    pp_error error = {0};
    assert_ok(test_diagnose(p, threads, &d, &error), &error);
    return d;
}

static const pp_error_pattern *pattern_of(const pp_diagnosis *d, pp_error_pattern_kind kind)
{
    for (size_t i = 0; i < d->pattern_count; i++)
        if (d->patterns[i].kind == kind) return &d->patterns[i];
    return NULL;
}

static size_t count_said(const pp_diagnosis *d, pp_statement_kind kind)
{
    size_t count = 0;
    for (size_t i = 0; i < d->statement_count; i++) count += d->statements[i].kind == kind;
    return count;
}

static size_t terms_named(const pp_diagnosis *d)
{
    size_t count = 0;
    for (size_t i = 0; i < d->term_count; i++) count += d->terms[i].is_cause;
    return count;
}

static void a_step_is_named_with_its_hole(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.step = 0.09, .shrink = 1, .seed = 3});
    pp_diagnosis d = diagnose(&p, 1);
    const pp_error_pattern *step = pattern_of(&d, PP_PATTERN_STEP);
    assert_non_null(step);
    assert_true(step->is_cause && !step->unclear);
    assert_near(step->parts[0].place, 131, 1);
    assert_near(step->parts[0].estimate[0], 0.09, 4 * step->parts[0].standard_error[0]);
    assert_near(step->parts[0].estimate[1], 0, 4 * step->parts[0].standard_error[1]);
    assert_non_null(strstr(step->sentence, "From hole 13"));
    assert_string_equal(d.statements[0].text, step->sentence);
    assert_int_equal(d.statements[0].kind, PP_SAYS_CAUSE);
    assert_int_equal(terms_named(&d), 0);
    assert_true(d.rms_after < 0.7 * d.rms_before);
    test_plate_end(&p);
}

/* Six set-ups: three of them and a drift explain as much as five. */
static void a_drift_beside_set_ups_may_be_more_of_them(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.blocks = SIGMA, .shrink = 1, .seed = 65});
    pp_diagnosis d = diagnose(&p, 1);
    const pp_error_pattern *blocks = pattern_of(&d, PP_PATTERN_BLOCKS);
    assert_non_null(blocks);
    assert_true(blocks->state == PP_TERM_FOUND && !blocks->unclear);
    const pp_term *drift = &d.terms[PP_TERM_DRIFT_X];
    assert_true(drift->kind == PP_TERM_DRIFT_X && drift->state == PP_TERM_FOUND);
    assert_non_null(drift->unclear);
    assert_string_equal(drift->unclear, "set-ups that begin at 4 places of the order");
    assert_false(drift->is_cause);
    test_plate_end(&p);
}

static void every_second_hole_is_no_wander(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.odd = 0.08, .shrink = 1, .seed = 5});
    pp_diagnosis d = diagnose(&p, 1);
    const pp_error_pattern *odd = pattern_of(&d, PP_PATTERN_ALTERNATE);
    assert_non_null(odd);
    assert_true(odd->is_cause);
    assert_near(odd->parts[0].estimate[1], 0.08, 4 * odd->parts[0].standard_error[1]);
    assert_false(d.whitened);
    assert_non_null(strstr(odd->sentence, "Every second hole"));
    test_plate_end(&p);
}

/* Labels of the holes: A, B, C in turn, thirty holes each. */
static void label_holes(test_plate *p, const char **label)
{
    static const char *const names[] = {"A", "B", "C"};
    for (size_t i = 0; i < HOLES; i++) label[i] = names[place_of(i) / 30 % 3];
    (void)p;
}

static void labels_are_fitted_and_told(void **state)
{
    (void)state;
    test_plate p;
    const char *label[HOLES];
    begin(&p, &(recipe){.label = 0.07, .shrink = 1, .seed = 7});
    label_holes(&p, label);
    p.readings.setup = label;
    pp_diagnosis d = diagnose(&p, 1);
    const pp_error_pattern *setup = pattern_of(&d, PP_PATTERN_SETUP);
    assert_non_null(setup);
    assert_true(setup->is_cause);
    assert_int_equal(setup->part_count, 2);
    assert_string_equal(setup->parts[0].label, "B");
    assert_near(setup->parts[0].estimate[0], 0.07, 4 * setup->parts[0].standard_error[0]);
    assert_near(setup->parts[1].estimate[0], 0, 4 * setup->parts[1].standard_error[0]);
    assert_null(pattern_of(&d, PP_PATTERN_BLOCKS));
    assert_non_null(strstr(setup->sentence, "Set-up B lies +0.0"));
    /* a label that is missing keeps the column out, and says so */
    label[17] = "";
    d = diagnose(&p, 1);
    setup = pattern_of(&d, PP_PATTERN_SETUP);
    assert_int_equal(setup->state, PP_TERM_NOT_TESTED);
    assert_string_equal(setup->partner, "the labels of some holes are missing");
    /* one label says nothing */
    for (size_t i = 0; i < HOLES; i++) label[i] = "A";
    d = diagnose(&p, 1);
    assert_string_equal(pattern_of(&d, PP_PATTERN_SETUP)->partner, "all holes bear the same label");
    /* a label a hole: nothing could be told */
    char each[HOLES][8];
    for (size_t i = 0; i < HOLES; i++)
        snprintf(each[i], sizeof each[i], "%zu", i), label[i] = each[i];
    d = diagnose(&p, 1);
    assert_int_equal(pattern_of(&d, PP_PATTERN_SETUP)->state, PP_TERM_NOT_TESTED);
    test_plate_end(&p);
}

static void spindles_told_by_a_column_are_no_squareness(void **state)
{
    (void)state;
    test_plate p;
    const char *label[HOLES];
    begin(&p, &(recipe){.half = 0.07, .shrink = 1, .seed = 8});
    p.job.holes.position_limit = 0.3;
    for (size_t i = 0; i < HOLES; i++) label[i] = p.nx[i] > 0 ? "right" : "left";
    p.readings.spindle = label;
    pp_diagnosis d = diagnose(&p, 1);
    const pp_error_pattern *spindle = pattern_of(&d, PP_PATTERN_SPINDLE);
    assert_true(spindle && spindle->is_cause);
    assert_int_equal(spindle->parts[0].estimates, 2);
    assert_int_equal(terms_named(&d), 0);
    assert_non_null(strstr(spindle->sentence, "Spindle right lies"));
    /* without it the half is found, and spindles are no more than a guess */
    p.readings.spindle = NULL;
    d = diagnose(&p, 1);
    const pp_error_pattern *half = pattern_of(&d, PP_PATTERN_HALF_PLATE);
    assert_true(half && half->is_cause);
    assert_null(strstr(half->sentence, "pindle"));
    test_plate_end(&p);
}

static void what_two_things_explain_is_unclear(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.step = 0.016, .shrink = 1, .seed = 12});
    p.job.holes.position_limit = 0.1; /* small enough that it matters */
    pp_diagnosis d = diagnose(&p, 1);
    size_t unclear = 0;
    for (size_t i = 0; i < d.term_count; i++) {
        unclear += d.terms[i].unclear != NULL;
        if (d.terms[i].unclear) assert_false(d.terms[i].is_cause);
    }
    for (size_t i = 0; i < d.pattern_count; i++) {
        unclear += d.patterns[i].unclear != NULL;
        if (d.patterns[i].unclear) assert_false(d.patterns[i].is_cause);
    }
    assert_int_equal(unclear, 1);
    assert_int_equal(count_said(&d, PP_SAYS_UNCLEAR), 1);
    assert_int_equal(count_said(&d, PP_SAYS_CAUSE), 0);
    assert_non_null(strstr(d.statements[0].text, "position wander over the job, x"));
    assert_non_null(strstr(d.statements[0].text, "step"));
    assert_true(d.order_mean_count > 10 && d.cell_mean_count > 10);
    test_plate_end(&p);
}

static void a_pattern_that_nothing_describes_is_said(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.wave = 0.03, .shrink = 1, .seed = 13});
    p.job.holes.position_limit = 0.15;
    pp_diagnosis d = diagnose(&p, 1);
    assert_true(d.left_place.left || d.left_cells.left);
    assert_int_equal(count_said(&d, PP_SAYS_STRUCTURE), 1);
    assert_int_equal(count_said(&d, PP_SAYS_CAUSE), 0);
    test_plate_end(&p);
}

/* Drifts, set-ups and slow swings are found in every walk, each far beyond chance. */
static void an_irregular_wander_names_no_cause(void **state)
{
    (void)state;
    enum { PLATES = 12 };
    size_t causes = 0, found = 0, said = 0;
    for (uint64_t seed = 1; seed <= PLATES; seed++) {
        test_plate p;
        begin(&p, &(recipe){.walk = 0.8 * SIGMA, .shrink = 1, .seed = seed});
        p.job.holes.position_limit = 0.1;
        pp_diagnosis d = diagnose(&p, 1);
        causes += count_said(&d, PP_SAYS_CAUSE) > 0;
        found += !isnan(d.wander_rms);
        for (size_t i = 0; i < d.statement_count; i++)
            said += strstr(d.statements[i].text, "wandered irregularly along the order") != NULL;
        assert_true(isnan(d.wander_rms) ||
                    (d.wander_rms > 0.3 * SIGMA && d.wander_rms < 3 * SIGMA));
        test_plate_end(&p);
    }
    assert_int_equal(found, PLATES);
    assert_in_range(causes, 0, 3); /* 15 % on 400 holes: docs/theory/diagnosis.md */
    assert_in_range(said, PLATES - 3, PLATES);
}

static void where_positions_hold_with_margin_it_is_information(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.step = 0.09, .shrink = 0.2, .seed = 3});
    p.job.holes.position_limit = 0.3; /* largest position some .2 */
    pp_diagnosis d = diagnose(&p, 1);
    assert_true(pattern_of(&d, PP_PATTERN_STEP)->is_cause);
    p.job.holes.position_limit = 0.5; /* now less than half of it */
    d = diagnose(&p, 1);
    const pp_error_pattern *step = pattern_of(&d, PP_PATTERN_STEP);
    assert_true(step->state == PP_TERM_FOUND && step->matters && !step->is_cause);
    assert_int_equal(count_said(&d, PP_SAYS_CAUSE), 0);
    assert_int_equal(count_said(&d, PP_SAYS_INFORMATION), 1);
    p.job.holes.position_limit = NAN;
    d = diagnose(&p, 1);
    assert_false(pattern_of(&d, PP_PATTERN_STEP)->is_cause);
    assert_int_equal(count_said(&d, PP_SAYS_CAUSE), 0);
    test_plate_end(&p);
}

static void mirrored_holes_give_no_temperature(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.mirror = -1, .shrink = 1, .seed = 3});
    pp_diagnosis d = diagnose(&p, 1);
    assert_false(d.valid);
    assert_non_null(strstr(d.why_not, "mirrored"));
    assert_true(isnan(d.temperature_difference) && d.statement_count == 0);
    test_plate_end(&p);
}

static void threads_change_no_bit_of_a_pattern(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.step = 0.09, .half = 0.05, .shrink = 1, .seed = 17});
    pp_diagnosis first = diagnose(&p, 1);
    assert_true(first.pattern_count > 0);
    static const int threads[] = {2, 8};
    for (size_t k = 0; k < sizeof threads / sizeof *threads; k++) {
        pp_diagnosis d = diagnose(&p, threads[k]);
        assert_int_equal(d.pattern_count, first.pattern_count);
        for (size_t i = 0; i < d.pattern_count; i++) {
            const pp_error_pattern *a = &d.patterns[i], *b = &first.patterns[i];
            assert_memory_equal(&a->p, &b->p, sizeof a->p);
            assert_int_equal(a->part_count, b->part_count);
            for (size_t j = 0; j < a->part_count; j++)
                assert_memory_equal(a->parts[j].estimate, b->parts[j].estimate,
                                    sizeof a->parts[j].estimate);
        }
        assert_memory_equal(&d.left_cells.p, &first.left_cells.p, sizeof d.left_cells.p);
    }
    test_plate_end(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_step_is_named_with_its_hole),
        cmocka_unit_test(a_drift_beside_set_ups_may_be_more_of_them),
        cmocka_unit_test(every_second_hole_is_no_wander),
        cmocka_unit_test(labels_are_fitted_and_told),
        cmocka_unit_test(spindles_told_by_a_column_are_no_squareness),
        cmocka_unit_test(what_two_things_explain_is_unclear),
        cmocka_unit_test(a_pattern_that_nothing_describes_is_said),
        cmocka_unit_test(an_irregular_wander_names_no_cause),
        cmocka_unit_test(where_positions_hold_with_margin_it_is_information),
        cmocka_unit_test(mirrored_holes_give_no_temperature),
        cmocka_unit_test(threads_change_no_bit_of_a_pattern),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

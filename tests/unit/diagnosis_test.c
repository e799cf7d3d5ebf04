/* The diagnosis as a stage: what it tests, what it says, what it leaves alone. */
#include "support/check.h"
#include "support/measures.h"
#include "support/random.h"

enum { ACROSS = 20, ROWS = 15, HOLES = ACROSS * ROWS };

typedef enum sequence { NO_ORDER, SWEEPS, ROW_BY_ROW, ONE_WAY } sequence;

typedef struct recipe {
    sequence sequence;
    double scale_x, scale_y, lost_x, drift_y, turn, lean;
    double wander; /* correlation of each hole's scatter with that of the hole before */
    uint64_t seed;
} recipe;

static size_t place_of(sequence s, size_t i)
{
    size_t row = i / ACROSS, k = i % ACROSS;
    if (s == ROW_BY_ROW) return row * ACROSS + (row % 2 ? ACROSS - 1 - k : k);
    if (s == ONE_WAY) return i;
    size_t before = 0; /* four sweeps: rows 0, 4, 8 .., then 1, 5, .. */
    for (size_t r = 0; r < ROWS; r++) before += r % 4 < row % 4 || (r % 4 == row % 4 && r < row);
    return before * ACROSS + (row / 4 % 2 ? ACROSS - 1 - k : k);
}

static void begin(test_plate *p, const recipe *c)
{
    double x[HOLES], y[HOLES];
    size_t drilled[HOLES];
    for (size_t i = 0; i < HOLES; i++) {
        x[i] = 40 * (double)(i % ACROSS) + 112.5, y[i] = 45 * (double)(i / ACROSS) - 71.3;
        drilled[place_of(c->sequence, i)] = i;
    }
    double ex[HOLES], ey[HOLES], s = 0, wx = 0, wy = 0;
    test_random r = {c->seed};
    int move = 0;
    for (size_t k = 0; k < HOLES; k++) {
        size_t i = drilled[k];
        if (k > 0 && x[i] != x[drilled[k - 1]]) move = x[i] > x[drilled[k - 1]] ? 1 : -1;
        s = (double)k / (HOLES - 1) - 0.5;
        double cx = x[i] - 492.5, cy = y[i] - 243.7;
        ex[i] = c->scale_x * cx - c->turn * cy - 0.5 * c->lost_x * move;
        ey[i] = c->scale_y * cy + c->turn * cx + c->drift_y * s;
        double fresh = k ? 0.02 * sqrt(1 - c->wander * c->wander) : 0.02;
        wx = c->wander * wx + fresh * random_normal(&r);
        wy = c->wander * wy + fresh * random_normal(&r);
        ex[i] += wx, ey[i] += wy;
    }
    test_plate_begin(p, HOLES, x, y, 2 * HOLES);
    for (uint32_t i = 0; i < HOLES; i++) {
        double order = c->sequence == NO_ORDER ? NAN : (double)place_of(c->sequence, i) + 1;
        test_plate_measure(p, i, PP_ENTRY, x[i] + ex[i], y[i] + ey[i],
                           25.6 + 0.004 * random_normal(&r), order);
        if (c->lean != 0)
            test_plate_measure(p, i, PP_EXIT, x[i] + ex[i] + c->lean, y[i] + ey[i], 25.6, order);
    }
}

static pp_diagnosis diagnose(test_plate *p)
{
    pp_diagnosis d;
    pp_error error = {0};
    assert_ok(test_diagnose(p, 1, &d, &error), &error);
    return d;
}

static const pp_term *term_of(const pp_diagnosis *d, pp_term_kind kind)
{
    for (size_t i = 0; i < d->term_count; i++)
        if (d->terms[i].kind == kind) return &d->terms[i];
    return NULL;
}

static void a_cause_is_found_named_and_worded(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.sequence = SWEEPS, .lost_x = 0.13, .seed = 4});
    pp_diagnosis d = diagnose(&p);
    assert_true(d.valid && d.order_known);
    const pp_term *t = term_of(&d, PP_TERM_LOST_MOTION_X);
    assert_int_equal(t->state, PP_TERM_FOUND);
    assert_near(t->value, 0.13, 4 * t->standard_error);
    assert_near(t->worst_effect, 0.5 * t->value, 1e-12);
    /* position limit .5: a quarter of its radius is .0625, half of .13 is .065 */
    assert_true(t->is_cause);
    assert_non_null(strstr(t->sentence, "Lost motion (backlash) in x: 0.1"));
    assert_true(t->share > 0.7 && t->share <= 1);
    assert_true(d.rms_after < 0.45 * d.rms_before);
    for (size_t i = 0; i < d.term_count; i++)
        assert_true(d.terms[i].kind == PP_TERM_LOST_MOTION_X || d.terms[i].state != PP_TERM_FOUND);
    /* a wider limit makes it a finding without a cause */
    p.job.holes.position_limit = 1.2;
    d = diagnose(&p);
    t = term_of(&d, PP_TERM_LOST_MOTION_X);
    assert_true(t->state == PP_TERM_FOUND && !t->is_cause && !t->sentence);
    /* in a job in inches the sentence is in inches */
    p.job.holes.position_limit = NAN;
    p.job.units = PP_INCH;
    d = diagnose(&p);
    assert_non_null(strstr(term_of(&d, PP_TERM_LOST_MOTION_X)->sentence, "0.005"));
    assert_non_null(strstr(term_of(&d, PP_TERM_LOST_MOTION_X)->sentence, " in between"));
    test_plate_end(&p);
}

static void a_scale_means_a_temperature(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.sequence = SWEEPS, .scale_x = 2.3e-4, .scale_y = 2.3e-4, .seed = 5});
    pp_diagnosis d = diagnose(&p);
    const pp_term *t = term_of(&d, PP_TERM_SCALE);
    assert_int_equal(t->state, PP_TERM_FOUND);
    assert_near(d.temperature_difference, 20, 4 * d.temperature_standard_error);
    assert_near(d.temperature_standard_error, t->standard_error / 11.5e-6, 1e-12);
    assert_non_null(strstr(t->sentence, "the plate being the colder"));
    /* scatter .02 in x and y is left; before, the scale adds its share of the mean squared distance
     * from the centre of a grid, pitch^2 (n^2 - 1) / 12 along each axis. Tolerance: four standard
     * deviations of the root mean square of 600 normal coordinates. */
    double spread = (40.0 * 40 * (ACROSS * ACROSS - 1) + 45.0 * 45 * (ROWS * ROWS - 1)) / 12;
    assert_near(d.rms_after, 0.02 * sqrt(2), 0.0033);
    assert_near(d.rms_before, sqrt(2 * 0.02 * 0.02 + 2.3e-4 * 2.3e-4 * spread), 0.0033);
    test_plate_end(&p);
}

static void drilled_row_by_row_drift_is_reported_as_scale_with_the_alternative(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.sequence = ROW_BY_ROW, .drift_y = 0.3, .seed = 6});
    pp_diagnosis d = diagnose(&p);
    const pp_term *drift = term_of(&d, PP_TERM_DRIFT_Y);
    assert_int_equal(drift->state, PP_TERM_NOT_TESTED);
    assert_string_equal(drift->partner, "scale y");
    assert_true(isnan(drift->value) && isnan(drift->p));
    assert_string_equal(term_of(&d, PP_TERM_DRIFT_X)->partner, "squareness");
    const pp_term *scale = term_of(&d, PP_TERM_SCALE);
    assert_int_equal(scale->state, PP_TERM_FOUND);
    assert_string_equal(scale->partner, "drift y");
    assert_non_null(strstr(scale->sentence, "It cannot be told from: drift y."));
    /* drilled in four sweeps the two are told apart */
    test_plate_end(&p);
    begin(&p, &(recipe){.sequence = SWEEPS, .drift_y = 0.3, .seed = 6});
    d = diagnose(&p);
    assert_int_equal(term_of(&d, PP_TERM_DRIFT_Y)->state, PP_TERM_FOUND);
    assert_int_equal(term_of(&d, PP_TERM_SCALE)->state, PP_TERM_NOT_FOUND);
    assert_null(term_of(&d, PP_TERM_SCALE)->partner);
    test_plate_end(&p);
}

static void one_way_rows_hide_lost_motion(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.sequence = ONE_WAY, .seed = 7});
    pp_diagnosis d = diagnose(&p);
    const pp_term *t = term_of(&d, PP_TERM_LOST_MOTION_Y);
    assert_int_equal(t->state, PP_TERM_NOT_TESTED);
    assert_string_equal(t->partner, "too few holes were approached from the other side");
    test_plate_end(&p);
}

static void without_order_only_what_needs_none_is_tested(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.sequence = NO_ORDER, .scale_x = 3e-4, .lean = 0.2, .seed = 8});
    pp_diagnosis d = diagnose(&p);
    assert_true(d.valid && !d.order_known);
    assert_int_equal(d.term_count, 6); /* two scales, squareness, two bows, lean */
    assert_null(term_of(&d, PP_TERM_DRIFT_X));
    assert_null(term_of(&d, PP_TERM_WEAR));
    assert_true(isnan(d.autocorrelation));
    assert_int_equal(term_of(&d, PP_TERM_SCALE_XY)->state, PP_TERM_FOUND);
    const pp_term *lean = term_of(&d, PP_TERM_LEAN);
    assert_int_equal(lean->state, PP_TERM_FOUND);
    assert_near(lean->value, 0.2, 1e-9);
    assert_non_null(strstr(lean->sentence, "exits lie 0.200 mm off their entries"));
    assert_non_null(strstr(lean->sentence, "(+0.200 mm in x, "));
    assert_non_null(strstr(lean->sentence, "a shift between the datums of the two faces"));
    test_plate_end(&p);
    /* an order with a gap is no order, and that is said */
    begin(&p, &(recipe){.sequence = SWEEPS, .seed = 8});
    p.order[17] = NAN;
    d = diagnose(&p);
    assert_false(d.order_known);
    assert_string_equal(term_of(&d, PP_TERM_GROWTH)->partner,
                        "the drilling order of some holes is missing");
    test_plate_end(&p);
    /* but any row of a hole may tell it: here the exit's, where the entry's is empty */
    begin(&p, &(recipe){.sequence = SWEEPS, .lean = 0.2, .seed = 8});
    d = diagnose(&p);
    double growth = term_of(&d, PP_TERM_GROWTH)->value;
    for (size_t hole = 5; hole < 200; hole += 13) p.order[2 * hole] = NAN;
    d = diagnose(&p);
    assert_true(d.order_known);
    assert_near(term_of(&d, PP_TERM_GROWTH)->value, growth, 0);
    /* and the latest round that tells it holds */
    p.round[100] = p.round[101] = 2;
    p.order[100] = p.order[101] = p.order[100] + 60;
    d = diagnose(&p);
    assert_true(fabs(term_of(&d, PP_TERM_GROWTH)->value - growth) > 1e-9);
    test_plate_end(&p);
}

static void misdrilled_holes_are_named_and_change_little(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.sequence = SWEEPS, .scale_x = 2e-4, .scale_y = 2e-4, .seed = 9});
    pp_diagnosis d = diagnose(&p);
    double value = term_of(&d, PP_TERM_SCALE)->value;
    double se = term_of(&d, PP_TERM_SCALE)->standard_error;
    assert_int_equal(d.misdrilled_count, 0);
    p.bores[3].at.x += 31, p.bores[160].at.y -= 0.6, p.bores[299].at.x -= 1.4;
    d = diagnose(&p);
    assert_int_equal(d.misdrilled_count, 3);
    assert_int_equal(d.misdrilled[0], 3);
    assert_int_equal(d.misdrilled[1], 160);
    assert_int_equal(d.misdrilled[2], 299);
    assert_near(term_of(&d, PP_TERM_SCALE)->value, value, se);
    test_plate_end(&p);
}

/* What as-measured leaves is shown apart, and moving or turning the measurement changes no term. */
static void shift_and_turn_change_no_term(void **state)
{
    (void)state;
    recipe c = {.sequence = SWEEPS, .scale_x = 1e-4, .lost_x = 0.05, .seed = 10};
    test_plate p, q;
    begin(&p, &c);
    c.turn = 4e-5; /* small: a turn is linear in it to 1e-9 */
    begin(&q, &c);
    for (size_t i = 0; i < HOLES; i++) q.bores[i].at.x += 1.7, q.bores[i].at.y -= 0.4;
    pp_diagnosis d = diagnose(&p), e = diagnose(&q);
    assert_int_equal(d.term_count, e.term_count);
    for (size_t i = 0; i < d.term_count; i++) {
        if (d.terms[i].kind == PP_TERM_TOOL_CHANGE) continue;
        assert_near(e.terms[i].value, d.terms[i].value, 1e-5 * d.terms[i].standard_error);
        assert_near(e.terms[i].p, d.terms[i].p, 1e-4);
    }
    assert_near(e.rotation_deg - d.rotation_deg, 4e-5 * 57.29577951308232, 1e-9);
    /* the turn is about the centroid (492.5, 243.7) */
    assert_near(e.shift_x - d.shift_x, 1.7 + 4e-5 * 243.7, 1e-6);
    assert_near(e.shift_y - d.shift_y, -0.4 - 4e-5 * 492.5, 1e-6);
    test_plate_end(&p);
    test_plate_end(&q);
}

static void threads_change_no_bit(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.sequence = SWEEPS, .scale_x = 1e-4, .seed = 11});
    pp_diagnosis one = diagnose(&p), three;
    pp_error error = {0};
    assert_ok(test_diagnose(&p, 3, &three, &error), &error);
    for (size_t i = 0; i < one.term_count; i++) {
        assert_memory_equal(&one.terms[i].value, &three.terms[i].value, sizeof(double));
        assert_memory_equal(&one.terms[i].p, &three.terms[i].p, sizeof(double));
    }
    test_plate_end(&p);
}

/* An autoregression: its lag-1 correlation from 2 * 300 residuals has a standard error of about
 * sqrt((1 - 0.6^2) / 600) = 0.033, and the eight fitted terms take some of it. */
static void a_wander_is_whitened_and_is_no_cause(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.sequence = ROW_BY_ROW, .wander = 0.6, .seed = 23});
    pp_diagnosis d = diagnose(&p);
    assert_true(d.valid && d.order_known && d.whitened);
    assert_near(d.autocorrelation, 0.6, 0.12);
    for (size_t i = 0; i < d.term_count; i++) assert_false(d.terms[i].is_cause);
    double alone = term_of(&d, PP_TERM_SCALE)->value;
    test_plate_end(&p);
    begin(&p, &(recipe){.sequence = ROW_BY_ROW, .scale_x = 3e-4, .wander = 0.6, .seed = 23});
    pp_diagnosis e = diagnose(&p);
    const pp_term *scale = term_of(&e, PP_TERM_SCALE);
    assert_true(e.whitened);
    /* the same scatter, so that the two differ by the scale put in: half of it is common */
    assert_near(scale->value - alone, 1.5e-4, 2e-5);
    test_plate_end(&p);
}

static void plugged_and_other_holes_do_not_count(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.sequence = NO_ORDER, .seed = 12});
    p.plugged[5] = true, p.kind[6] = PP_OTHER_HOLE;
    p.bores[5].at.x += 9, p.bores[6].at.x += 9;
    pp_diagnosis d = diagnose(&p);
    assert_int_equal(d.holes, HOLES - 2);
    assert_int_equal(d.misdrilled_count, 0);
    test_plate_end(&p);
}

/* Holes read once among holes read nine times, with reading scatter .1 against .02 of their own:
 * unweighted, the few poor ones would rule the standard error. */
static void a_hole_read_often_counts_more(void **state)
{
    (void)state;
    test_plate p;
    begin(&p, &(recipe){.sequence = NO_ORDER, .seed = 13});
    test_random r = {77};
    enum { EACH = 9 };
    static const char *names[HOLES * EACH];
    static double x[HOLES * EACH], y[HOLES * EACH];
    static uint8_t face[HOLES * EACH];
    static uint32_t round[HOLES * EACH];
    size_t row = 0;
    for (size_t i = 0; i < HOLES; i++) {
        uint32_t readings = p.bores[i].readings = i % 3 == 0 ? 1 : EACH;
        double sum_x = 0, sum_y = 0;
        for (uint32_t k = 0; k < readings; k++, row++) {
            names[row] = p.name[i], round[row] = 1, face[row] = PP_ENTRY;
            x[row] = p.bores[i].at.x + 0.1 * random_normal(&r), sum_x += x[row] / readings;
            y[row] = p.bores[i].at.y + 0.1 * random_normal(&r), sum_y += y[row] / readings;
        }
        p.bores[i].at.x = sum_x, p.bores[i].at.y = sum_y;
    }
    double unweighted = 0;
    p.readings.count = row;
    { /* without names the readings can't be told to be repeats: all count the same */
        pp_diagnosis d = diagnose(&p);
        unweighted = term_of(&d, PP_TERM_SCALE)->standard_error;
    }
    p.readings.name = names, p.readings.x = x, p.readings.y = y;
    p.readings.face = face, p.readings.round = round;
    pp_diagnosis d = diagnose(&p);
    /* weights 1/(.02^2 + .1^2) and 1/(.02^2 + .1^2/9): information 96 + 661 against equal weights
     */
    assert_true(term_of(&d, PP_TERM_SCALE)->standard_error < 0.93 * unweighted);
    test_plate_end(&p);
}

static void too_few_holes_are_said_not_guessed(void **state)
{
    (void)state;
    test_plate p;
    double x[] = {0, 40, 80, 0, 40}, y[] = {0, 0, 0, 50, 50};
    test_plate_begin(&p, 5, x, y, 5);
    for (uint32_t i = 0; i < 5; i++) test_plate_measure(&p, i, PP_ENTRY, x[i], y[i], 25.6, NAN);
    pp_diagnosis d = diagnose(&p);
    assert_false(d.valid);
    assert_string_equal(d.why_not, "a diagnosis needs at least 30 tube holes measured on the entry "
                                   "face, there are 5");
    assert_int_equal(d.term_count, 0);
    test_plate_end(&p);
}

/* A row has no extent across: what needs it is not tested, the rest is. No scatter at all: nothing
 * is found in the rounding. */
static void one_exact_row_finds_nothing(void **state)
{
    (void)state;
    test_plate p;
    double x[40], y[40];
    for (int i = 0; i < 40; i++) x[i] = 31.75 * i, y[i] = 12.3;
    test_plate_begin(&p, 40, x, y, 40);
    for (uint32_t i = 0; i < 40; i++)
        test_plate_measure(&p, i, PP_ENTRY, x[i] + 0.3, y[i] - 0.2, 25.6, i + 1);
    pp_diagnosis d = diagnose(&p);
    assert_true(d.valid);
    for (size_t i = 0; i < d.term_count; i++) assert_true(d.terms[i].state != PP_TERM_FOUND);
    assert_int_equal(term_of(&d, PP_TERM_SCALE)->state, PP_TERM_NOT_FOUND);
    assert_int_equal(term_of(&d, PP_TERM_SCALE_XY)->state, PP_TERM_NOT_TESTED);
    assert_string_equal(term_of(&d, PP_TERM_SCALE_XY)->partner, "scale common");
    assert_int_equal(term_of(&d, PP_TERM_BOW_Y)->state, PP_TERM_NOT_TESTED);
    assert_int_equal(d.misdrilled_count, 0);
    test_plate_end(&p);
}

/* One argument: only the tests whose names it matches. */
int main(int count, char **arguments)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_cause_is_found_named_and_worded),
        cmocka_unit_test(a_scale_means_a_temperature),
        cmocka_unit_test(drilled_row_by_row_drift_is_reported_as_scale_with_the_alternative),
        cmocka_unit_test(one_way_rows_hide_lost_motion),
        cmocka_unit_test(without_order_only_what_needs_none_is_tested),
        cmocka_unit_test(misdrilled_holes_are_named_and_change_little),
        cmocka_unit_test(shift_and_turn_change_no_term),
        cmocka_unit_test(threads_change_no_bit),
        cmocka_unit_test(a_wander_is_whitened_and_is_no_cause),
        cmocka_unit_test(plugged_and_other_holes_do_not_count),
        cmocka_unit_test(a_hole_read_often_counts_more),
        cmocka_unit_test(too_few_holes_are_said_not_guessed),
        cmocka_unit_test(one_exact_row_finds_nothing),
    };
    cmocka_set_test_filter(count > 1 ? arguments[1] : NULL);
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* What of a machine's errors is corrected: shrinkage and gate by hand, drift, a last plate that
 * differs, the smooth field, ligaments. */
#include <stdlib.h>

#include "support/check.h"
#include "support/drilled_plate.h"
#include "support/random.h"

#include "causes/error_field.h"
#include "correction/correction.h"

enum { PLATES = 5, SIDE = 11, HOLES = SIDE * SIDE };
static const double PITCH = 50;

static pp_term_series series(const double *value, size_t plates, double error)
{
    pp_term_series s = {.plates = plates, .reach = 1, .temperatures = true};
    for (size_t p = 0; p < plates; p++)
        s.value[p] = value[p], s.standard_error[p] = error, s.found[p] = true;
    return s;
}

/* The others are not tested. */
static void learn_one(pp_term_series one, pp_learned_term *learned, bool *differs)
{
    pp_term_series all[PP_STATIC_TERMS];
    pp_learned_term terms[PP_STATIC_TERMS];
    const double none[] = {NAN, NAN, NAN, NAN, NAN, NAN};
    for (int k = 0; k < PP_STATIC_TERMS; k++) all[k] = series(none, one.plates, NAN);
    all[PP_STATIC_SCALE_XY] = one;
    pp_terms_learn(all, terms, differs);
    *learned = terms[PP_STATIC_SCALE_XY];
}

static void shrinkage_is_the_garrote(void **state)
{
    (void)state;
    /* mean 10, variance between 4, of the mean 4/3: c = (1 - 4/300) 10 */
    const double value[] = {8, 10, 12}, error[] = {1, 1, 1};
    assert_near(pp_term_shrink(value, error, 3, 0), 10 * (1 - 4.0 / 300), 1e-12);
    /* with a gauge of 2 the variance of the mean is 4/3 + 4 */
    assert_near(pp_term_shrink(value, error, 3, 2), 10 * (1 - (4.0 / 3 + 4) / 100), 1e-12);
    /* smaller than its own error: nothing */
    const double small[] = {1, -1, 0.5};
    assert_near(pp_term_shrink(small, error, 3, 0), 0, 0);
    /* one plate: half of what is left */
    assert_near(pp_term_shrink(value, error, 1, 0), 0.5 * 8 * (1 - 1.0 / 64), 1e-12);
}

static void what_repeats_is_corrected_what_does_not_is_left(void **state)
{
    (void)state;
    pp_learned_term t;
    bool differs;
    const double steady[] = {20, 21, 19, 20.5, 19.5}, wild[] = {20, -18, 7, -25, 16};
    learn_one(series(steady, PLATES, 1), &t, &differs);
    assert_int_equal(t.state, PP_TERM_CORRECTED);
    assert_true(t.applied > 19 && t.applied < 20);
    assert_true(t.probability_better > 0.99);
    learn_one(series(wild, PLATES, 1), &t, &differs);
    assert_int_equal(t.state, PP_TERM_DOES_NOT_REPEAT);
    assert_near(t.applied, 0, 0);
}

static void a_gauge_that_could_be_it_is_left_alone(void **state)
{
    (void)state;
    pp_learned_term t;
    bool differs;
    const double steady[] = {20, 21, 19, 20.5, 19.5};
    pp_term_series s = series(steady, PLATES, 1);
    s.gauge = 10.1;
    learn_one(s, &t, &differs);
    assert_int_equal(t.state, PP_TERM_WITHIN_GAUGE);
}

static void a_drift_is_left_alone_and_drawn_on(void **state)
{
    (void)state;
    pp_learned_term t;
    bool differs;
    const double rising[] = {10, 20, 30.5, 39.5, 50};
    learn_one(series(rising, PLATES, 1), &t, &differs);
    assert_int_equal(t.state, PP_TERM_DRIFTS);
    assert_near(t.applied, 0, 0);
    assert_near(t.line_value, 60, 1);
    assert_false(differs);
}

static void a_last_plate_of_another_kind_stops_everything(void **state)
{
    (void)state;
    pp_learned_term t;
    bool differs;
    const double turned[] = {20, 21, 19, 20.5, -20};
    learn_one(series(turned, PLATES, 1), &t, &differs);
    assert_true(differs);
    assert_int_equal(t.state, PP_TERM_LAST_DIFFERS);
    assert_near(t.applied, 0, 0);
}

static void shift_and_turn_are_taken_out(void **state)
{
    (void)state;
    double x[] = {0, 100, 0, 100}, y[] = {0, 0, 50, 50}, fx[4], fy[4];
    for (int i = 0; i < 4; i++) fx[i] = 0.3 - 1e-3 * y[i], fy[i] = -0.2 + 1e-3 * x[i];
    pp_take_rigid_out(x, y, NULL, 4, fx, fy);
    for (int i = 0; i < 4; i++) assert_near(hypot(fx[i], fy[i]), 0, 1e-12);
}

/* ---- plates of a machine ---- */

typedef struct shop {
    pp_memory memory;
    double x[HOLES], y[HOLES], none[HOLES];
    char text[HOLES][8];
    const char *name[HOLES];
    uint8_t kind[HOLES];
    pp_nominal next;
    pp_drilled_plate plates[PLATES];
} shop;

static void drill(shop *s, double scale, double wave)
{
    test_random r = {7};
    for (size_t p = 0; p < PLATES; p++) {
        double *mx = pp_arena_take(&s->memory.keep, HOLES, sizeof *mx);
        double *my = pp_arena_take(&s->memory.keep, HOLES, sizeof *my);
        char *id = pp_arena_take(&s->memory.keep, 8, 1);
        snprintf(id, 8, "P%zu", p);
        for (size_t i = 0; i < HOLES; i++) {
            double u = s->x[i] / (PITCH * SIDE);
            mx[i] = s->x[i] * (1 + scale) + 0.005 * random_normal(&r) + wave * u * u * u;
            my[i] = s->y[i] * (1 + scale) + 0.005 * random_normal(&r);
        }
        pp_report_holes holes = {HOLES, s->name, mx, my, s->x, s->y, s->none, s->none, s->none};
        test_drilled_plate(id, NAN, &holes, 0.2, &s->memory, &s->plates[p]);
    }
}

static int open_shop(void **state)
{
    shop *s = calloc(1, sizeof *s);
    for (size_t i = 0; i < HOLES; i++) {
        s->x[i] = PITCH * ((double)(i % SIDE) - SIDE / 2), s->none[i] = NAN;
        s->y[i] = PITCH * ((double)(i / SIDE) - SIDE / 2);
        snprintf(s->text[i], sizeof s->text[i], "H%zu", i);
        s->name[i] = s->text[i];
    }
    s->next = (pp_nominal){
        .count = HOLES, .name = s->name, .x = s->x, .y = s->y, .kind = s->kind, .file = "next"};
    *state = s;
    return 0;
}

static int close_shop(void **state)
{
    shop *s = *state;
    pp_memory_free(&s->memory);
    free(s);
    return 0;
}

static pp_correct_options asked(void)
{
    return (pp_correct_options){.limit = 0.2,
                                .cap = NAN,
                                .step = 0.001,
                                .hole_diameter = NAN,
                                .ligament_minimum = NAN,
                                .use_field = true,
                                .threads = 1};
}

static pp_correction correct(shop *s, const pp_correct_options *options)
{
    pp_correction c;
    pp_error error;
    assert_ok(pp_correct(&s->next, s->plates, PLATES, options, &s->memory, &c, &error), &error);
    return c;
}

static void the_list_takes_out_a_scale(void **state)
{
    shop *s = *state;
    drill(s, 2e-4, 0);
    pp_correct_options options = asked();
    pp_correction c = correct(s, &options), again = correct(s, &options);
    assert_true(c.correct);
    assert_near(c.shift_x[0], -2e-4 * s->x[0], 0.003);
    assert_near(c.promise.rms_after.median, again.promise.rms_after.median, 0);
    assert_true(c.promise.rms_after.low < c.promise.rms_after.median);
    assert_true(c.promise.rms_after.high < c.promise.rms_before.low);
    assert_true(isnan(c.ligament));
}

static void a_smooth_field_is_learned(void **state)
{
    shop *s = *state;
    drill(s, 2e-4, 0.5);
    pp_correct_options options = asked();
    options.cap = 0.5; /* the half of the limit is too little for scale and field together */
    pp_correction with = correct(s, &options);
    options.use_field = false;
    pp_correction without = correct(s, &options);
    assert_true(with.field_used);
    assert_false(without.field_used);
    assert_true(with.promise.rms_after.median < without.promise.rms_after.median);
}

/* Holes of 40 mm on a pitch of 50 leave 10 mm; the list pulls them together. */
static void a_ligament_below_its_minimum_is_refused(void **state)
{
    shop *s = *state;
    drill(s, 2e-4, 0);
    pp_correct_options options = asked();
    options.hole_diameter = 40, options.ligament_minimum = 9.98;
    pp_correction c = correct(s, &options);
    assert_true(c.correct);
    assert_near(c.ligament, 10 - 2e-4 * PITCH, 0.003);
    options.ligament_minimum = 9.999;
    c = correct(s, &options);
    assert_false(c.correct);
    assert_true(c.thinned > 0);
    assert_non_null(strstr(c.why[c.why_count - 1], "ligament"));
}

int main(void)
{
#define IN_SHOP(test) cmocka_unit_test_setup_teardown(test, open_shop, close_shop)
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shrinkage_is_the_garrote),
        cmocka_unit_test(what_repeats_is_corrected_what_does_not_is_left),
        cmocka_unit_test(a_gauge_that_could_be_it_is_left_alone),
        cmocka_unit_test(a_drift_is_left_alone_and_drawn_on),
        cmocka_unit_test(a_last_plate_of_another_kind_stops_everything),
        cmocka_unit_test(shift_and_turn_are_taken_out),
        IN_SHOP(the_list_takes_out_a_scale),
        IN_SHOP(a_smooth_field_is_learned),
        IN_SHOP(a_ligament_below_its_minimum_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* Tool wear and tool changes in simulated diameters of known truth. */
#include <stdlib.h>

#include "support/check.h"
#include "support/random.h"

#include "causes/wear.h"

static const double SIGMA = 0.005;

/* Tools of `life` holes, each starting at 25.6 and wearing by `slope` a hole. */
static double *diameters(size_t count, size_t life, double slope, double sigma, uint64_t seed)
{
    test_random r = {seed};
    double *d = malloc(count * sizeof *d);
    assert_non_null(d);
    for (size_t i = 0; i < count; i++)
        d[i] = 25.6 + slope * (double)(i % life) + sigma * random_normal(&r);
    return d;
}

static pp_wear find(size_t count, const double *d, pp_arena *arena)
{
    pp_wear w;
    pp_error error = {0};
    pp_arena scratch = {0};
    assert_ok(pp_wear_find(count, d, arena, &scratch, &w, &error), &error);
    pp_arena_free(&scratch);
    return w;
}

static void one_tool_that_does_not_wear_shows_nothing(void **state)
{
    (void)state;
    int correlated = 0;
    for (uint64_t seed = 1; seed <= 40; seed++) {
        double *d = diameters(400, 400, 0, SIGMA, seed);
        pp_arena arena = {0};
        pp_wear w = find(400, d, &arena);
        assert_int_equal(w.change_count, 0);
        assert_near(w.change_p, 1, 0);
        assert_near(w.slope, 0, 4.5 * w.standard_error);
        correlated += w.correlation > 0; /* tested at .05 %, one-sided */
        if (w.correlation == 0)          /* s strays by 3.5 % */
            assert_near(w.standard_error / (SIGMA / sqrt(400. * 400 * 400 / 12)), 1, 0.14);
        assert_near(w.longest_run, 400, 0);
        free(d);
        pp_arena_free(&arena);
    }
    assert_true(correlated <= 2);
}

static void tools_and_their_wear_are_found(void **state)
{
    (void)state;
    /* -.14 um a hole over 150 holes: a step back of 21 um, four sigma, at 150 and 300 */
    double *d = diameters(400, 150, -1.4e-4, SIGMA, 5);
    d[33] += 0.1, d[34] -= 0.08, d[290] += 0.07; /* wild: neither wear nor a change */
    pp_arena arena = {0};
    pp_wear w = find(400, d, &arena);
    assert_int_equal(w.change_count, 2);
    assert_near(w.changes[0], 150, 2);
    assert_near(w.changes[1], 300, 2);
    assert_near(w.slope, -1.4e-4, 3 * w.standard_error);
    assert_true(w.p < 1e-20 && w.change_p < 1e-20);
    assert_near(w.largest_step, 0.021, 0.003);
    assert_near(w.scatter, SIGMA, 0.0006);
    assert_int_equal(w.wild, 3);
    free(d);
    pp_arena_free(&arena);
}

/* A twentieth of 3000 holes is as long as the tools last: blocks of that length see two of them. */
static void tools_are_found_among_many_holes(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 3; seed++) {
        double *d = diameters(3000, 150, -6e-5, SIGMA, seed); /* steps of 1.8 sigma */
        pp_arena arena = {0};
        pp_wear w = find(3000, d, &arena);
        assert_in_range(w.change_count, 18, 20);
        assert_near(w.slope, -6e-5, 0.1 * 6e-5);
        free(d);
        pp_arena_free(&arena);
    }
}

static void wear_without_a_change_is_no_change(void **state)
{
    (void)state;
    double *d = diameters(300, 300, 8e-5, SIGMA, 9);
    pp_arena arena = {0};
    pp_wear w = find(300, d, &arena);
    assert_int_equal(w.change_count, 0);
    assert_near(w.slope, 8e-5, 3.5 * w.standard_error);
    assert_true(w.p < 1e-20);
    free(d);
    pp_arena_free(&arena);
}

/* Beyond 5000 holes changes are sought at every m-th hole and then settled. */
static void many_holes_are_searched_in_steps_and_settled_to_the_hole(void **state)
{
    (void)state;
    enum { COUNT = 23456, LIFE = 1777 };
    double *d = diameters(COUNT, LIFE, -2e-5, SIGMA, 12);
    pp_arena arena = {0};
    pp_wear w = find(COUNT, d, &arena);
    assert_int_equal(w.change_count, (COUNT - 1) / LIFE);
    for (size_t k = 0; k < w.change_count; k++)
        assert_near(w.changes[k], (double)(LIFE * (k + 1)), 2);
    assert_near(w.slope, -2e-5, 3.5 * w.standard_error);
    free(d);
    pp_arena_free(&arena);
}

static void correlated_diameters_raise_no_changes(void **state)
{
    (void)state;
    int alarms = 0;
    for (uint64_t seed = 1; seed <= 60; seed++) {
        double *d = diameters(400, 400, 0, SIGMA, seed);
        for (int i = 1; i < 400; i++) d[i] = 25.6 + 0.6 * (d[i - 1] - 25.6) + 0.8 * (d[i] - 25.6);
        pp_arena arena = {0};
        pp_wear w = find(400, d, &arena);
        alarms += w.change_count > 0;
        free(d);
        pp_arena_free(&arena);
    }
    assert_true(alarms <= 4); /* 60 plates; without the allowance nearly every one alarms */
}

static void diameters_without_scatter_have_no_noise_to_find_things_in(void **state)
{
    (void)state;
    double *d = diameters(100, 100, 0, 0, 1);
    pp_arena arena = {0};
    pp_wear w = find(100, d, &arena);
    assert_int_equal(w.change_count, 0);
    assert_near(w.slope, 0, 1e-15);
    assert_true(w.p > 0.9);
    for (int i = 50; i < 100; i++) d[i] += 0.05; /* and one clean step is one step */
    w = find(100, d, &arena);
    assert_int_equal(w.change_count, 1);
    assert_int_equal(w.changes[0], 50);
    free(d);
    pp_arena_free(&arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_tool_that_does_not_wear_shows_nothing),
        cmocka_unit_test(tools_and_their_wear_are_found),
        cmocka_unit_test(tools_are_found_among_many_holes),
        cmocka_unit_test(wear_without_a_change_is_no_change),
        cmocka_unit_test(many_holes_are_searched_in_steps_and_settled_to_the_hole),
        cmocka_unit_test(correlated_diameters_raise_no_changes),
        cmocka_unit_test(diameters_without_scatter_have_no_noise_to_find_things_in),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* The search for the force that closes a gap, on gaps of one line or two: which forces it tries. */
#include "holddown/closing.h"

#include <math.h>

#include "support/check.h"

typedef struct bent {
    double open, slope, knee, beyond; /* mm, mm/N up to the knee and beyond it */
} bent;

static double over(const bent *g, double force, pp_contact_straight *line)
{
    line->slope = force < g->knee ? g->slope : g->beyond;
    double at = g->open + g->slope * fmin(force, g->knee) + g->beyond * fmax(force - g->knee, 0);
    line->at_zero = at - line->slope * force;
    return at;
}

/* Forces tried; the largest over the largest before it */
static int search(const bent *g, double from, double steady, double *found, double *jump)
{
    pp_closing c = {.high = INFINITY,
                    .cap = PP_CLOSING_BOUND,
                    .step = PP_CLOSING_STEP,
                    .steady = steady,
                    .force = from,
                    .risen = NAN};
    double most = from;
    *jump = 1;
    for (;;) {
        pp_contact_straight line;
        double at = over(g, c.force, &line);
        if (!pp_closing_open(&c, at) || !pp_closing_next(&c, at, &line)) break;
        *jump = fmax(*jump, c.force / most);
        most = fmax(most, c.force);
    }
    *found = c.force;
    return c.tried;
}

static void a_gap_that_a_harder_foot_lifts_is_given_up_after_two_forces(void **state)
{
    (void)state;
    const bent hogs = {2.7, 7e-8, 1e9, 0};
    double found, jump;
    assert_int_equal(search(&hogs, 5000, 3000, &found, &jump), 2);
    assert_true(isnan(found));
}

static void weight_that_may_still_let_go_is_waited_for(void **state)
{
    (void)state;
    const bent tips = {0.5, 2e-8, 60000, -2e-5}; /* beyond 60 kN it comes down */
    double found, jump;
    search(&tips, 2000, 100000, &found, &jump);
    assert_near(found, 60000 + (0.5 + 2e-8 * 60000) / 2e-5, 1e-3);
    search(&tips, 2000, 2000, &found, &jump);
    assert_true(isnan(found)); /* the same without waiting */
}

static void no_force_is_more_than_four_times_the_one_before(void **state)
{
    (void)state;
    const bent stiff = {5.9, -5e-6, 1e9, 0}; /* closed at 1,180 kN */
    double found, jump;
    int tried = search(&stiff, 5000, 3000, &found, &jump);
    assert_near(found, 5.9 / 5e-6, 1e-3);
    assert_near(jump, PP_CLOSING_STEP, 1e-12);
    assert_true(tried <= 7);
}

static void beyond_the_bound_there_is_none(void **state)
{
    (void)state;
    const bent slow = {2, -1e-7, 1e9, 0}; /* 20,000 kN */
    double found, jump;
    int tried = search(&slow, 5000, 3000, &found, &jump);
    assert_true(isnan(found));
    assert_true(tried <= 8);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_gap_that_a_harder_foot_lifts_is_given_up_after_two_forces),
        cmocka_unit_test(weight_that_may_still_let_go_is_waited_for),
        cmocka_unit_test(no_force_is_more_than_four_times_the_one_before),
        cmocka_unit_test(beyond_the_bound_there_is_none)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}

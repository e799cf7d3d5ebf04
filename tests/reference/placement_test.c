/* The smallest zone against the reference cases of data/reference/placement. */
#include "support/placement_case.h"

static void check_case(const char *name)
{
    placement_case c;
    placement_solve(name, &c);
    pp_smallest_zone zone = c.zone;
    const json_t *whole = c.whole;
    const json_t *expected = json_object_get(whole, "expected");
    const json_t *tolerance = json_object_get(whole, "tolerance");
    double minimax = json_number_at(expected, "minimax"),
           slack = json_number_at(tolerance, "minimax");
    assert_near(zone.radius, minimax, slack);
    assert_near(zone.lower_bound, json_number_at(expected, "lower_bound"), slack);
    assert_true(zone.lower_bound <= minimax + 1e-12); /* a proof never exceeds the truth */
    assert_near(zone.least_squares_worst, json_number_at(expected, "least_squares_worst"), 1e-9);
    const double degrees = 57.29577951308232;
    assert_near(zone.angle * degrees, json_number_at(expected, "angle_deg"),
                json_number_at(tolerance, "angle_deg"));
    assert_near(zone.dx, json_number_at(expected, "dx"), json_number_at(tolerance, "dx"));
    assert_near(zone.dy, json_number_at(expected, "dy"), json_number_at(tolerance, "dy"));
    const json_t *witnesses = json_object_get(expected, "witnesses");
    assert_int_equal(zone.witness_count, json_array_size(witnesses));
    for (int k = 0; k < zone.witness_count; k++)
        assert_int_equal(zone.witness[k] + 1,
                         json_integer_value(json_array_get(witnesses, (size_t)k)));
    placement_release(&c);
}

static void sixty_holes_have_the_zone_found_elsewhere(void **state)
{
    (void)state;
    check_case("minimax_60");
}

static void a_symmetric_square_has_the_zone_found_elsewhere(void **state)
{
    (void)state;
    check_case("minimax_square");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sixty_holes_have_the_zone_found_elsewhere),
        cmocka_unit_test(a_symmetric_square_has_the_zone_found_elsewhere),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* The smallest zone against the reference cases of data/reference/placement. */
#include <jansson.h>

#include "support/check.h"
#include "support/table.h"

#include "holes/smallest_zone.h"

static double real_of(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    assert_true(json_is_number(value));
    return json_number_value(value);
}

static void check_case(const char *name)
{
    char file[256];
    snprintf(file, sizeof file, "data/reference/placement/%s.csv", name);
    test_table t = table_read(file);
    double *v[5] = {table_column(&t, "x"), table_column(&t, "y"), table_column(&t, "nominal_x"),
                    table_column(&t, "nominal_y"), table_column(&t, "bonus")};
    for (size_t i = 0; i < t.rows; i++) v[4][i] /= 2;
    pp_zone_problem problem = {t.rows, v[0], v[1], v[2], v[3], v[4]};
    pp_arena scratch = {0};
    pp_error error = {0};
    pp_smallest_zone zone;
    assert_ok(pp_smallest_zone_solve(&problem, 2, &scratch, &zone, &error), &error);

    snprintf(file, sizeof file, "%s/data/reference/placement/%s.json", PP_SOURCE_DIR, name);
    json_t *whole = json_load_file(file, 0, NULL);
    assert_non_null(whole);
    const json_t *expected = json_object_get(whole, "expected");
    const json_t *tolerance = json_object_get(whole, "tolerance");
    double minimax = real_of(expected, "minimax"), slack = real_of(tolerance, "minimax");
    assert_near(zone.radius, minimax, slack);
    assert_near(zone.lower_bound, real_of(expected, "lower_bound"), slack);
    assert_true(zone.lower_bound <= minimax + 1e-12); /* a proof never exceeds the truth */
    assert_near(zone.least_squares_worst, real_of(expected, "least_squares_worst"), 1e-9);
    const double degrees = 57.29577951308232;
    assert_near(zone.angle * degrees, real_of(expected, "angle_deg"),
                real_of(tolerance, "angle_deg"));
    assert_near(zone.dx, real_of(expected, "dx"), real_of(tolerance, "dx"));
    assert_near(zone.dy, real_of(expected, "dy"), real_of(tolerance, "dy"));
    const json_t *witnesses = json_object_get(expected, "witnesses");
    assert_int_equal(zone.witness_count, json_array_size(witnesses));
    for (int k = 0; k < zone.witness_count; k++)
        assert_int_equal(zone.witness[k] + 1,
                         json_integer_value(json_array_get(witnesses, (size_t)k)));
    json_decref(whole);
    for (int k = 0; k < 5; k++) free(v[k]);
    table_free(&t);
    pp_arena_free(&scratch);
}

static void sixty_holes(void **state)
{
    (void)state;
    check_case("minimax_60");
}

static void symmetric_square(void **state)
{
    (void)state;
    check_case("minimax_square");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sixty_holes),
        cmocka_unit_test(symmetric_square),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

#include "base/constants.h"
#include "support/check.h"

#include "base/units.h"

static double convert(pp_quantity quantity, const char *unit, double value)
{
    double internal = NAN;
    if (!pp_unit_convert(quantity, unit, strlen(unit), value, &internal)) fail_msg("%s", unit);
    return internal;
}

/* Exact definitions: inch 25.4 mm, pound 0.45359237 kg, standard gravity 9.80665 m/s2 (NIST SP
 * 811).
 */
static void units_convert_by_their_definitions(void **state)
{
    (void)state;
    assert_near(convert(PP_LENGTH, "in", 2.385), 2.385 * 25.4, 0);
    assert_near(convert(PP_LENGTH, "Inch", 1), 25.4, 0);
    assert_near(convert(PP_LENGTH, "um", 2385), 2.385, 0);
    assert_near(convert(PP_LENGTH, "\xC2\xB5m", 7), 0.007, 0);
    assert_near(convert(PP_LENGTH, "cm", 2.385), 23.85, 4e-15);
    assert_near(convert(PP_LENGTH, "m", 2.385), 2385, 0);
    assert_near(convert(PP_LENGTH, "", 2.385), 2.385, 0);
    assert_near(convert(PP_FORCE, "kN", 2.385), 2385, 0);
    assert_near(convert(PP_FORCE, "lbf", 1), 0.45359237 * 9.80665, 1e-15);
    assert_near(convert(PP_STRESS, "GPa", 206), 206000, 0);
    /* 1 psi = 6894.757 Pa, 1 ksi = 6.894757 MPa (NIST SP 811, appendix B.8) */
    assert_near(convert(PP_STRESS, "psi", 1), 6.894757e-3, 5e-10);
    assert_near(convert(PP_STRESS, "ksi", 30), 206.84271, 1.5e-5);
    /* 1 lb/in3 = 27679.90 kg/m3 (the same) */
    assert_near(convert(PP_DENSITY, "lb/in3", 1), 27679.90, 5e-3);
    assert_near(convert(PP_TEMPERATURE, "F", 68), 20, 0);
    assert_near(convert(PP_TEMPERATURE, "C", 23), 23, 0);
    assert_near(convert(PP_ANGLE, "rad", PP_PI / 6), 30, 4e-15);
    assert_near(convert(PP_SHARE, "%", 4), 0.04, 0);
    assert_near(convert(PP_EXPANSION, "1/F", 6.5e-6), 11.7e-6, 1e-20);
}

static void differences_of_temperature_have_no_offset(void **state)
{
    (void)state;
    double value;
    assert_true(pp_unit_convert_difference(PP_TEMPERATURE, "F", 1, 1.8, &value));
    assert_near(value, 1, 1e-15);
    assert_true(pp_unit_convert_difference(PP_TEMPERATURE, "C", 1, 1.8, &value));
    assert_near(value, 1.8, 0);
    assert_true(pp_unit_convert_difference(PP_LENGTH, "in", 2, 1, &value));
    assert_near(value, 25.4, 0);
}

static void a_unit_of_another_quantity_is_refused(void **state)
{
    (void)state;
    double value = 2.385;
    assert_false(pp_unit_convert(PP_LENGTH, "kN", 2, 1, &value));
    assert_false(pp_unit_convert(PP_FORCE, "mm", 2, 1, &value));
    assert_false(pp_unit_convert(PP_LENGTH, "ft", 2, 1, &value));
    assert_false(pp_unit_convert(PP_NUMBER, "mm", 2, 1, &value));
    assert_near(value, 2.385, 0);
}

static void length_units_are_found_by_name(void **state)
{
    (void)state;
    pp_length_unit unit;
    assert_true(pp_unit_find_length("MM", 2, &unit));
    assert_int_equal(unit, PP_MM);
    assert_true(pp_unit_find_length("in.", 3, &unit));
    assert_int_equal(unit, PP_INCH);
    assert_false(pp_unit_find_length("", 0, &unit));
    assert_false(pp_unit_find_length(".", 1, &unit));
    for (int i = PP_MM; i <= PP_UM; i++) {
        const char *name = pp_unit_name((pp_length_unit)i);
        assert_true(pp_unit_find_length(name, strlen(name), &unit));
        assert_int_equal(unit, i);
        assert_near(pp_unit_to_mm(unit, 1), pp_unit_mm(unit), 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(units_convert_by_their_definitions),
        cmocka_unit_test(differences_of_temperature_have_no_offset),
        cmocka_unit_test(a_unit_of_another_quantity_is_refused),
        cmocka_unit_test(length_units_are_found_by_name),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

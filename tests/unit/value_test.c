#include "input/job/value.h"

#include "support/check.h"

static const pp_range any = {-INFINITY, INFINITY, false, false};

static double read_as(pp_quantity quantity, const char *text)
{
    pp_value_place place = {NULL, 0, "--value"};
    pp_value_kind kind = {.quantity = quantity, .bare = PP_INCH, .range = any};
    pp_error error = {0};
    double value = NAN;
    pp_status status = pp_value_read(&place, text, strlen(text), &kind, &value, NULL, &error);
    assert_int_equal(status, isnan(value) ? PP_EINPUT : PP_OK);
    return value;
}

static void lengths_are_read_as_people_write_them(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double mm;
    } good[] = {
        {"38 mm", 38},       {"38mm", 38},       {" 3.8 cm ", 38},   {"38000 um", 38},
        {"1.5", 38.1},       {"1.5in", 38.1},    {"1-1/2", 38.1},    {"1 1/2 in", 38.1},
        {"3/2\t in.", 38.1}, {"-1/2 in", -12.7}, {"-1-1/4", -31.75}, {"+.5 in", 12.7},
        {"5. mm", 5},        {"1e2 mm", 100},    {"1.5E-1 m", 150},  {"0", 0},
    };
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        assert_near(read_as(PP_LENGTH, good[i].text), good[i].mm, 1e-12);
    static const char *const bad[] = {"",       "mm",        "1/0",   "1/2/3",   "1-2",   "1 2",
                                      "1--1/2", "1,5",       "1.5,2", "1e mm x", "0x1p3", "inf",
                                      "1/2.5",  "1234567/2", ".",     "-",       "1 kN",  "1/2 C"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        if (!isnan(read_as(PP_LENGTH, bad[i]))) fail_msg("\"%s\" was read", bad[i]);
}

static void other_quantities_have_their_units(void **state)
{
    (void)state;
    assert_near(read_as(PP_FORCE, "6 kN"), 6000, 0);
    assert_near(read_as(PP_STRESS, "206 GPa"), 206000, 1e-9);
    assert_near(read_as(PP_SHARE, "4 %"), 0.04, 1e-17);
    assert_near(read_as(PP_TEMPERATURE, "-4 F"), -20, 1e-13);
    assert_near(read_as(PP_EXPANSION, "11.5e-6 1/K"), 11.5e-6, 1e-20);
    assert_true(isnan(read_as(PP_FORCE, "1/2 kN"))); /* fractions are for lengths */
    assert_true(isnan(read_as(PP_NUMBER, "1 mm")));
}

static void ranges_are_told_in_words(void **state)
{
    (void)state;
    char text[64];
    static const struct {
        pp_range range;
        pp_quantity quantity;
        const char *words;
    } cases[] = {
        {{0, INFINITY, true, false}, PP_LENGTH, "above 0 mm"},
        {{0, INFINITY, false, false}, PP_FORCE, "0 N or more"},
        {{-INFINITY, 3, false, true}, PP_LENGTH, "below 3 mm"},
        {{-INFINITY, 3, false, false}, PP_LENGTH, "3 mm or less"},
        {{0, 1, false, false}, PP_SHARE, "from 0 to 100 %"},
        {{0.5, 1, false, true}, PP_SHARE, "from 50 to below 100 %"},
        {{0, 0.5, true, true}, PP_NUMBER, "above 0 and below 0.5"},
        {{0, 2, true, false}, PP_ANGLE, "above 0 up to 2 deg"},
        {{-INFINITY, INFINITY, false, false}, PP_LENGTH, "any number"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        pp_range_words(cases[i].range, cases[i].quantity, text, sizeof text);
        assert_string_equal(text, cases[i].words);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lengths_are_read_as_people_write_them),
        cmocka_unit_test(other_quantities_have_their_units),
        cmocka_unit_test(ranges_are_told_in_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

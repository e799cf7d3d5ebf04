/* Reading and writing numbers: against the C library, which is correctly rounded in glibc. */
#include "support/check.h"
#include "support/random.h"

#include <float.h>
#include <locale.h>
#include <stdlib.h>

#include "base/number.h"

static uint64_t bits_of(double value)
{
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    return bits;
}

static void check_reads_as_strtod(const char *text)
{
    double got = -7.77, want = strtod(text, NULL);
    bool number = pp_number_read(text, strlen(text), '.', &got);
    if (number != (bool)isfinite(want) || (number && bits_of(got) != bits_of(want))) {
        print_error("'%s': got %.17g, want %.17g\n", text, number ? got : NAN, want);
        fail();
    }
}

static void random_doubles_survive_a_round_trip(void **state)
{
    (void)state;
    test_random seed = {0x5EED2385u};
    for (int i = 0; i < 300000; i++) {
        uint64_t bits = random_bits(&seed);
        double value;
        memcpy(&value, &bits, sizeof value);
        if (!isfinite(value)) continue;
        char text[64];
        snprintf(text, sizeof text, "%.*g", 15 + i % 3, value);
        check_reads_as_strtod(text);
    }
}

/* What surveys are made of: up to 19 digits, up to 27 decimals. */
static void plain_decimals_read_as_the_c_library_reads_them(void **state)
{
    (void)state;
    test_random seed = {0x90210u};
    for (int i = 0; i < 700000; i++) {
        char text[80];
        uint64_t digits = random_bits(&seed) >> (random_bits(&seed) % 64);
        int decimals = (int)(random_bits(&seed) % 28);
        int length = snprintf(text, sizeof text, "%s%0*llu", i & 1 ? "-" : "", decimals + 1,
                              (unsigned long long)digits);
        memmove(text + length - decimals + 1, text + length - decimals, (size_t)decimals + 1);
        text[length - decimals] = '.';
        check_reads_as_strtod(text);
        snprintf(text, sizeof text, "%llue%d", (unsigned long long)digits, decimals);
        if (i % 4 == 0) check_reads_as_strtod(text);
    }
}

/* Exactly halfway between two doubles, and a hair to either side: ties go to even. */
static void halfway_cases_round_to_even(void **state)
{
    (void)state;
    test_random seed = {0xA17u};
    for (int i = 0; i < 3000; i++) {
        uint64_t bits = random_bits(&seed) & 0x7FFFFFFFFFFFFFFFu;
        double low;
        memcpy(&low, &bits, sizeof low);
        if (!isfinite(low) || fabs(low) > 1e300 || fabs(low) < 1e-290) continue;
        /* the midpoint has one bit more than a double: a long double holds it */
        long double middle = (long double)low + ((long double)nextafter(low, DBL_MAX) - low) / 2;
        char text[1200];
        snprintf(text, sizeof text, "%.*Le", 780, middle);
        check_reads_as_strtod(text);
        char *exponent = strchr(text, 'e'), tail[16];
        snprintf(tail, sizeof tail, "%s", exponent);
        strcpy(exponent, "000000000000000000000000000000000001");
        strcat(exponent, tail); /* beyond digit 801: only "and a bit more" */
        check_reads_as_strtod(text);
    }
    check_reads_as_strtod("9007199254740993"); /* 2^53 + 1: halfway, even is below */
    check_reads_as_strtod("9007199254740995"); /* 2^53 + 3: even is above */
    check_reads_as_strtod("9007199254740993.00000000000000000000000000000000001");
    check_reads_as_strtod("18014398509481985e0");
}

static void ends_of_the_range_read_right(void **state)
{
    (void)state;
    static const char *const TEXTS[] = {
        "0",
        "-0",
        "0e999999999999",
        "5e-324",
        "2.4703282292062327e-324",
        "2.4703282292062328e-324",
        "2.47032822920623272088284396434110686182e-324", /* half the smallest: to even, 0 */
        "2.2250738585072011e-308",
        "2.2250738585072012e-308",
        "2.2250738585072014e-308",
        "1.7976931348623157e308",
        "1.7976931348623158e308",
        "1.797693134862315807e308",
        "1.7976931348623159e308",
        "1e309",
        "1e-400",
        "123456789012345678901234567890e-320",
        "0.1e-99999999999",
        "1e99999999999",
        "8.5e-31",
        "3.5527136788005009e-15",
        "1e23",
        "1e22",
        "4.35",
        "1234.5678",
        "0.000000000000000000000000000000000000000000000001234567890123456789",
        "6.631236846766476e-316",
        "3.2378839133029012895883524125015321748630094e-319"};
    for (size_t i = 0; i < sizeof TEXTS / sizeof TEXTS[0]; i++) check_reads_as_strtod(TEXTS[i]);

    static char zeros[70000]; /* 0.000...01e60000 is 1 */
    memset(zeros, '0', 60001);
    zeros[1] = '.';
    strcpy(zeros + 60001, "1e60000");
    double value;
    assert_true(pp_number_read(zeros, strlen(zeros), '.', &value));
    assert_near(value, 1, 0);
}

static void what_is_no_number_is_refused(void **state)
{
    (void)state;
    static const char *const TEXTS[] = {"",
                                        " ",
                                        ".",
                                        "+",
                                        "-",
                                        "e5",
                                        "1e",
                                        "1e+",
                                        "1.2.3",
                                        "1,2",
                                        "1 2",
                                        "0x1p3",
                                        "inf",
                                        "-inf",
                                        "nan",
                                        "NaN",
                                        "1_000",
                                        "1'000",
                                        "--1",
                                        "+-1",
                                        "1e5.5",
                                        "1-",
                                        "12a",
                                        "1e 5",
                                        "1e5x",
                                        ("\xE2\x88\x92" /* the minus sign of typesetters */
                                         "5"),
                                        "1.797693134862316e308"};
    for (size_t i = 0; i < sizeof TEXTS / sizeof TEXTS[0]; i++) {
        double value = 2.385;
        if (pp_number_read(TEXTS[i], strlen(TEXTS[i]), '.', &value)) fail_msg("'%s'", TEXTS[i]);
        assert_near(value, 2.385, 0); /* untouched */
    }
    double value;
    assert_false(pp_number_read("1.5", 3, ',', &value));
    assert_false(pp_number_read("1.234,5", 7, ',', &value));
    assert_false(pp_number_read("1\0", 2, '.', &value));
}

static void the_usual_spellings_are_numbers(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        char mark;
        double value;
    } CASES[] = {{"+2.385", '.', 2.385}, {" 2.385\t", '.', 2.385}, {".385", '.', 0.385},
                 {"7.", '.', 7},         {"2,385", ',', 2.385},    {"-2,385e+1", ',', -23.85},
                 {"1E3", '.', 1000},     {"007", '.', 7},          {"1e-0", '.', 1}};
    for (size_t i = 0; i < sizeof CASES / sizeof CASES[0]; i++) {
        double value = NAN;
        if (!pp_number_read(CASES[i].text, strlen(CASES[i].text), CASES[i].mark, &value))
            fail_msg("'%s'", CASES[i].text);
        assert_near(value, CASES[i].value, 0);
    }
}

static void check_writes_as_printf(double value)
{
    char got[PP_NUMBER_TEXT_MAX], want[400];
    size_t length = pp_number_write(got, value);
    snprintf(want, sizeof want, "%.15g", value);
    if (strcmp(got, want) != 0 || length != strlen(want)) {
        print_error("got %s, want %s\n", got, want);
        fail();
    }
}

static void fifteen_digits_are_those_of_the_c_library(void **state)
{
    (void)state;
    test_random seed = {0xF00Du};
    for (int i = 0; i < 300000; i++) {
        uint64_t bits = random_bits(&seed);
        double value;
        memcpy(&value, &bits, sizeof value);
        if (isfinite(value)) check_writes_as_printf(value);
        int decimals = (int)(bits % 20);
        value = (double)((int64_t)random_bits(&seed) >> (bits >> 58)) / pow(10, decimals);
        if (value != 0) check_writes_as_printf(value);
    }
    static const double VALUES[] = {1,
                                    -1,
                                    25.4,
                                    0.1,
                                    1e-4,
                                    9.9999e-5,
                                    1e15,
                                    1e14,
                                    999999999999999.4,
                                    999999999999999.5,
                                    999999999999999.6,
                                    1e16,
                                    1e22,
                                    123456789012345680.,
                                    0.5,
                                    2.5,
                                    1e-13,
                                    1e-14,
                                    5e-324,
                                    DBL_MAX,
                                    DBL_MIN,
                                    9.99999999999999956,
                                    100000000000000.5,
                                    100000000000001.5,
                                    0.00012345678901234565};
    for (size_t i = 0; i < sizeof VALUES / sizeof VALUES[0]; i++) check_writes_as_printf(VALUES[i]);
}

static void oddities_write_as_documented(void **state)
{
    (void)state;
    char text[PP_NUMBER_TEXT_MAX];
    assert_int_equal(pp_number_write(text, -0.0), 1);
    assert_string_equal(text, "0");
    assert_int_equal(pp_number_write(text, NAN), 0);
    assert_string_equal(text, "");
    assert_int_equal(pp_number_write(text, -INFINITY), 0);
    assert_int_equal(pp_number_write_fixed(text, NAN, 3), 0);
    pp_number_write_fixed(text, -0.00049, 3);
    assert_string_equal(text, "0.000");
    pp_number_write_fixed(text, 1e300, 3);
    assert_string_equal(text, "1e+300");
    pp_number_write_fixed(text, 0, 0);
    assert_string_equal(text, "0");
}

static void fixed_decimals_are_those_of_the_c_library(void **state)
{
    (void)state;
    test_random seed = {0xBEEFu};
    for (int i = 0; i < 300000; i++) {
        uint64_t bits = random_bits(&seed);
        int decimals = (int)(bits % 18);
        double value = ldexp((double)(int64_t)random_bits(&seed), -(int)(bits >> 32) % 130);
        char got[PP_NUMBER_TEXT_MAX], want[400];
        snprintf(want, sizeof want, "%.*f", decimals, value);
        if (strlen(want) > 18) continue; /* may be written with an exponent */
        if (want[0] == '-' && strspn(want, "-0.") == strlen(want)) memmove(want, want + 1, 30);
        size_t length = pp_number_write_fixed(got, value, decimals);
        if (strcmp(got, want) != 0 || length != strlen(want))
            fail_msg("%.17g: got %s, want %s", value, got, want);
    }
    char text[PP_NUMBER_TEXT_MAX];
    pp_number_write_fixed(text, 0.125, 2); /* a tie, exact in binary: to even */
    assert_string_equal(text, "0.12");
    pp_number_write_fixed(text, 0.375, 2);
    assert_string_equal(text, "0.38");
}

/* A host program may have called setlocale: nothing here may notice. */
static void the_locale_does_not_matter(void **state)
{
    (void)state;
    static const char *const COMMA[] = {"de_DE.UTF-8", "de_DE", "fr_FR.UTF-8", "nl_NL.UTF-8"};
    const char *found = NULL;
    for (int i = 0; i < 4 && !found; i++) found = setlocale(LC_NUMERIC, COMMA[i]);
    if (!found) print_message("no locale with a decimal comma is installed: tried without\n");
    char text[PP_NUMBER_TEXT_MAX];
    double value;
    assert_true(pp_number_read("2.385e-40", 9, '.', &value));
    pp_number_write(text, value);
    assert_string_equal(text, "2.385e-40");
    pp_number_write(text, -1234.5678);
    assert_string_equal(text, "-1234.5678");
    setlocale(LC_NUMERIC, "C");
    assert_near(value, 2.385e-40, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(random_doubles_survive_a_round_trip),
        cmocka_unit_test(plain_decimals_read_as_the_c_library_reads_them),
        cmocka_unit_test(halfway_cases_round_to_even),
        cmocka_unit_test(ends_of_the_range_read_right),
        cmocka_unit_test(what_is_no_number_is_refused),
        cmocka_unit_test(the_usual_spellings_are_numbers),
        cmocka_unit_test(fifteen_digits_are_those_of_the_c_library),
        cmocka_unit_test(oddities_write_as_documented),
        cmocka_unit_test(fixed_decimals_are_those_of_the_c_library),
        cmocka_unit_test(the_locale_does_not_matter),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

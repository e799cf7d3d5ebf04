#include "support/check.h"

#include <stdlib.h>

#include "answer/for_people.h"
#include "answer/inputs.h"
#include "support/random.h"

static char shown[128];

#define SHOWN(call)                                                                                \
    do {                                                                                           \
        pp_text text = {0};                                                                        \
        call;                                                                                      \
        snprintf(shown, sizeof shown, "%s", text.data ? text.data : "");                           \
        pp_text_free(&text);                                                                       \
    } while (0)

#define assert_shown(call, want)                                                                   \
    do {                                                                                           \
        SHOWN(call);                                                                               \
        assert_string_equal(shown, want);                                                          \
    } while (0)

static void lengths_have_the_digits_of_the_trade(void **state)
{
    (void)state;
    assert_shown(pp_people_length(&text, PP_MM, 25.70484), "25.705 mm");
    assert_shown(pp_people_length(&text, PP_INCH, 25.7048), "1.0120 in");
    assert_shown(pp_people_length(&text, PP_MM, -0.00004), "0.000 mm");
    assert_shown(pp_people_length(&text, PP_MM, NAN), "\u2013");
    assert_shown(pp_people_place(&text, PP_MM, -812.349), "-812.3 mm");
    assert_shown(pp_people_place(&text, PP_INCH, 812.8), "32.00 in");
    assert_shown(pp_people_size(&text, PP_MM, 38), "38 mm");
    assert_shown(pp_people_size(&text, PP_INCH, 38.1), "1.5 in");
    assert_shown(pp_people_size(&text, PP_MM, 31.75), "31.75 mm");
}

static void a_value_never_reads_equal_to_a_limit_it_misses(void **state)
{
    (void)state;
    assert_shown(pp_people_against(&text, PP_MM, 0.25004, 0.25), "0.25004 mm");
    assert_shown(pp_people_against(&text, PP_MM, 0.2500004, 0.25), "0.250 mm"); /* within 1e-6 */
    assert_shown(pp_people_against(&text, PP_MM, 0.2512, 0.25), "0.251 mm");
    assert_shown(pp_people_against(&text, PP_MM, 0.2512, NAN), "0.251 mm");
    /* 0.010 in = 0.254 mm; 0.25405 mm = 0.0100020 in */
    assert_shown(pp_people_against(&text, PP_INCH, 0.25405, 0.254), "0.010002 in");
    /* 5.405 would read as below the limit 5.4052 it keeps */
    assert_shown(pp_people_against(&text, PP_MM, 5.4053, 5.4052), "5.4053 mm");
    assert_shown(pp_people_limit(&text, PP_MM, 5.4052), "5.4052 mm");
    assert_shown(pp_people_limit(&text, PP_MM, 5.149199999999999), "5.1492 mm");
    assert_shown(pp_people_limit(&text, PP_MM, 0.3), "0.300 mm");
    assert_shown(pp_people_limit(&text, PP_MM, 3.184372), "3.1844 mm");
    /* between a limit and its rounding, both get digits */
    assert_shown(pp_people_against(&text, PP_MM, 3.184386, 3.184372), "3.18439 mm");
    assert_shown(pp_people_limit_beside(&text, PP_MM, 3.184372, 3.184386), "3.18437 mm");
    assert_shown(pp_people_limit_beside(&text, PP_MM, 0.3, 0.35), "0.300 mm");
}

/* Any value and limit more than 1e-6 mm apart print in their true order. */
static void printed_order_is_the_true_order(void **state)
{
    (void)state;
    test_random random = {88172645463325252u};
    for (int i = 0; i < 20000; i++) {
        double limit = random_between(&random, 0, 12);
        double apart = random_between(&random, 1.1e-6, 3.011e-4);
        double value = limit + (i % 2 ? apart : -apart);
        pp_length_unit units = i % 3 ? PP_MM : PP_INCH;
        double read[2];
        SHOWN(pp_people_against(&text, units, value, limit));
        read[0] = strtod(shown, NULL);
        SHOWN(pp_people_limit_beside(&text, units, limit, value));
        read[1] = strtod(shown, NULL);
        assert_true(value > limit ? read[0] > read[1] : read[0] < read[1]);
    }
}

static void other_quantities_follow_the_units(void **state)
{
    (void)state;
    assert_shown(pp_people_force(&text, PP_MM, 6000), "6.00 kN");
    assert_shown(pp_people_force(&text, PP_MM, 141234), "141 kN");
    assert_shown(pp_people_force(&text, PP_MM, 663.4), "663 N");
    assert_shown(pp_people_force(&text, PP_INCH, 6000), "1349 lbf"); /* 6000 / 4.4482216 */
    assert_shown(pp_people_mass(&text, PP_MM, 48369.3), "4932 kg");  /* / 9.80665 */
    assert_shown(pp_people_mass(&text, PP_INCH, 48369.3), "10874 lb");
    assert_shown(pp_people_stress(&text, PP_MM, 110.2), "110 MPa");
    assert_shown(pp_people_stress(&text, PP_INCH, 110.2), "16.0 ksi");
    assert_shown(pp_people_temperature(&text, PP_MM, 24), "24 \u00b0C");
    assert_shown(pp_people_temperature(&text, PP_INCH, 24), "75.2 \u00b0F");
    assert_shown(pp_people_area(&text, PP_MM, 452300), "0.452 m\u00b2");
    assert_shown(pp_people_area(&text, PP_MM, 1234), "12.3 cm\u00b2");
    assert_shown(pp_people_area(&text, PP_INCH, 12345), "19.1 in\u00b2");
    assert_shown(pp_people_slope(&text, PP_MM, 0.35), "0.350 mm/m");
    assert_shown(pp_people_slope(&text, PP_INCH, 0.35), "0.0042 in/ft");
    assert_shown(pp_people_share(&text, 0.04), "4 %");
    assert_shown(pp_people_share(&text, 0.037356), "3.74 %");
    assert_shown(pp_people_count(&text, 1285), "1285");
    assert_shown(pp_people_count(&text, 1000000), "1\u202f000\u202f000");
}

static void hashes_are_the_published_ones(void **state)
{
    (void)state;
    char hash[65];
    /* FIPS 180-4 example "abc" (NIST, SHA256.pdf) */
    pp_hash_bytes("abc", 3, hash);
    assert_string_equal(hash, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    pp_error error = {0};
    pp_input_list list = {0};
    const char *path = PP_SOURCE_DIR "/tests/support/check.h";
    pp_inputs_add_path(&list, "job", path, NULL);
    pp_inputs_add_path(&list, "rules", PP_SOURCE_DIR "/no such file", "no such file");
    assert_int_equal(pp_inputs_hash(&list, 2, &error), PP_EIO);
    assert_non_null(strstr(error.file, "no such file"));
    list.count = 1;
    assert_ok(pp_inputs_hash(&list, 2, &error), &error);
    char bytes[8192];
    FILE *file = fopen(path, "rb");
    size_t length = fread(bytes, 1, sizeof bytes, file);
    fclose(file);
    pp_hash_bytes(bytes, length, hash);
    assert_string_equal(list.items[0].sha256, hash);
    assert_int_equal(pp_hash_file("/", hash, &error), PP_EIO);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lengths_have_the_digits_of_the_trade),
        cmocka_unit_test(a_value_never_reads_equal_to_a_limit_it_misses),
        cmocka_unit_test(printed_order_is_the_true_order),
        cmocka_unit_test(other_quantities_follow_the_units),
        cmocka_unit_test(hashes_are_the_published_ones),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

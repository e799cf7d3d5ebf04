#include "base/nearest.h"

#include "support/check.h"

static void distances_count_slips(void **state)
{
    (void)state;
    static const struct {
        const char *a, *b;
        size_t distance;
    } cases[] = {
        {"", "", 0},
        {"", "pitch", 5},
        {"pitch", "pitch", 0},
        {"pich", "pitch", 1},            /* left out */
        {"pittch", "pitch", 1},          /* put in */
        {"pitsh", "pitch", 1},           /* changed */
        {"ptich", "pitch", 1},           /* swapped */
        {"PITCH", "pitch", 0},           /* case means nothing */
        {"hole-under", "hole_under", 0}, /* nor which dash */
        {"kitten", "sitting", 3},        /* Levenshtein's usual example */
        {"ca", "abc", 3},                /* aligned: 3; the unrestricted distance is 2 */
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_int_equal(pp_nearest_distance(cases[i].a, cases[i].b), cases[i].distance);
        assert_int_equal(pp_nearest_distance(cases[i].b, cases[i].a), cases[i].distance);
    }
    char longer[200];
    memset(longer, 'x', sizeof longer - 1);
    longer[sizeof longer - 1] = '\0';
    assert_int_equal(pp_nearest_distance(longer, ""), 63); /* as far as texts are compared */
}

static void the_first_of_the_nearest_is_found(void **state)
{
    (void)state;
    static const char *const words[] = {"width", "height", "thickness", "thicknesses"};
    assert_int_equal(pp_nearest_find("thicknes", 4, words), 2);
    assert_int_equal(pp_nearest_find("heigth", 4, words), 1);
    assert_int_equal(pp_nearest_find("zzzzz", 4, words), 0);
    assert_int_equal(pp_nearest_find("width", 0, words), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(distances_count_slips),
        cmocka_unit_test(the_first_of_the_nearest_is_found),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

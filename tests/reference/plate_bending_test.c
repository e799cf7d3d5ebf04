/* The plate elements against published and closed-form deflections of thin plates: square and disc,
 * supported on edges, corners, columns, rim points, rings, under pressure and point load.
 * Values, sources and tolerances: data/reference/plate_bending. */
#include "support/bending.h"

static void coefficients_are_the_published_ones(void **state)
{
    (void)state;
    FILE *file = fopen(PP_SOURCE_DIR "/data/reference/plate_bending/coefficients.csv", "r");
    assert_non_null(file);
    char line[200], name[80];
    int rows = 0, wrong = 0;
    while (fgets(line, sizeof line, file)) {
        double nu, value, tolerance;
        size_t cells;
        if (line[0] == '#') continue;
        assert_int_equal(
            sscanf(line, "%79[^,],%zu,%lf,%lf,%lf", name, &cells, &nu, &value, &tolerance), 5);
        double got = bending_coefficient(name, cells, nu), off = got / value - 1;
        if (getenv("PP_SHOW")) print_message("%-40s n=%-3zu %.8g %.2g\n", name, cells, got, off);
        if (!(fabs(off) <= tolerance)) {
            print_error("%s at %zu cells: got %.8g, want %.8g, off by %.2g, tolerance %.2g\n", name,
                        cells, got, value, off, tolerance);
            wrong++;
        }
        rows++;
    }
    fclose(file);
    assert_int_equal(wrong, 0);
    assert_int_equal(rows, 35);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(coefficients_are_the_published_ones)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* The program's own reading, sums and scatter of repeat readings (pp_csv_read, pp_sum,
 * pp_repeats_scatter), against the NIST Statistical Reference Datasets (StRD), univariate: mean
 * and standard deviation are certified to 15 digits. What a double can give is limited by how it
 * rounds the data: 10000000.2 is off by 5e-10 of the standard deviation 0.1 (NumAcc4), so its
 * standard deviation is known to about eight digits only. */
#include "base/sum.h"
#include "holes/repeats.h"
#include "support/strd.h"

static void check_set(const char *name, size_t count, double mean, double deviation)
{
    pp_memory memory = {0};
    const double *v = strd_read(name, count, &memory);
    const char **holes = pp_arena_take(&memory.keep, count, sizeof *holes);
    assert_non_null(holes);
    pp_sum sum = {0};
    for (size_t i = 0; i < count; i++) {
        pp_sum_add(&sum, v[i]);
        holes[i] = "A1"; /* one hole, read over and over: both coordinates scatter like the set */
    }
    pp_readings readings = {.count = count, .name = holes, .x = v, .y = v};
    double scatter;
    pp_error error = {0};
    assert_ok(pp_repeats_scatter(&readings, &memory.scratch, &scatter, &error), &error);
    double rounding = 1e-15 * fabs(mean); /* of one datum */
    assert_near(pp_sum_value(sum) / (double)count, mean, 2 * rounding);
    assert_near(scatter, deviation, 1e-13 * deviation + 2 * rounding);
    pp_memory_free(&memory);
}

static void certified_means_and_deviations_are_met(void **state)
{
    (void)state;
    FILE *list = fopen(PP_SOURCE_DIR "/data/reference/strd/certified.txt", "r");
    assert_non_null(list);
    char line[256], name[32];
    int sets = 0;
    while (fgets(line, sizeof line, list)) {
        size_t count;
        double mean, deviation;
        if (line[0] == '#') continue;
        assert_int_equal(sscanf(line, "%31s %zu %lf %lf", name, &count, &mean, &deviation), 4);
        check_set(name, count, mean, deviation);
        sets++;
    }
    fclose(list);
    assert_int_equal(sets, 9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(certified_means_and_deviations_are_met)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* Reading and adding up, against the NIST Statistical Reference Datasets (StRD), univariate: mean
 * and standard deviation are certified to 15 digits. What a double can give is limited by how it
 * rounds the data: 10000000.2 is off by 5e-10 of the standard deviation 0.1 (NumAcc4), so its
 * standard deviation is known to about eight digits only. */
#include "support/strd.h"

static void check_set(const char *name, size_t count, double mean, double deviation)
{
    pp_memory memory = {0};
    const double *v = strd_read(name, count, &memory);
    long double sum = 0, squares = 0;
    for (size_t i = 0; i < count; i++) sum += v[i];
    long double m = sum / count;
    for (size_t i = 0; i < count; i++) squares += (v[i] - m) * (v[i] - m);
    double rounding = 1e-15 * fabs(mean); /* of one datum */
    assert_near((double)m, mean, 2 * rounding);
    assert_near((double)sqrtl(squares / (count - 1)), deviation, 1e-14 * deviation + 2 * rounding);
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

/* Quantiles of noise against published tables. */
#include "flatness/neighbour_means.h"
#include "flatness/noise_range.h"
#include "support/check.h"
#include "support/random.h"

/* Upper 5 % points of the range of n normals, three decimals: H. L. Harter, Ann. Math. Statist. 31
 * (1960) 1122, the studentized range with infinite degrees of freedom. */
static void the_range_is_the_published_one(void **state)
{
    (void)state;
    const double table[][2] = {{2, 2.772}, {3, 3.314}, {5, 3.858}, {10, 4.474}, {20, 5.012}};
    for (size_t i = 0; i < sizeof table / sizeof *table; i++)
        assert_near(pp_normal_range_quantile(table[i][0], 0.95), table[i][1], 6e-4);
    assert_near(pp_normal_range_quantile(2, 0.5), sqrt(2) * 0.6744897501960817, 1e-6);
}

/* Abramowitz and Stegun, tables 26.5 and 26.8. */
static void normal_and_chi_squared(void **state)
{
    (void)state;
    assert_near(pp_normal_quantile(0.975), 1.959963984540054, 1e-9);
    assert_near(pp_normal_quantile(0.5), 0, 1e-9);
    assert_near(pp_normal_quantile(1 - 1e-9), 5.9978070150076869, 1e-6);
    assert_near(pp_chi_squared_upper_one_percent(30), 50.8922, 0.003 * 50.8922);
    assert_near(pp_chi_squared_upper_one_percent(100), 135.807, 0.003 * 135.807);
}

/* The nearest points by trying all of them. */
static void means_over_neighbours(void **state)
{
    (void)state;
    enum { COUNT = 700 };
    static double x[COUNT], y[COUNT], r[COUNT];
    test_random random = {3};
    for (int k = 0; k < COUNT; k++) {
        x[k] = random_between(&random, -50, 50) * (k % 3 ? 1 : 0.1); /* crowded in the middle */
        y[k] = random_between(&random, 0, 20);
        r[k] = random_normal(&random);
    }
    double want = 0, got;
    for (int k = 0; k < COUNT; k++) {
        unsigned char used[COUNT] = {0};
        double sum = 0;
        for (int i = 1; i <= 8; i++) {
            int best = -1;
            double least = INFINITY;
            for (int m = 0; m < COUNT; m++) {
                double d = hypot(x[m] - x[k], y[m] - y[k]);
                if (!used[m] && d < least) best = m, least = d;
            }
            used[best] = 1;
            sum += r[best];
            if (i == 1 || i == 4 || i == 8) want = fmax(want, fabs(sum) / sqrt(i));
        }
    }
    pp_memory memory = {0};
    pp_error error = {0};
    assert_ok(pp_neighbour_means_largest(COUNT, x, y, r, 2000, &memory, &got, &error), &error);
    assert_near(got, want, 1e-12);
    pp_memory_free(&memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_range_is_the_published_one),
        cmocka_unit_test(normal_and_chi_squared),
        cmocka_unit_test(means_over_neighbours),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

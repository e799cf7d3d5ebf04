/* Expected values: SciPy 1.10.1 (stats.t.sf, stats.f.sf, special.betainc, special.betaln,
 * stats.norm.isf, stats.t.isf), an independent implementation. */
#include "support/check.h"
#include "support/quantiles.h"

#include "base/stats.h"
#include "base/tolerance.h"

#define assert_relative(got, want) assert_near((got) / (want), 1, 1e-9)

static void student_tail_agrees_near_and_far(void **state)
{
    (void)state;
    assert_relative(pp_student_two_sided(2.570582, 5), 0.04999999002713989);
    assert_relative(pp_student_two_sided(0.731, 3), 0.517698349028742);
    assert_relative(pp_student_two_sided(2.1173, 587), 0.03465430807046082);
    assert_relative(pp_student_two_sided(16.2, 575), 6.722977906229749e-49);
    assert_relative(pp_student_two_sided(3.7, 199987), 0.00021565719608116095);
    assert_relative(pp_student_two_sided(-21.4, 2), 0.002176470607988139);
    assert_relative(pp_student_two_sided(37.9, 4000), 7.676715924707056e-269);
    assert_near(pp_student_two_sided(0, 7), 1, 0);
    assert_near(pp_student_two_sided(INFINITY, 7), 0, 0);
    assert_true(isnan(pp_student_two_sided(NAN, 7)));
}

static void fisher_tail_agrees_near_and_far(void **state)
{
    (void)state;
    assert_relative(pp_fisher_upper(3.21, 2, 581), 0.04107340437176475);
    assert_relative(pp_fisher_upper(0.37, 7.5, 3.25), 0.8814971030107392);
    assert_relative(pp_fisher_upper(141.7, 2, 297), 6.177507258989449e-44);
    assert_relative(pp_fisher_upper(19.3, 41, 99999), 5.238630967589214e-139);
    assert_relative(pp_fisher_upper(1.0003, 1e5, 1e5), 0.4810864819988556);
    assert_near(pp_fisher_upper(0, 2, 7), 1, 0);
    /* two numerator degrees of freedom have a closed form: (1 + 2 f / df2)^(-df2 / 2) */
    assert_relative(pp_fisher_upper(4.385, 2, 11), pow(1 + 2 * 4.385 / 11, -5.5));
    /* and one is Student's t, squared */
    assert_relative(pp_fisher_upper(2.3 * 2.3, 1, 17), pp_student_two_sided(2.3, 17));
}

static void beta_agrees_for_small_and_large_shapes(void **state)
{
    (void)state;
    assert_relative(pp_beta_lower(2.385, 0.77, 0.41, 0.59), 0.08513841748953706);
    assert_relative(pp_beta_lower(0.5, 0.5, 1e-7, 1 - 1e-7), 0.00020131685177322912);
    assert_relative(pp_beta_lower(112.3, 88.1, 0.56, 0.44), 0.49340364764139044);
    assert_relative(pp_log_beta(2.385, 0.77), -0.4516409354336304);
    assert_relative(pp_log_beta(88.1, 112.3), -138.47140002916166);
    assert_relative(pp_log_beta(3e4, 0.5), -4.5821072207181714);
    assert_near(pp_beta_lower(2.385, 0.77, 0, 1), 0, 0);
    assert_near(pp_beta_lower(2.385, 0.77, 1, 0), 1, 0);
}

static void quantiles_agree_and_undo_their_tails(void **state)
{
    (void)state;
    assert_relative(normal_quantile(0.05), 1.6448536269514729);
    assert_relative(normal_quantile(1e-12), 7.034483825301131);
    assert_relative(normal_quantile(1e-200), 30.20559417957964);
    assert_relative(normal_quantile(0.9772498680518208), -2.0);
    assert_relative(student_quantile(0.05, 2), 4.3026527299112765);
    assert_relative(student_quantile(0.003, 587), 2.980181855255273);
    assert_relative(student_quantile(1e-9, 11.5), 17.795924059530787);
    assert_relative(student_quantile(0.9, 1), 0.15838444032458612);
    for (double tail = 0.93; tail > 1e-40; tail *= 0.117) {
        assert_relative(pp_normal_upper(normal_quantile(tail)), tail);
        assert_relative(pp_student_two_sided(student_quantile(tail, 13.7), 13.7), tail);
    }
}

/* scipy.special.gammaincc, scipy.stats.chi2.ppf and .isf */
static void chi_square_agrees_near_and_far(void **state)
{
    (void)state;
    assert_relative(pp_gamma_upper(0.5, 1e-3), 0.9643294082703201);
    assert_relative(pp_gamma_upper(3.25, 40), 7.0947221636590105e-15);
    assert_relative(pp_gamma_lower(900, 800), 0.00027591344090745125);
    assert_relative(pp_chi2_upper(100.7, 126), 0.9527591716699877);
    assert_relative(pp_chi2_quantile(0.05, 0.95, 126), 101.07419077147996);
    assert_relative(pp_chi2_quantile(0.95, 0.05, 126), 153.1979027439562);
    assert_relative(pp_chi2_quantile(1 - 1e-12, 1e-12, 79), 201.95835453533022);
    assert_relative(pp_chi2_quantile(1e-12, 1 - 1e-12, 3), 2.417987942718036e-08);
}

/* Two-sided factors as printed in statistics books to 0.01 (5.37, 2.86, 3.62, 2.15 ...), here to
 * three decimals by quadrature in scipy. */
static void tolerance_factors_are_exact(void **state)
{
    (void)state;
    assert_near(pp_tolerance_factor(4, 0.90, 0.95), 5.368, 6e-4);
    assert_near(pp_tolerance_factor(10, 0.90, 0.95), 2.856, 6e-4);
    assert_near(pp_tolerance_factor(10, 0.99, 0.95), 4.437, 6e-4);
    assert_near(pp_tolerance_factor(20, 0.99, 0.95), 3.621, 6e-4);
    assert_near(pp_tolerance_factor(60, 0.95, 0.95), 2.335, 6e-4);
    assert_near(pp_tolerance_factor(43, 0.90, 0.99), 2.22283, 1e-5);
    assert_true(isnan(pp_tolerance_factor(1, 0.9, 0.95)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(student_tail_agrees_near_and_far),
        cmocka_unit_test(fisher_tail_agrees_near_and_far),
        cmocka_unit_test(beta_agrees_for_small_and_large_shapes),
        cmocka_unit_test(chi_square_agrees_near_and_far),
        cmocka_unit_test(tolerance_factors_are_exact),
        cmocka_unit_test(quantiles_agree_and_undo_their_tails),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

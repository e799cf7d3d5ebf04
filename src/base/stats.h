/* Distributions for tests of significance: tails of the normal, beta, Student t and F
 * distributions, accurate far into the tails (relative error below 1e-9 down to 1e-300).
 *
 * Degrees of freedom and shape parameters are positive reals, at most 1e8 (2 x 10^5 holes give
 * 2 x 10^5 degrees of freedom). A tail of a NaN is NaN. Pure functions: no state, no allocation.
 *
 * Methods: the regularised incomplete beta function by its continued fraction (Abramowitz & Stegun,
 * Handbook of Mathematical Functions, 26.5.8) evaluated with the modified Lentz recurrence, on the
 * side where it converges fast; log beta by Stirling's series (6.1.41).
 */
#ifndef PP_BASE_STATS_H
#define PP_BASE_STATS_H

/* P(Z > z), Z standard normal. */
double pp_normal_upper(double z);

/* ln B(a, b). */
double pp_log_beta(double a, double b);
/* I_x(a, b), with y = 1 - x given apart so that neither end loses digits. */
double pp_beta_lower(double a, double b, double x, double y);

/* P(|T| > |t|), Student's t with df degrees of freedom. */
double pp_student_two_sided(double t, double df);

/* P(F > f), Fisher's F with df1 and df2 degrees of freedom; 1 for f <= 0. */
double pp_fisher_upper(double f, double df1, double df2);

/* Regularised incomplete gamma functions P(a, x) and Q(a, x) = 1 - P, a > 0: series and continued
 * fraction (Abramowitz & Stegun 6.5.29, 6.5.31), each where it converges fast. */
double pp_gamma_lower(double a, double x);
double pp_gamma_upper(double a, double x);

/* P(chi2 > x) with df degrees of freedom, and the x of P(chi2 <= x) = lower, 0 < lower < 1; where
 * the other tail is the small one, give it as `upper` = 1 - lower. */
double pp_chi2_upper(double x, double df);
double pp_chi2_quantile(double lower, double upper, double df);

#endif

/* Statements on a normal population of which mean and standard deviation are estimated from a
 * sample: tolerance intervals, and whether the sample looks normal at all. */
#ifndef PP_BASE_TOLERANCE_H
#define PP_BASE_TOLERANCE_H

#include <stddef.h>

/* The factor k with which mean +- k s of a sample of n >= 2 holds at least the share `content` of
 * the population, with this confidence: exact, two-sided. Root of
 *     2 int_0^inf phi(z) P(chi2_(n-1) > (n-1) r(z)^2 / k^2) dz = confidence,
 *     Phi(z/sqrt n + r) - Phi(z/sqrt n - r) = content
 * (Wald and Wolfowitz's problem; NIST/SEMATECH e-Handbook 7.2.6.3 gives approximations of it). */
double pp_tolerance_factor(size_t n, double content, double confidence);

/* p of Anderson and Darling's test of normality, mean and standard deviation estimated:
 * sorted[n] ascending, n >= 8; NaN where all are equal. *statistic (may be NULL): A*2 = A2 (1 +
 * 0.75/n + 2.25/n2). Coefficients: D'Agostino and Stephens, Goodness-of-Fit Techniques (1986), from
 * memory. */
double pp_normality_p(size_t n, const double *sorted, double mean, double deviation,
                      double *statistic);

#endif

/* What noise alone does to many readings: quantiles of the range of a
 * normal sample, of chi squared. */
#ifndef PP_FLATNESS_NOISE_RANGE_H
#define PP_FLATNESS_NOISE_RANGE_H

#include "base/quantiles.h"

/* The `share` quantile of the range (largest less smallest) of n >= 2 independent standard normals,
 * from its distribution n int phi(v) (Phi(v + q) - Phi(v))^(n - 1) dv (H. A. David and H. N.
 * Nagaraja, Order Statistics, 3rd ed., 2.4); to 1e-6. */
double pp_normal_range_quantile(double n, double share);

/* Upper 1 % point of chi squared with df degrees of freedom (Wilson and Hilferty, PNAS 17 (1931)
 * 684); within 0.3 % from 10 degrees of freedom on. */
double pp_chi_squared_upper_one_percent(double df);

#endif

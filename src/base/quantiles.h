/* Where distributions have so much below them: the inverses of base/stats.h, by bisection to the
 * last bits of a double. Pure functions. */
#ifndef PP_BASE_QUANTILES_H
#define PP_BASE_QUANTILES_H

/* z of P(Z <= z) = lower, Z standard normal, 0 < lower < 1. */
double pp_normal_quantile(double lower);
/* t of P(T <= t) = lower, Student's t with df > 0 degrees of freedom. */
double pp_student_quantile(double lower, double df);
/* Above this share lies the true one with probability 1 - confidence, `count` of `of` seen
 * (Clopper and Pearson, Biometrika 26 (1934) 404); 1 where all were. */
double pp_share_upper_bound(double count, double of, double confidence);

#endif

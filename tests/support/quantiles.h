/* The program's tails turned round, by bisection: published tables list quantiles. */
#ifndef PP_TESTS_QUANTILES_H
#define PP_TESTS_QUANTILES_H

#include <math.h>
#include <stddef.h>

#include "base/stats.h"

/* z with P(Z > z) = tail, 1e-300 < tail < 1. */
static inline double normal_quantile(double tail)
{
    double low = -38, high = 38;
    for (int i = 0; i < 200 && high - low > 1e-16 * fabs(high); i++) {
        double z = 0.5 * (low + high);
        if (pp_normal_upper(z) > tail)
            low = z;
        else
            high = z;
    }
    return 0.5 * (low + high);
}

/* t with P(|T| > t) = tail, 0 < tail < 1. */
static inline double student_quantile(double tail, double df)
{
    double low = 0, high = 1;
    while (pp_student_two_sided(high, df) > tail) high *= 2;
    for (int i = 0; i < 200 && high - low > 1e-16 * high; i++) {
        double t = 0.5 * (low + high);
        if (pp_student_two_sided(t, df) > tail)
            low = t;
        else
            high = t;
    }
    return 0.5 * (low + high);
}

/* x with I_x(a, b) = share. */
static inline double beta_quantile(double a, double b, double share)
{
    double low = 0, high = 1;
    for (int i = 0; i < 200 && high - low > 1e-16 * high; i++) {
        double x = 0.5 * (low + high);
        if (pp_beta_lower(a, b, x, 1 - x) < share)
            low = x;
        else
            high = x;
    }
    return 0.5 * (low + high);
}

/* Clopper and Pearson's exact interval (Biometrika 26 (1934) 404) for a share of which `outside` of
 * `sample` were seen, `confidence` two-sided: what the bound on a finite plate tends to. */
static inline void clopper_pearson(size_t sample, size_t outside, double confidence, double *low,
                                   double *high)
{
    double n = (double)sample, x = (double)outside, tail = (1 - confidence) / 2;
    *low = outside == 0 ? 0 : beta_quantile(x, n - x + 1, tail);
    *high = outside >= sample ? 1 : beta_quantile(x + 1, n - x, 1 - tail);
}

#endif

#include "flatness/noise_range.h"

#include <math.h>
#include <stdbool.h>

#include "base/stats.h"

/* P(range <= q): trapezium rule over the smallest of the n. */
static double range_lower(double n, double q)
{
    enum { STEPS = 400 };
    static const double ONE_OVER_ROOT_TWO_PI = 0.39894228040143267794, FAR = 9;
    double from = -FAR, to = FAR, h = (to - from) / STEPS, sum = 0;
    for (int i = 0; i <= STEPS; i++) {
        double v = from + h * i, between = pp_normal_upper(v) - pp_normal_upper(v + q);
        if (between > 0) sum += ONE_OVER_ROOT_TWO_PI * exp(-v * v / 2 + (n - 1) * log(between));
    }
    return fmin(1, n * h * sum);
}

double pp_normal_range_quantile(double n, double share)
{
    double low = 0, high = 20;
    for (int i = 0; i < 32; i++) {
        double middle = (low + high) / 2;
        if (range_lower(n, middle) < share)
            low = middle;
        else
            high = middle;
    }
    return (low + high) / 2;
}

double pp_chi_squared_upper_one_percent(double df)
{
    static const double Z = 2.3263478740408408;
    double a = 2 / (9 * df), cube = 1 - a + Z * sqrt(a);
    return df * cube * cube * cube;
}

#include "base/tolerance.h"

#include <math.h>

#include "base/constants.h"
#include "base/stats.h"

enum { POINTS = 200, STEPS = 200 };
static const double Z_MOST = 8.5;

/* Half the width r that holds `content` about a centre that is off by `shift`. */
static double half_width(double shift, double content)
{
    double low = 0, high = fabs(shift) + 40;
    for (int i = 0; i < STEPS && high - low > 1e-15 * high; i++) {
        double r = 0.5 * (low + high);
        double held = pp_normal_upper(shift - r) - pp_normal_upper(shift + r);
        if (held < content)
            low = r;
        else
            high = r;
    }
    return 0.5 * (low + high);
}

/* Confidence of k. The integrand is even and smooth: the trapezium rule converges as fast as it
 * decays. */
static double confidence_of(double k, double df, const double *r)
{
    double step = Z_MOST / POINTS, sum = 0;
    for (int i = 0; i <= POINTS; i++) {
        double z = step * i, x = df * r[i] * r[i] / (k * k);
        sum += (i == 0 || i == POINTS ? 0.5 : 1) * exp(-0.5 * z * z) * pp_chi2_upper(x, df);
    }
    return 2 * step * sum / sqrt(2 * PP_PI);
}

double pp_tolerance_factor(size_t n, double content, double confidence)
{
    double r[POINTS + 1], root = sqrt((double)n), df = (double)n - 1, low = 0, high = 1;
    if (n < 2 || !(content > 0 && content < 1 && confidence > 0 && confidence < 1)) return NAN;
    for (int i = 0; i <= POINTS; i++) r[i] = half_width(Z_MOST / POINTS * i / root, content);
    while (confidence_of(high, df, r) < confidence) high *= 2;
    for (int i = 0; i < STEPS && high - low > 1e-13 * high; i++) {
        double k = 0.5 * (low + high);
        if (confidence_of(k, df, r) < confidence)
            low = k;
        else
            high = k;
    }
    return 0.5 * (low + high);
}

double pp_normality_p(size_t n, const double *sorted, double mean, double deviation,
                      double *statistic)
{
    if (statistic) *statistic = NAN;
    if (n < 8 || !(deviation > 0)) return NAN;
    double sum = 0, count = (double)n;
    for (size_t i = 0; i < n; i++) {
        double below = (sorted[i] - mean) / deviation,
               above = (sorted[n - 1 - i] - mean) / deviation;
        sum += (2 * (double)i + 1) * (log(pp_normal_upper(-below)) + log(pp_normal_upper(above)));
    }
    double a = (-count - sum / count) * (1 + 0.75 / count + 2.25 / (count * count));
    if (statistic) *statistic = a;
    if (a < 0.2) return 1 - exp(-13.436 + 101.14 * a - 223.73 * a * a);
    if (a < 0.34) return 1 - exp(-8.318 + 42.796 * a - 59.938 * a * a);
    if (a < 0.6) return exp(0.9177 - 4.279 * a - 1.38 * a * a);
    return a < 13 ? exp(1.2937 - 5.709 * a + 0.0186 * a * a) : 0;
}

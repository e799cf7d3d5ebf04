#include "base/stats.h"

#include <float.h>
#include <math.h>
#include <stdbool.h>

static const double LOG_SQRT_2PI = 0.91893853320467274178;
static const double SQRT_2 = 1.41421356237309504880;

enum {
    STIRLING_FROM = 10, /* below, lgamma itself has digits enough */
    FRACTION_STEPS = 100000
};

double pp_normal_upper(double z) { return 0.5 * erfc(z / SQRT_2); }

/* ln Gamma(a) - [(a - 1/2) ln a - a + ln sqrt(2 pi)], a >= STIRLING_FROM. */
static double stirling_rest(double a)
{
    double b = 1 / (a * a);
    return (1. / 12 -
            b * (1. / 360 -
                 b * (1. / 1260 - b * (1. / 1680 - b * (1. / 1188 - b * 691. / 360360))))) /
           a;
}

double pp_log_beta(double a, double b)
{
    double p = fmin(a, b), q = fmax(a, b), sum = p + q;
    if (q < STIRLING_FROM) return lgamma(p) + lgamma(q) - lgamma(sum);
    /* the large terms of Stirling's series cancel on paper instead of in the last digits */
    double rest = stirling_rest(q) - stirling_rest(sum);
    if (p < STIRLING_FROM) return lgamma(p) + rest + p - p * log(sum) + (q - 0.5) * log1p(-p / sum);
    return LOG_SQRT_2PI - 0.5 * log(q) + stirling_rest(p) + rest + (p - 0.5) * log(p / sum) +
           q * log1p(-p / sum);
}

/* The continued fraction of I_x(a, b) without its leading factor; converges for
 * x < (a + 1)/(a + b + 2). */
static double beta_fraction(double a, double b, double x)
{
    const double tiny = 1e-300;
    double c = 1, d = 1 - (a + b) * x / (a + 1);
    d = 1 / (fabs(d) < tiny ? tiny : d);
    double value = d;
    for (int m = 1; m <= FRACTION_STEPS; m++) {
        double step[2] = {m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
                          -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))};
        double factor = 1;
        for (int k = 0; k < 2; k++) {
            d = 1 + step[k] * d;
            d = 1 / (fabs(d) < tiny ? tiny : d);
            c = 1 + step[k] / c;
            if (fabs(c) < tiny) c = tiny;
            factor = c * d;
            value *= factor;
        }
        if (fabs(factor - 1) < 4 * DBL_EPSILON) break;
    }
    return value;
}

static double log_of(double x, double one_minus_x)
{
    return x > 0.5 ? log1p(-one_minus_x) : log(x);
}

double pp_beta_lower(double a, double b, double x, double y)
{
    if (isnan(x) || isnan(y)) return NAN;
    if (x <= 0) return 0;
    if (y <= 0) return 1;
    double front = exp(a * log_of(x, y) + b * log_of(y, x) - pp_log_beta(a, b));
    if (x < (a + 1) / (a + b + 2)) return front * beta_fraction(a, b, x) / a;
    return 1 - front * beta_fraction(b, a, y) / b;
}

double pp_student_two_sided(double t, double df)
{
    double t2 = t * t;
    if (isinf(t2)) return 0;
    return pp_beta_lower(df / 2, 0.5, df / (df + t2), t2 / (df + t2));
}

double pp_fisher_upper(double f, double df1, double df2)
{
    if (f <= 0) return 1;
    if (isinf(f)) return 0;
    double whole = df2 + df1 * f;
    return pp_beta_lower(df2 / 2, df1 / 2, df2 / whole, df1 * f / whole);
}

/* The factor of both expansions: x^a e^-x / Gamma(a + 1). */
static double gamma_front(double a, double x)
{
    if (a < STIRLING_FROM) return exp(a * log(x) - x - lgamma(a + 1));
    double off = (x - a) / a; /* a ln(x/a) - (x - a), without its cancellation near a */
    return exp(a * (log1p(off) - off) - stirling_rest(a) - LOG_SQRT_2PI - 0.5 * log(a));
}

static double gamma_series(double a, double x)
{
    double term = 1, sum = 1;
    for (int n = 1; n <= FRACTION_STEPS && term > sum * 0.25 * DBL_EPSILON; n++)
        sum += term *= x / (a + n);
    return gamma_front(a, x) * sum;
}

static double gamma_fraction(double a, double x)
{
    const double tiny = 1e-300;
    double b = x + 1 - a, c = 1 / tiny, d = 1 / b, value = d;
    for (int n = 1; n <= FRACTION_STEPS; n++) {
        double step = -n * (n - a);
        b += 2;
        d = step * d + b;
        d = 1 / (fabs(d) < tiny ? tiny : d);
        c = b + step / c;
        if (fabs(c) < tiny) c = tiny;
        value *= c * d;
        if (fabs(c * d - 1) < 4 * DBL_EPSILON) break;
    }
    return gamma_front(a, x) * a * value;
}

double pp_gamma_lower(double a, double x)
{
    if (isnan(x)) return NAN;
    if (x <= 0) return 0;
    return x < a + 1 ? gamma_series(a, x) : 1 - gamma_fraction(a, x);
}

double pp_gamma_upper(double a, double x)
{
    if (isnan(x)) return NAN;
    if (x <= 0) return 1;
    return x < a + 1 ? 1 - gamma_series(a, x) : gamma_fraction(a, x);
}

double pp_chi2_upper(double x, double df) { return pp_gamma_upper(0.5 * df, 0.5 * x); }

double pp_chi2_quantile(double lower, double upper, double df)
{
    if (!(lower > 0) || !(upper > 0)) return lower > 0 ? INFINITY : 0;
    double low = 0, high = df + 10;
    while (pp_chi2_upper(high, df) > upper) high *= 2;
    bool left = lower < upper;
    for (int i = 0; i < 2000 && high - low > 1e-15 * high; i++) {
        /* by the geometric mean where the bracket spans decades: the left tail reaches far down */
        double x = low > 0 && high > 4 * low ? sqrt(low * high)
                   : low > 0                 ? 0.5 * (low + high)
                   : high > 1e-280           ? 1e-3 * high
                                             : 0;
        if (x == 0 || x == low || x == high) break;
        bool below =
            left ? pp_gamma_lower(0.5 * df, 0.5 * x) < lower : pp_chi2_upper(x, df) > upper;
        if (below)
            low = x;
        else
            high = x;
    }
    return 0.5 * (low + high);
}

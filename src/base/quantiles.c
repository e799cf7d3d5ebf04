#include "base/quantiles.h"

#include <math.h>

#include "base/stats.h"

enum { STEPS = 200 };

typedef double (*below_function)(double x, double a, double b);

static double below_normal(double z, double a, double b)
{
    (void)a, (void)b;
    return z < 0 ? pp_normal_upper(-z) : 1 - pp_normal_upper(z);
}

static double below_student(double t, double df, double b)
{
    (void)b;
    double tail = 0.5 * pp_student_two_sided(t, df);
    return t < 0 ? tail : 1 - tail;
}

static double below_beta(double x, double a, double b) { return pp_beta_lower(a, b, x, 1 - x); }

/* The x where `below` reaches `lower`, between low and high. */
static double bisect(below_function below, double lower, double a, double b, double low,
                     double high)
{
    for (int i = 0; i < STEPS && low < high; i++) {
        double middle = 0.5 * (low + high);
        if (middle <= low || middle >= high) break;
        if (below(middle, a, b) < lower)
            low = middle;
        else
            high = middle;
    }
    return 0.5 * (low + high);
}

/* On the lower side, where the tail is exact, and mirrored. */
static double symmetric(below_function below, double lower, double df)
{
    if (lower == 0.5) return 0;
    double tail = lower < 0.5 ? lower : 1 - lower, far = -1;
    while (below(far, df, 0) > tail && far > -1e300) far *= 2;
    double x = bisect(below, tail, df, 0, far, 0);
    return lower < 0.5 ? x : -x;
}

double pp_normal_quantile(double lower) { return symmetric(below_normal, lower, 0); }

double pp_student_quantile(double lower, double df) { return symmetric(below_student, lower, df); }

/* x of I_x(a, b) = lower, the beta distribution. */
static double beta_quantile(double lower, double a, double b)
{
    return bisect(below_beta, lower, a, b, 0, 1);
}

double pp_share_upper_bound(double count, double of, double confidence)
{
    return count >= of ? 1 : beta_quantile(confidence, count + 1, of - count);
}

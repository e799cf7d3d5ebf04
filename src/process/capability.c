#include "process/capability.h"

#include <math.h>

#include "base/constants.h"
#include "base/quantiles.h"
#include "base/stats.h"
#include "process/charts.h"

static const double TAIL = 0.025; /* each side of the 95 % intervals */
enum { STEPS = 200 };

/* How far a mean square may be below (above) what it estimates: df / chi2 - 1. */
static double factor_up(double df, double a)
{
    return df > 0 ? df / pp_chi2_quantile(a, 1 - a, df) - 1 : 0;
}
static double factor_down(double df, double a)
{
    return df > 0 ? 1 - df / pp_chi2_quantile(1 - a, a, df) : 0;
}

double pp_variance_sum_upper(double v1, double df1, double v2, double df2, double a)
{
    return v1 + v2 + hypot(factor_up(df1, a) * v1, factor_up(df2, a) * v2);
}

static double variance_sum_lower(double v1, double df1, double v2, double df2, double a)
{
    return fmax(0, v1 + v2 - hypot(factor_down(df1, a) * v1, factor_down(df2, a) * v2));
}

typedef struct pooled {
    size_t plates;
    double holes, mean, within2, between2, df_within; /* between2: variance of the plate means */
    double harmonic;                                  /* mean of the numbers of holes */
} pooled;

static pooled pool(const pp_plate_moments *p, size_t count)
{
    pooled s = {0};
    double square = 0, inverse = 0;
    for (size_t i = 0; i < count; i++) {
        if (p[i].diameters < 2) continue;
        s.plates++;
        s.holes += p[i].diameters;
        s.mean += p[i].mean_diameter;
        s.within2 += (p[i].diameters - 1) * p[i].var_diameter;
        inverse += 1 / p[i].diameters;
    }
    if (s.plates == 0) return s;
    s.mean /= (double)s.plates;
    s.df_within = s.holes - (double)s.plates;
    s.within2 /= s.df_within;
    s.harmonic = (double)s.plates / inverse;
    for (size_t i = 0; i < count; i++)
        if (p[i].diameters >= 2)
            square += (p[i].mean_diameter - s.mean) * (p[i].mean_diameter - s.mean);
    if (s.plates > 1) s.between2 = square / (double)(s.plates - 1);
    return s;
}

/* Distance of the mean to the nearer limit. */
static double margin(double mean, double lower, double upper)
{
    double below = isnan(lower) ? INFINITY : mean - lower;
    double above = isnan(upper) ? INFINITY : upper - mean;
    return fmin(below, above);
}

/* The c at which the lower (upper) bound of d - 3 c s by MOVER is nought: the lower (upper) bound
 * of d / (3 s). Zou and Donner, Statistics in Medicine 27 (2008) 1693; from memory. */
static double ratio_bound(double d, double d_half, double s, double s_low, double s_high,
                          bool upper)
{
    double low = -1e6, high = 1e6;
    for (int i = 0; i < STEPS; i++) {
        double c = 0.5 * (low + high);
        double to_s = (c > 0) == upper ? s - s_low : s_high - s;
        double reach = hypot(d_half, 3 * c * to_s);
        if (d - 3 * c * s + (upper ? reach : -reach) > 0)
            low = c;
        else
            high = c;
    }
    return 0.5 * (low + high);
}

/* One plate: what its own holes say, as if they were independent. NIST/SEMATECH e-Handbook 6.1.6.
 */
static void bound_one_plate(const pooled *s, pp_size_capability *f)
{
    double df = s->df_within, z = pp_normal_quantile(1 - TAIL), n = s->holes;
    f->pp_low = f->pp * sqrt(pp_chi2_quantile(TAIL, 1 - TAIL, df) / df);
    f->pp_high = f->pp * sqrt(pp_chi2_quantile(1 - TAIL, TAIL, df) / df);
    double half = z * sqrt(1 / (9 * n) + f->ppk * f->ppk / (2 * (n - 1)));
    f->ppk_low = f->ppk - half, f->ppk_high = f->ppk + half;
}

static void bound_plates(const pooled *s, double v1, double v2, double lower, double upper,
                         pp_size_capability *f)
{
    double df1 = (double)(s->plates - 1);
    double high = sqrt(pp_variance_sum_upper(v1, df1, v2, s->df_within, TAIL));
    double low = sqrt(variance_sum_lower(v1, df1, v2, s->df_within, TAIL));
    f->pp_low = (upper - lower) / (6 * high), f->pp_high = (upper - lower) / (6 * low);
    double d_half = pp_student_quantile(1 - TAIL, df1) * sqrt(v1 / (double)s->plates);
    double d = margin(s->mean, lower, upper);
    f->ppk_low = ratio_bound(d, d_half, f->total, low, high, false);
    f->ppk_high = ratio_bound(d, d_half, f->total, low, high, true);
}

/* No plate's mean beyond the limits of their own chart. */
static pp_status means_in_order(const pp_plate_moments *p, size_t count, size_t plates,
                                pp_arena *scratch, bool *in_order, pp_error *error)
{
    *in_order = true;
    if (plates < PP_CHART_PLATES_MIN) return PP_OK;
    pp_mark mark = pp_arena_mark(scratch);
    double *mean;
    size_t n = 0;
    PP_TAKE(mean, scratch, plates);
    for (size_t i = 0; i < count; i++)
        if (p[i].diameters >= 2) mean[n++] = p[i].mean_diameter;
    pp_individuals chart;
    PP_TRY(pp_individuals_chart(mean, n, 0, scratch, &chart, error));
    *in_order = chart.found[0].count == 0;
    pp_arena_release(scratch, mark);
    return PP_OK;
}

pp_status pp_size_capability_find(const pp_plate_moments *plates, size_t count, double lower,
                                  double upper, pp_arena *scratch, pp_size_capability *found,
                                  pp_error *error)
{
    if (isnan(lower) && isnan(upper))
        return pp_fail(error, PP_EINPUT, "capability needs a limit; give --lower, --upper or both");
    if (lower >= upper)
        return pp_fail(error, PP_EINPUT, "--lower is not below --upper; exchange them");
    pooled s = pool(plates, count);
    if (s.plates == 0)
        return pp_fail(error, PP_ENOTHING,
                       "no report with these conditions has diameters hole by hole (holes.csv "
                       "beside results.json)");
    bool one = s.plates == 1;
    double v1 = one ? 0 : s.between2, v2 = one ? s.within2 : s.within2 * (1 - 1 / s.harmonic);
    pp_size_capability f = {.plates = s.plates, .holes = s.holes, .mean = s.mean};
    f.within = sqrt(s.within2), f.between = one ? NAN : sqrt(s.between2), f.total = sqrt(v1 + v2);
    if (!(f.total > 0))
        return pp_fail(error, PP_ENOTHING,
                       "all diameters are the same number; a capability needs measured ones");
    PP_TRY(means_in_order(plates, count, s.plates, scratch, &f.in_order, error));
    double d = margin(s.mean, lower, upper);
    f.pp = (upper - lower) / (6 * f.total), f.ppk = d / (3 * f.total);
    f.cp = f.in_order ? (upper - lower) / (6 * f.within) : NAN;
    f.cpk = f.in_order ? d / (3 * f.within) : NAN;
    if (one)
        bound_one_plate(&s, &f);
    else
        bound_plates(&s, v1, v2, lower, upper, &f);
    *found = f;
    return PP_OK;
}

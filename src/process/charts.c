#include "process/charts.h"

#include <math.h>

#include "base/quantiles.h"
#include "base/stats.h"

static const double LIMIT_FACTOR = 2.660; /* 3 / d2, d2 = 1.128 for pairs; ISO 7870-2 */
static const double RANGE_FACTOR = 3.267; /* D4 for pairs; ISO 7870-2 */
static const double MEAN_RANGE_OF_PAIRS = 1.128;
static const double SPREAD_LEVEL = 0.01;
static const double OUT_MIN = 5; /* expected a plate; common practice, no source */

const pp_run_rule pp_run_rules[PP_RUN_RULES] = {
    {"beyond", PP_RULE_BEYOND, 1, "ISO 7870-2:2013 (from memory)"},
    {"run of 7", PP_RULE_ONE_SIDE, 7, "ISO 7870-2:2013 (from memory)"},
    {"trend of 7", PP_RULE_RISING, 7, "ISO 7870-2:2013 (from memory)"},
};

static double mean_of(const double *value, size_t count)
{
    double sum = 0;
    for (size_t i = 0; i < count; i++) sum += value[i];
    return sum / (double)count;
}

static bool is_constant(const double *value, size_t count)
{
    for (size_t i = 1; i < count; i++)
        if (value[i] != value[0]) return false;
    return true;
}

/* Lag-1 autocorrelation about the mean. */
static double lag_correlation(const double *value, size_t count)
{
    double mean = mean_of(value, count), cross = 0, square = 0;
    if (is_constant(value, count)) return 0;
    for (size_t i = 0; i < count; i++) {
        square += (value[i] - mean) * (value[i] - mean);
        if (i) cross += (value[i] - mean) * (value[i - 1] - mean);
    }
    return square > 0 ? cross / square : 0;
}

/* The points where a run of the rule is complete. */
static size_t find_runs(const pp_run_rule *rule, const double *v, size_t count, double centre,
                        double lower, double upper, size_t *points)
{
    size_t found = 0, run = 0;
    int way = 0;
    for (size_t i = 0; i < count; i++) {
        if (rule->kind == PP_RULE_BEYOND) {
            if (v[i] < lower || v[i] > upper) points[found++] = i + 1;
            continue;
        }
        double step = rule->kind == PP_RULE_ONE_SIDE ? v[i] - centre : i ? v[i] - v[i - 1] : 0;
        int now = step > 0 ? 1 : step < 0 ? -1 : 0;
        run = now != 0 && now == way ? run + 1 : now != 0 ? 1 : 0;
        way = now;
        /* n points rise in n - 1 steps */
        size_t needed = rule->kind == PP_RULE_ONE_SIDE ? rule->n : rule->n - 1;
        if (run >= needed) points[found++] = i + 1;
    }
    return found;
}

pp_status pp_individuals_chart(const double *value, size_t count, size_t base, pp_arena *arena,
                               pp_individuals *chart, pp_error *error)
{
    if (base == 0 || base > count) base = count;
    if (count < PP_CHART_PLATES_MIN || base < PP_CHART_PLATES_MIN)
        return pp_fail(error, PP_ENOTHING,
                       "a chart needs at least %d plates for its limits, there %s %zu; add more "
                       "reports, or ask for fewer conditions",
                       PP_CHART_PLATES_MIN, base == 1 ? "is" : "are", base);
    pp_individuals c = {.points = count, .base = base};
    c.centre = mean_of(value, base);
    /* a figure that is always the same has no mean but itself: rounding is no signal */
    if (is_constant(value, base)) c.centre = value[0];
    for (size_t i = 1; i < base; i++) c.range_centre += fabs(value[i] - value[i - 1]);
    c.range_centre /= (double)(base - 1);
    c.lower = c.centre - LIMIT_FACTOR * c.range_centre;
    c.upper = c.centre + LIMIT_FACTOR * c.range_centre;
    c.range_upper = RANGE_FACTOR * c.range_centre;
    c.provisional = base < PP_CHART_PLATES_SURE;
    c.autocorrelation = lag_correlation(value, count);
    c.correlated = fabs(c.autocorrelation) > 2 / sqrt((double)count);
    for (int k = 0; k < PP_RUN_RULES; k++) {
        size_t *points;
        PP_TAKE(points, arena, count);
        c.found[k].count =
            find_runs(&pp_run_rules[k], value, count, c.centre, c.lower, c.upper, points);
        c.found[k].points = points;
    }
    size_t *points;
    PP_TAKE(points, arena, count);
    for (size_t i = 1; i < count; i++)
        if (fabs(value[i] - value[i - 1]) > c.range_upper) points[c.range_beyond.count++] = i + 1;
    c.range_beyond.points = points;
    *chart = c;
    return PP_OK;
}

typedef struct share_arrays {
    double *share, *lower, *upper, *binomial_lower, *binomial_upper;
    size_t *beyond;
} share_arrays;

static pp_status take_share_arrays(size_t count, pp_arena *arena, share_arrays *a, pp_error *error)
{
    PP_TAKE(a->share, arena, count);
    PP_TAKE(a->lower, arena, count);
    PP_TAKE(a->upper, arena, count);
    PP_TAKE(a->binomial_lower, arena, count);
    PP_TAKE(a->binomial_upper, arena, count);
    PP_TAKE(a->beyond, arena, count);
    return PP_OK;
}

/* How much the shares spread, in binomial standard deviations. */
static void find_spread(const double *of, size_t count, const double *share, pp_shares *c)
{
    double last = 0, ranges = 0;
    for (size_t i = 0; i < count; i++) {
        double z = (share[i] - c->centre) / sqrt(c->centre * (1 - c->centre) / of[i]);
        c->chi_squared += z * z;
        if (i) ranges += fabs(z - last);
        last = z;
    }
    c->spread = ranges / (double)(count - 1) / MEAN_RANGE_OF_PAIRS;
    c->p = pp_chi2_upper(c->chi_squared, (double)(count - 1));
    c->widened = c->p < SPREAD_LEVEL && c->spread > 1;
}

static pp_status check_shares(const double *out, const double *of, size_t count, double *centre,
                              pp_error *error)
{
    if (count < PP_CHART_PLATES_MIN)
        return pp_fail(error, PP_ENOTHING,
                       "a chart needs at least %d plates, there %s %zu; add more reports",
                       PP_CHART_PLATES_MIN, count == 1 ? "is" : "are", count);
    double sum_out = 0, sum_of = 0;
    for (size_t i = 0; i < count; i++) sum_out += out[i], sum_of += of[i];
    *centre = sum_out / sum_of;
    if (*centre * sum_of / (double)count < OUT_MIN)
        return pp_fail(error, PP_ENOTHING,
                       "%.0f of %.0f holes are too few for a chart of shares (%g a plate are "
                       "needed on average); chart what makes them instead: 'scale common', "
                       "'squareness', holes.diameter.mean",
                       sum_out, sum_of, OUT_MIN);
    if (*centre >= 1)
        return pp_fail(error, PP_ENOTHING, "all are out on every plate: there is nothing to chart");
    return PP_OK;
}

pp_status pp_shares_chart(const double *out, const double *of, size_t count, pp_arena *arena,
                          pp_shares *chart, pp_error *error)
{
    pp_shares c = {.points = count};
    share_arrays a;
    PP_TRY(check_shares(out, of, count, &c.centre, error));
    PP_TRY(take_share_arrays(count, arena, &a, error));
    for (size_t i = 0; i < count; i++) a.share[i] = out[i] / of[i];
    find_spread(of, count, a.share, &c);
    for (size_t i = 0; i < count; i++) {
        double s = 3 * sqrt(c.centre * (1 - c.centre) / of[i]);
        double wide = c.widened ? c.spread * s : s;
        a.binomial_lower[i] = fmax(0, c.centre - s);
        a.binomial_upper[i] = fmin(1, c.centre + s);
        a.lower[i] = fmax(0, c.centre - wide);
        a.upper[i] = fmin(1, c.centre + wide);
        if (a.share[i] < a.lower[i] || a.share[i] > a.upper[i]) a.beyond[c.beyond.count++] = i + 1;
    }
    c.share = a.share, c.lower = a.lower, c.upper = a.upper;
    c.binomial_lower = a.binomial_lower, c.binomial_upper = a.binomial_upper;
    c.beyond.points = a.beyond;
    *chart = c;
    return PP_OK;
}

enum { TREND_PLATES_MIN = 4 };
static const double TREND_LEVEL = 0.95;
static const double CORRELATION_MOST = 0.95;

/* Lag-1 correlation of what the line leaves. */
static double left_correlation(const double *x, const double *y, size_t count, const pp_trend *t)
{
    double cross = 0, square = 0, last = 0;
    for (size_t i = 0; i < count; i++) {
        double left = y[i] - t->intercept - t->slope * x[i];
        square += left * left;
        if (i) cross += left * last;
        last = left;
    }
    return square > 0 ? cross / square : 0;
}

pp_status pp_trend_fit(const double *x, const double *y, size_t count, pp_trend *trend,
                       pp_error *error)
{
    if (count < TREND_PLATES_MIN)
        return pp_fail(error, PP_ENOTHING,
                       "a trend needs at least %d plates, there %s %zu; add more reports",
                       TREND_PLATES_MIN, count == 1 ? "is" : "are", count);
    double n = (double)count, mx = mean_of(x, count), my = mean_of(y, count);
    double xx = 0, xy = 0, rest = 0;
    for (size_t i = 0; i < count; i++) {
        xx += (x[i] - mx) * (x[i] - mx);
        xy += (x[i] - mx) * (y[i] - my);
    }
    if (!(xx > 0))
        return pp_fail(error, PP_ENOTHING, "all plates have the same date; ask without --days");
    pp_trend t = {.points = count, .slope = xy / xx};
    t.intercept = my - t.slope * mx;
    for (size_t i = 0; i < count; i++) {
        double left = y[i] - my - t.slope * (x[i] - mx);
        rest += left * left;
    }
    t.scatter = sqrt(rest / (n - 2));
    t.standard_error = t.plain_error = t.scatter / sqrt(xx);
    t.autocorrelation = left_correlation(x, y, count, &t);
    if (fabs(t.autocorrelation) > 2 / sqrt(n)) {
        /* bias of r about a line, order 1/n: Marriott and Pope, Biometrika 41 (1954) 390, from
         * memory */
        double rho = fmin((n * t.autocorrelation + 2) / (n - 4), CORRELATION_MOST);
        if (count > TREND_PLATES_MIN && rho > 0) {
            t.standard_error *= sqrt((1 + rho) / (1 - rho));
            t.widened = true;
        }
    }
    bool exact = !(t.standard_error > 0);
    t.p = exact ? (t.slope == 0 ? 1 : 0) : pp_student_two_sided(t.slope / t.standard_error, n - 2);
    double half = pp_student_quantile(0.5 + 0.5 * TREND_LEVEL, n - 2) * t.standard_error;
    t.lower = t.slope - half, t.upper = t.slope + half;
    *trend = t;
    return PP_OK;
}

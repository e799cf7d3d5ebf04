/* How long tools last: the spread of their lines about the mean line. */
#include <math.h>

#include "base/quantiles.h"
#include "base/stats.h"
#include "process/capability.h"
#include "process/oneway.h"

static const double CONFIDENCE = 0.95;
static const double LIFE_MOST = 1e9; /* holes: a tool that lasts longer does not wear */
static const double UNLIMITED = 1e8;
enum { BISECTIONS = 200, TOOLS_FOR_LIFE = 2, TOOLS_FOR_SURE = 3 };

typedef struct spread {
    const pp_tool_line *lines;
    size_t count;
    double scatter2, scatter_df; /* within a tool, pooled */
    double z;                    /* of the share */
    bool sure;
} spread;

static bool counts(const pp_tool_line *line) { return line->holes >= PP_TOOL_LINE_HOLES_MIN; }

/* Mean of the lines after k holes, and their variance. */
static double mean_at(const spread *s, double k, double *variance)
{
    double sum = 0, square = 0, n = (double)s->count;
    for (size_t i = 0; i < s->count; i++) sum += s->lines[i].level + s->lines[i].slope * k;
    for (size_t i = 0; i < s->count; i++) {
        double left = s->lines[i].level + s->lines[i].slope * k - sum / n;
        square += left * left;
    }
    *variance = square / (n - 1);
    return sum / n;
}

/* How far from the mean all but the share of the holes lie: of the estimates, or surely. */
static double depth(const spread *s, double variance)
{
    double v = variance + s->scatter2, plain = s->z * sqrt(v);
    if (!s->sure) return plain;
    double n = (double)s->count;
    double mean = pp_student_quantile(CONFIDENCE, n - 1) * sqrt(variance / n);
    double high =
        pp_variance_sum_upper(variance, n - 1, s->scatter2, s->scatter_df, 1 - CONFIDENCE);
    return plain + hypot(mean, s->z * (sqrt(high) - sqrt(v)));
}

/* What is left between the holes and the nearer limit after k holes. */
static double room(const spread *s, double k, double lower, double upper)
{
    double variance, mean = mean_at(s, k, &variance), deep = depth(s, variance);
    double below = isnan(lower) ? INFINITY : mean - deep - lower;
    double above = isnan(upper) ? INFINITY : upper - mean - deep;
    return fmin(below, above);
}

/* The largest k that still has room. The spread of lines is convex in k: once gone, room does not
 * come back. */
static double last_with_room(const spread *s, double lower, double upper)
{
    double low = 0, high = 1;
    if (room(s, 0, lower, upper) < 0) return 0;
    while (room(s, high, lower, upper) >= 0) {
        if (high > LIFE_MOST) return INFINITY;
        low = high, high *= 2;
    }
    for (int i = 0; i < BISECTIONS; i++) {
        double k = 0.5 * (low + high);
        if (k <= low || k >= high) break;
        if (room(s, k, lower, upper) >= 0)
            low = k;
        else
            high = k;
    }
    return low;
}

static void describe(const spread *s, pp_tool_life *f)
{
    double n = (double)s->count, level2 = 0, slope2 = 0;
    for (size_t i = 0; i < s->count; i++) {
        f->level += s->lines[i].level / n, f->slope += s->lines[i].slope / n;
        f->longest = fmax(f->longest, s->lines[i].last);
    }
    for (size_t i = 0; i < s->count; i++) {
        level2 += (s->lines[i].level - f->level) * (s->lines[i].level - f->level);
        slope2 += (s->lines[i].slope - f->slope) * (s->lines[i].slope - f->slope);
    }
    f->level_sd = s->count > 1 ? sqrt(level2 / (n - 1)) : NAN;
    f->slope_sd = s->count > 1 ? sqrt(slope2 / (n - 1)) : NAN;
    f->scatter = sqrt(s->scatter2);
}

pp_status pp_tool_life_find(const pp_tool_line *lines, size_t count, double lower, double upper,
                            double share, pp_tool_life *life, pp_error *error)
{
    if (isnan(lower) && isnan(upper))
        return pp_fail(error, PP_EINPUT, "tool life needs a limit; give --lower, --upper or both");
    if (lower >= upper)
        return pp_fail(error, PP_EINPUT, "--lower is not below --upper; exchange them");
    if (!(share > 0 && share < 0.5))
        return pp_fail(error, PP_EINPUT,
                       "--share is the part of a tool's holes that may be beyond the limit; give a "
                       "number above 0 and below .5, such as 0.01");
    spread s = {.lines = lines, .count = count, .z = -pp_normal_quantile(share)};
    for (size_t i = 0; i < count; i++) {
        if (!counts(&lines[i])) return PP_EINPUT;
        double df = lines[i].holes - 2;
        s.scatter2 += df * lines[i].scatter * lines[i].scatter, s.scatter_df += df;
    }
    if (count == 0)
        return pp_fail(error, PP_ENOTHING,
                       "no report with these conditions has a tool that drilled %d holes in a row; "
                       "give the measured lists columns 'order' and 'tool'",
                       PP_TOOL_LINE_HOLES_MIN);
    s.scatter2 /= s.scatter_df;
    pp_tool_life f = {.tools = count, .life = NAN, .life_sure = NAN};
    describe(&s, &f);
    if (count >= TOOLS_FOR_LIFE) f.life = last_with_room(&s, lower, upper);
    s.sure = true;
    if (count >= TOOLS_FOR_SURE) f.life_sure = last_with_room(&s, lower, upper);
    f.unlimited = f.life > UNLIMITED;
    f.beyond_experience = f.life > f.longest;
    *life = f;
    return PP_OK;
}

#include "causes/wear.h"

#include <math.h>
#include <string.h>

#include "base/stats.h"
#include "causes/robust.h"

enum {
    WINDOW = 9,
    RUN_MIN = 8,
    PLACES_MAX = 5000, /* optimal partitioning takes the square of the places it looks at */
    STARTS = 6,
    BLOCK_SMALL = 50, /* holes: the life of a tool does not grow with the plate */
    TURNS_MAX = 12    /* partition and slope in turn */
};
static const double WILD = 4.5;
static const double STEEPER = 1.5; /* blocks with a change in them pull the median towards none */
static const double PENALTY_LOG = 3, PENALTY_CONSTANT = 6;
static const double CHANGE_PLACES = 4, CHANGE_ALPHA = 0.0125;
static const double CLIP = 3.5; /* of a difference, in robust standard deviations */
static const double CORRELATION_SIGNIFICANT = 4.67; /* 3.3 standard errors, sqrt(2 / n) each */
static const double CORRELATION_MOST = 0.9;
static const double NOISE_FLOOR = 1e-6; /* mm */

typedef struct sums { /* of the first k holes */
    double *y, *yy, *ty;
} sums;

typedef struct runs { /* run r: holes first[r] .. first[r + 1] - 1 */
    size_t count;
    size_t *first; /* [count + 1] */
} runs;

typedef struct within { /* sums of squares about the means of the runs */
    double yy, ty, tt;
} within;

typedef struct opening { /* where a run may begin, as long as it may */
    size_t at, closes;
} opening;

typedef struct partition_room { /* [places + 1] each */
    double *best, *first, *square, *total;
    size_t *from, *hole;
    opening *open;
} partition_room;

typedef struct analysis {
    size_t count, stride;
    double *y;    /* without wild values, about their median */
    double noise; /* variance of one diameter */
    double widen; /* how much variances of means grow with the correlation */
    double penalty;
    size_t wild;
    sums sums;
    partition_room room;
    double *spare;
} analysis;

/* --- wild values, noise ------------------------------------------------------------------- */

double pp_wear_local_median(const double *y, size_t count, size_t at)
{
    double sorted[WINDOW];
    for (int k = 0; k < WINDOW; k++) {
        long i = (long)at + k - WINDOW / 2;
        while (i < 0 || i >= (long)count) /* reflect at the ends */
            i = i < 0 ? -i : 2 * ((long)count - 1) - i;
        int place = k;
        for (; place > 0 && sorted[place - 1] > y[i]; place--) sorted[place] = sorted[place - 1];
        sorted[place] = y[i];
    }
    return sorted[WINDOW / 2];
}

static void set_wild_aside(analysis *a, const double *diameter)
{
    size_t n = a->count;
    for (size_t i = 0; i < n; i++) {
        a->y[i] = pp_wear_local_median(diameter, n, i);
        a->spare[i] = fabs(diameter[i] - a->y[i]);
    }
    double sigma = fmax(PP_MAD_TO_SIGMA * pp_median(a->spare, n), NOISE_FLOOR);
    for (size_t i = 0; i < n; i++) {
        if (fabs(diameter[i] - a->y[i]) <= WILD * sigma)
            a->y[i] = diameter[i];
        else
            a->wild++;
    }
    memcpy(a->spare, a->y, n * sizeof *a->spare);
    double centre = pp_median(a->spare, n);
    for (size_t i = 0; i < n; i++) a->y[i] -= centre; /* small numbers, exact sums */
}

/* Variance of differences at a lag; the steps at tool changes count no more than CLIP deviations.
 */
static double difference_variance(const analysis *a, size_t lag)
{
    size_t n = a->count - lag;
    for (size_t i = 0; i < n; i++) a->spare[i] = a->y[i + lag] - a->y[i];
    double centre = pp_median(a->spare, n);
    for (size_t i = 0; i < n; i++) a->spare[i] = fabs(a->y[i + lag] - a->y[i] - centre);
    double most = CLIP * fmax(PP_MAD_TO_SIGMA * pp_median(a->spare, n), NOISE_FLOOR), sum = 0;
    for (size_t i = 0; i < n; i++) {
        double step = fmin(fabs(a->y[i + lag] - a->y[i] - centre), most);
        sum += step * step;
    }
    return fmax(sum / (double)n, 2 * NOISE_FLOOR * NOISE_FLOOR);
}

/* An autoregression of order 1 has difference variances 2 v (1 - rho) at lag 1 and 2 v (1 - rho^2)
 * at lag 2: their ratio is 1 + rho. */
static void find_noise(analysis *a, double *correlation)
{
    double one = difference_variance(a, 1), two = difference_variance(a, 2);
    double rho = fmin(two / one - 1, CORRELATION_MOST);
    *correlation = rho * sqrt((double)a->count) > CORRELATION_SIGNIFICANT ? rho : 0;
    a->noise = one / (2 * (1 - *correlation));
    a->widen = (1 + *correlation) / (1 - *correlation);
    a->penalty = (PENALTY_LOG * log((double)a->count) + PENALTY_CONSTANT) * a->noise * a->widen;
}

/* --- runs --------------------------------------------------------------------------------- */

static void sum_up(analysis *a)
{
    double middle = 0.5 * (double)(a->count - 1);
    a->sums.y[0] = a->sums.yy[0] = a->sums.ty[0] = 0;
    for (size_t i = 0; i < a->count; i++) {
        double y = a->y[i], t = (double)i - middle;
        a->sums.y[i + 1] = a->sums.y[i] + y;
        a->sums.yy[i + 1] = a->sums.yy[i] + y * y;
        a->sums.ty[i + 1] = a->sums.ty[i] + t * y;
    }
}

/* Sums of squares of holes begin .. end - 1 about their means. */
static within about_means(const analysis *a, size_t begin, size_t end)
{
    double n = (double)(end - begin);
    double t = 0.5 * ((double)begin + (double)end - (double)a->count);
    double y = (a->sums.y[end] - a->sums.y[begin]) / n;
    return (within){a->sums.yy[end] - a->sums.yy[begin] - n * y * y,
                    a->sums.ty[end] - a->sums.ty[begin] - n * t * y, n * (n * n - 1) / 12};
}

static double cost(within w, double slope)
{
    return w.yy - 2 * slope * w.ty + slope * slope * w.tt;
}

static within within_runs(const analysis *a, const runs *r)
{
    within sum = {0, 0, 0};
    for (size_t k = 0; k < r->count; k++) {
        within w = about_means(a, r->first[k], r->first[k + 1]);
        sum.yy += w.yy, sum.ty += w.ty, sum.tt += w.tt;
    }
    return sum;
}

/* Sums of the diameters with the slope taken out, before each place. */
static void fill_places(const analysis *a, double slope)
{
    const partition_room *r = &a->room;
    size_t places = a->count / a->stride;
    double middle = 0.5 * (double)(a->count - 1);
    for (size_t j = 0; j <= places; j++) {
        size_t at = r->hole[j] = j == places ? a->count : j * a->stride;
        double n = (double)at, t = n * (0.5 * (n - 1) - middle); /* sums of t, and of t^2 */
        double tt = n * (n * n - 1) / 12 + t * t / fmax(n, 1);
        r->first[j] = a->sums.y[at] - slope * t;
        r->square[j] = a->sums.yy[at] - 2 * slope * a->sums.ty[at] + slope * slope * tt;
    }
}

/* Optimal partitioning at one slope: best[j] is the least penalised cost of the places before j,
 * and from[j] where its last run begins. A start that is no better than best[j] even without a
 * penalty can't win once j itself may begin a run (pruning of Killick, Fearnhead & Eckley, JASA 107
 * (2012) 1590). */
static void partition(const analysis *a, double slope, runs *r)
{
    size_t places = a->count / a->stride, least = (RUN_MIN + a->stride - 1) / a->stride, open = 0;
    const partition_room *p = &a->room;
    fill_places(a, slope);
    p->best[0] = -a->penalty;
    for (size_t j = 1; j <= places; j++) {
        p->best[j] = INFINITY, p->from[j] = 0;
        if (j < least) continue;
        p->open[open++] = (opening){j - least, SIZE_MAX};
        double first = p->first[j], hole = (double)p->hole[j], low = INFINITY;
        size_t low_at = 0, kept = 0;
        for (size_t k = 0; k < open; k++) {
            size_t i = p->open[k].at;
            double sum = first - p->first[i];
            double total = p->best[i] - p->square[i] - sum * sum / (hole - (double)p->hole[i]);
            p->total[k] = total;
            if (total < low) low = total, low_at = i;
        }
        p->best[j] = low + p->square[j] + a->penalty;
        p->from[j] = low_at;
        for (size_t k = 0; k < open; k++) {
            opening o = p->open[k];
            if (o.closes == SIZE_MAX && p->total[k] >= low + a->penalty) o.closes = j + least;
            if (o.closes > j + 1) p->open[kept++] = o;
        }
        open = kept;
    }
    r->count = 0;
    for (size_t j = places; j > 0; j = p->from[j]) r->count++;
    r->first[r->count] = a->count;
    for (size_t j = places, k = r->count; j > 0; j = p->from[j])
        r->first[--k] = p->from[j] * a->stride;
}

/* Move each change to the best hole within a stride of where it is. */
static void settle_changes(const analysis *a, double slope, runs *r)
{
    if (a->stride == 1) return;
    for (size_t k = 1; k < r->count; k++) {
        size_t begin = r->first[k - 1], end = r->first[k + 1], at = r->first[k], best_at = at;
        double best = INFINITY;
        for (size_t i = at - a->stride; i <= at + a->stride; i++) {
            if (i < begin + RUN_MIN || i + RUN_MIN > end) continue;
            double total =
                cost(about_means(a, begin, i), slope) + cost(about_means(a, i, end), slope);
            if (total < best) best = total, best_at = i;
        }
        r->first[k] = best_at;
    }
}

static double slope_of(const analysis *a, const runs *r)
{
    within w = within_runs(a, r);
    return w.ty / w.tt;
}

/* Median of the slopes of overlapping blocks: most blocks see one tool only. */
static double block_slope(const analysis *a, size_t block)
{
    if (block < 2 * RUN_MIN) block = 2 * RUN_MIN;
    size_t n = 0;
    for (size_t begin = 0; begin + block <= a->count; begin += block / 4) {
        within w = about_means(a, begin, begin + block);
        a->spare[n++] = w.ty / w.tt;
    }
    return n ? pp_median(a->spare, n) : 0;
}

static void copy_runs(runs *to, const runs *from)
{
    to->count = from->count;
    memcpy(to->first, from->first, (from->count + 1) * sizeof *from->first);
}

static bool same_runs(const runs *a, const runs *b)
{
    return a->count == b->count && !memcmp(a->first, b->first, a->count * sizeof *a->first);
}

/* Runs and slope in turn, from several slopes; the least penalised cost wins. */
static void find_runs(const analysis *a, runs *now, runs *before, runs *best)
{
    size_t small = a->count / 20;
    double fine = small > BLOCK_SMALL ? block_slope(a, BLOCK_SMALL) : NAN;
    double start[STARTS] = {block_slope(a, a->count / 5),
                            block_slope(a, a->count / 10),
                            block_slope(a, small),
                            0,
                            fine,
                            STEEPER * fine};
    double least = INFINITY;
    best->count = 0;
    for (int k = 0; k < STARTS; k++) {
        double slope = start[k];
        if (isnan(slope)) continue;
        before->count = 0;
        for (int turn = 0; turn < TURNS_MAX; turn++) {
            partition(a, slope, now);
            settle_changes(a, slope, now);
            slope = slope_of(a, now);
            if (same_runs(now, before) || same_runs(now, best)) break;
            copy_runs(before, now);
        }
        double total = cost(within_runs(a, now), slope) + a->penalty * (double)(now->count - 1);
        if (total < least) least = total, copy_runs(best, now);
    }
}

/* --- tests -------------------------------------------------------------------------------- */

static double rest_of(within w) { return fmax(w.yy - w.ty * w.ty / w.tt, 0); }

static double freedom(const analysis *a, const runs *r)
{
    return (double)a->count - (double)r->count - 1 - (double)a->wild;
}

static double variance(const analysis *a, const runs *r)
{
    return fmax(rest_of(within_runs(a, r)) / freedom(a, r), NOISE_FLOOR * NOISE_FLOOR);
}

/* p of change k (between runs k - 1 and k), uncorrected: the F test of joining the two. */
static double change_p(const analysis *a, const runs *r, size_t k)
{
    within apart = within_runs(a, r), joined = apart;
    within left = about_means(a, r->first[k - 1], r->first[k]);
    within right = about_means(a, r->first[k], r->first[k + 1]);
    within both = about_means(a, r->first[k - 1], r->first[k + 1]);
    joined.yy += both.yy - left.yy - right.yy;
    joined.ty += both.ty - left.ty - right.ty;
    joined.tt += both.tt - left.tt - right.tt;
    double gain = rest_of(joined) - rest_of(apart);
    return pp_fisher_upper(gain / (variance(a, r) * a->widen), 1, freedom(a, r));
}

/* Drop the least sure change until all that are left hold; the surest one's p, corrected. */
static double drop_unsure_changes(const analysis *a, runs *r)
{
    double factor = CHANGE_PLACES * (double)a->count;
    while (r->count > 1) {
        double worst = -1, surest = 1;
        size_t worst_at = 0;
        for (size_t k = 1; k < r->count; k++) {
            double p = change_p(a, r, k);
            if (p > worst) worst = p, worst_at = k;
            surest = fmin(surest, p);
        }
        if (worst * factor <= CHANGE_ALPHA) return fmin(1, surest * factor);
        r->count--;
        memmove(&r->first[worst_at], &r->first[worst_at + 1],
                (r->count + 1 - worst_at) * sizeof r->first[0]);
    }
    return 1;
}

static void measure_runs(const analysis *a, const runs *r, pp_wear *w)
{
    double last_level = 0;
    for (size_t k = 0; k < r->count; k++) {
        size_t begin = r->first[k], end = r->first[k + 1];
        double n = (double)(end - begin);
        double level = (a->sums.y[end] - a->sums.y[begin]) / n -
                       w->slope * 0.5 * (double)(begin + end - 1); /* of the line at hole 0 */
        double step = k > 0 ? level - last_level : 0;
        if (fabs(step) > fabs(w->largest_step)) w->largest_step = step;
        last_level = level;
        w->longest_run = fmax(w->longest_run, n);
    }
}

static pp_status take_runs(size_t count, pp_arena *scratch, runs *r, pp_error *error)
{
    PP_TAKE(r->first, scratch, count / RUN_MIN + 2);
    r->count = 0;
    return PP_OK;
}

static pp_status take_analysis(size_t count, pp_arena *scratch, analysis *a, pp_error *error)
{
    *a = (analysis){.count = count, .stride = (count + PLACES_MAX - 1) / PLACES_MAX};
    PP_TAKE(a->y, scratch, count);
    PP_TAKE(a->spare, scratch, count);
    PP_TAKE(a->sums.y, scratch, count + 1);
    PP_TAKE(a->sums.yy, scratch, count + 1);
    PP_TAKE(a->sums.ty, scratch, count + 1);
    size_t places = count / a->stride + 2;
    PP_TAKE(a->room.best, scratch, places);
    PP_TAKE(a->room.first, scratch, places);
    PP_TAKE(a->room.square, scratch, places);
    PP_TAKE(a->room.total, scratch, places);
    PP_TAKE(a->room.from, scratch, places);
    PP_TAKE(a->room.hole, scratch, places);
    PP_TAKE(a->room.open, scratch, places);
    return PP_OK;
}

static pp_status find(size_t count, const double *diameter, pp_arena *arena, pp_arena *scratch,
                      pp_wear *wear, pp_error *error)
{
    analysis a;
    runs now, before, best;
    PP_TRY(take_analysis(count, scratch, &a, error));
    PP_TRY(take_runs(count, scratch, &now, error));
    PP_TRY(take_runs(count, scratch, &before, error));
    PP_TRY(take_runs(count, scratch, &best, error));
    pp_wear w = {0};
    set_wild_aside(&a, diameter);
    find_noise(&a, &w.correlation);
    sum_up(&a);
    find_runs(&a, &now, &before, &best);
    w.change_p = drop_unsure_changes(&a, &best);

    within sum = within_runs(&a, &best);
    double s2 = variance(&a, &best);
    w.slope = sum.ty / sum.tt;
    w.standard_error = sqrt(s2 * a.widen / sum.tt);
    w.df = freedom(&a, &best);
    w.p = pp_student_two_sided(w.slope / w.standard_error, w.df);
    w.scatter = sqrt(s2);
    w.wild = a.wild;
    measure_runs(&a, &best, &w);
    w.change_count = best.count - 1;
    PP_TAKE(w.changes, arena, w.change_count);
    for (size_t k = 0; k < w.change_count; k++) w.changes[k] = (uint32_t)best.first[k + 1];
    *wear = w;
    return PP_OK;
}

pp_status pp_wear_find(size_t count, const double *diameter, pp_arena *arena, pp_arena *scratch,
                       pp_wear *wear, pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    pp_status status = find(count, diameter, arena, scratch, wear, error);
    pp_arena_release(scratch, mark);
    return status;
}

/* Least-squares plane: triangles of centred chunks, merged in a fixed order. */
#include <float.h>
#include <string.h>

#include "base/parallel.h"
#include "linalg/linalg.h"
#include "planes/plane_pass.h"

enum { ROWS_MAX = PP_PASS_BLOCK };

/* Points seen so far: how many, their mean (about the shift), and the triangle R with
 * R'R = sum (p - mean)(p - mean)', column-major. */
typedef struct moments {
    double count;
    double mean[3];
    double triangle[9];
} moments;

/* Three columns of a block, padded with zero rows to whole lanes. */
typedef struct columns {
    _Alignas(64) double c[3][ROWS_MAX];
    size_t rows;
} columns;

/* Householder reflection of one column: v = column, with v[first] replaced; I - v v' / scale. */
typedef struct reflection {
    double pivot; /* what the column becomes */
    double head;  /* v[first] */
    double scale;
} reflection;

static double lanes_sum(const double s[PP_PASS_LANES])
{
    return ((s[0] + s[1]) + (s[2] + s[3])) + ((s[4] + s[5]) + (s[6] + s[7]));
}

static double dot(const double *restrict a, const double *restrict b, size_t rows)
{
    double s[PP_PASS_LANES] = {0};
    for (size_t i = 0; i < rows; i += PP_PASS_LANES)
        for (size_t l = 0; l < PP_PASS_LANES; l++) s[l] += a[i + l] * b[i + l];
    return lanes_sum(s);
}

static double sum_of_squares(const double *a, size_t rows)
{
    double s[PP_PASS_LANES] = {0};
    for (size_t i = 0; i < rows; i += PP_PASS_LANES)
        for (size_t l = 0; l < PP_PASS_LANES; l++) s[l] += a[i + l] * a[i + l];
    return lanes_sum(s);
}

static void subtract_scaled(double *restrict a, double factor, const double *restrict v,
                            size_t rows)
{
    for (size_t i = 0; i < rows; i++) a[i] -= factor * v[i];
}

static reflection reflect(double head, double square)
{
    double norm = sqrt(square);
    double pivot = head > 0 ? -norm : norm; /* the sign that does not cancel in head - pivot */
    return (reflection){pivot, head - pivot, pivot * (pivot - head)};
}

/* R of the columns by three Householder reflections; the columns are overwritten. A reflected row
 * is taken out by setting it to zero, so every loop runs over whole lanes. */
static void triangularise(columns *a, double r[9])
{
    memset(r, 0, 9 * sizeof *r);
    for (size_t k = 0; k < 3; k++) {
        double square = sum_of_squares(a->c[k], a->rows);
        if (square == 0) continue; /* r[k][k] is 0, and row k of the rest lies in later rows */
        reflection h = reflect(a->c[k][k], square);
        a->c[k][k] = h.head;
        r[4 * k] = h.pivot;
        for (size_t j = k + 1; j < 3; j++) {
            double factor = dot(a->c[k], a->c[j], a->rows) / h.scale;
            subtract_scaled(a->c[j], factor, a->c[k], a->rows);
            r[3 * j + k] = a->c[j][k];
            a->c[j][k] = 0;
        }
    }
}

/* Fold `more` into `all`: R of [R_all; R_more; sqrt(na nb/(na + nb)) (mean_more - mean_all)]. */
static void merge(moments *all, const moments *more)
{
    if (more->count == 0) return;
    if (all->count == 0) {
        *all = *more;
        return;
    }
    double total = all->count + more->count;
    double weight = sqrt(all->count * (more->count / total));
    columns stack = {.rows = PP_PASS_LANES};
    for (size_t j = 0; j < 3; j++) {
        double step = more->mean[j] - all->mean[j];
        memset(stack.c[j], 0, PP_PASS_LANES * sizeof(double));
        memcpy(stack.c[j], all->triangle + 3 * j, 3 * sizeof(double));
        memcpy(stack.c[j] + 3, more->triangle + 3 * j, 3 * sizeof(double));
        stack.c[j][6] = weight * step;
        all->mean[j] += step * (more->count / total);
    }
    all->count = total;
    triangularise(&stack, all->triangle);
}

static void centre_column(const double *values, double shift, size_t count, size_t rows,
                          double *column, double *mean)
{
    for (size_t i = 0; i < count; i++) column[i] = values[i] - shift;
    for (size_t i = count; i < rows; i++) column[i] = 0;
    double s[PP_PASS_LANES] = {0};
    for (size_t i = 0; i < rows; i += PP_PASS_LANES)
        for (size_t l = 0; l < PP_PASS_LANES; l++) s[l] += column[i + l];
    *mean = lanes_sum(s) / (double)count;
    for (size_t i = 0; i < count; i++) column[i] -= *mean;
}

static void block_moments(const pp_points *points, const double shift[3], pp_pass_block block,
                          columns *work, moments *m)
{
    const double *axes[3] = {points->x, points->y, points->z};
    work->rows = (block.count + PP_PASS_LANES - 1) / PP_PASS_LANES * PP_PASS_LANES;
    m->count = (double)block.count;
    for (int j = 0; j < 3; j++)
        centre_column(axes[j] + block.begin, shift[j], block.count, work->rows, work->c[j],
                      &m->mean[j]);
    triangularise(work, m->triangle);
}

typedef struct fit_pass {
    const pp_points *points;
    double shift[3];
    moments *parts;
} fit_pass;

static pp_status fit_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    fit_pass *pass = context;
    columns work;
    moments sum = {0};
    size_t blocks = pp_pass_blocks(pass->points->count, part);
    for (size_t b = 0; b < blocks; b++) {
        moments m;
        block_moments(pass->points, pass->shift, pp_pass_block_of(pass->points->count, part, b),
                      &work, &m);
        merge(&sum, &m);
    }
    pass->parts[part] = sum;
    return PP_OK;
}

/* Median of up to SAMPLE evenly spread values: a centre that a few wild rows cannot carry off. */
static double central_value(const double *values, size_t count)
{
    enum { SAMPLE = 31 };
    double sorted[SAMPLE] = {0};
    size_t n = count < SAMPLE ? count : SAMPLE;
    for (size_t i = 0; i < n; i++) {
        double value = values[pp_part_begin(count, n, i)];
        size_t k = i;
        for (; k > 0 && sorted[k - 1] > value; k--) sorted[k] = sorted[k - 1];
        sorted[k] = value;
    }
    return sorted[n / 2];
}

typedef struct deviations {
    double sum_of_squares;
    double lowest, highest;
    size_t lowest_at, highest_at;
} deviations;

typedef struct deviation_pass {
    const pp_points *points;
    pp_pass_plane plane;
    deviations *parts;
} deviation_pass;

static void widen(deviations *all, const deviations *more)
{
    all->sum_of_squares += more->sum_of_squares;
    if (more->highest > all->highest)
        all->highest = more->highest, all->highest_at = more->highest_at;
    if (more->lowest < all->lowest) all->lowest = more->lowest, all->lowest_at = more->lowest_at;
}

static pp_status deviation_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    deviation_pass *pass = context;
    _Alignas(64) double height[PP_PASS_BLOCK];
    deviations sum = {.lowest = INFINITY, .highest = -INFINITY};
    size_t blocks = pp_pass_blocks(pass->points->count, part);
    for (size_t b = 0; b < blocks; b++) {
        pp_pass_block block = pp_pass_block_of(pass->points->count, part, b);
        pp_pass_heights(pass->points, &pass->plane, block, height);
        pp_pass_extremes e = pp_pass_block_extremes(height, block.count);
        deviations d = {.lowest = e.lowest, .highest = e.highest};
        if (d.highest > sum.highest) d.highest_at = block.begin + pp_pass_find(height, d.highest);
        if (d.lowest < sum.lowest) d.lowest_at = block.begin + pp_pass_find(height, d.lowest);
        size_t whole = block.count / PP_PASS_LANES * PP_PASS_LANES;
        d.sum_of_squares = sum_of_squares(height, whole);
        for (size_t i = whole; i < block.count; i++) d.sum_of_squares += height[i] * height[i];
        widen(&sum, &d);
    }
    pass->parts[part] = sum;
    return PP_OK;
}

void pp_plane_orient(double normal[3], const double up[3])
{
    const double parallel = 1e-9;
    double along = normal[0] * up[0] + normal[1] * up[1] + normal[2] * up[2];
    if (fabs(along) <= parallel) {
        int largest = 0;
        for (int k = 1; k < 3; k++)
            if (fabs(normal[k]) > fabs(normal[largest])) largest = k;
        along = normal[largest];
    }
    for (int k = 0; along < 0 && k < 3; k++) normal[k] = -normal[k];
}

static double largest_of(const double *values, int count)
{
    double largest = 0;
    for (int i = 0; i < count; i++) {
        if (isnan(values[i])) return values[i];
        largest = fmax(largest, fabs(values[i]));
    }
    return largest;
}

static pp_status check_size(const moments *all, const double shift[3], pp_error *error)
{
    const double largest_usable = 1e100;
    if (largest_of(shift, 3) < largest_usable && largest_of(all->triangle, 9) < largest_usable)
        return PP_OK;
    return pp_fail(error, PP_EINPUT,
                   "the survey has coordinates too large to compute with; check its numbers");
}

static pp_status check_spread(const moments *all, const double shift[3], const double s[3],
                              pp_error *error)
{
    double size = s[0] + largest_of(shift, 3);
    /* each of n coordinates is rounded by up to half an ulp of `size` */
    if (s[1] <= 4 * DBL_EPSILON * size * sqrt(all->count))
        return pp_fail(error, PP_EINPUT,
                       "all survey points lie in one line; a plane needs points spread over the "
                       "plate");
    return PP_OK;
}

/* Normal from the triangle of all points. */
static pp_status find_normal(const moments *all, const double shift[3], const double up[3],
                             double normal[3], pp_error *error)
{
    double r[9], s[3], v[9];
    PP_TRY(check_size(all, shift, error));
    memcpy(r, all->triangle, sizeof r);
    PP_TRY(pp_svd_right(3, r, s, v, error));
    PP_TRY(check_spread(all, shift, s, error));
    double length = sqrt(v[6] * v[6] + v[7] * v[7] + v[8] * v[8]);
    for (int k = 0; k < 3; k++) normal[k] = v[6 + k] / length;
    pp_plane_orient(normal, up);
    return PP_OK;
}

static pp_status fit(const pp_points *points, const double up[3], int threads, pp_memory *memory,
                     pp_least_squares *result, pp_error *error)
{
    size_t parts = pp_pass_parts(points->count);
    fit_pass first = {points,
                      {central_value(points->x, points->count),
                       central_value(points->y, points->count),
                       central_value(points->z, points->count)},
                      NULL};
    PP_TAKE(first.parts, &memory->scratch, parts);
    PP_TRY(pp_parallel(threads, parts, fit_part, &first, error));
    moments all = {0};
    for (size_t i = 0; i < parts; i++) merge(&all, &first.parts[i]);

    deviation_pass second = {.points = points};
    memcpy(second.plane.shift, first.shift, sizeof first.shift);
    memcpy(second.plane.centre, all.mean, sizeof all.mean);
    PP_TRY(find_normal(&all, first.shift, up, second.plane.normal, error));
    PP_TAKE(second.parts, &memory->scratch, parts);
    PP_TRY(pp_parallel(threads, parts, deviation_part, &second, error));
    deviations d = second.parts[0];
    for (size_t i = 1; i < parts; i++) widen(&d, &second.parts[i]);

    pp_least_squares done = {.peak = fmax(d.highest, 0), .valley = fmax(-d.lowest, 0)};
    for (int k = 0; k < 3; k++) {
        done.plane.point[k] = first.shift[k] + all.mean[k];
        done.plane.normal[k] = second.plane.normal[k];
    }
    done.flatness = done.peak + done.valley;
    done.rms = sqrt(d.sum_of_squares / all.count);
    done.highest = d.highest_at, done.lowest = d.lowest_at;
    *result = done;
    return PP_OK;
}

pp_status pp_plane_least_squares(const pp_points *points, const double up[3], int threads,
                                 pp_memory *memory, pp_least_squares *result, pp_error *error)
{
    if (points->count < 3)
        return pp_fail(error, PP_EINPUT,
                       "the survey has %zu points; a plane needs at least 3, not in one line",
                       points->count);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = fit(points, up, threads, memory, result, error);
    pp_arena_release(&memory->scratch, mark);
    return status;
}

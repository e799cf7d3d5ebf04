#include "holes/robust.h"

#include <math.h>
#include <string.h>

#include "base/parallel.h"
#include "linalg/linalg.h"

enum {
    ITEMS_PER_PART = 2048,
    STRIP = 32,              /* rows made together */
    ROWS_KEPT_MAX = 1 << 18, /* beyond, tens of megabytes: rows are made anew in each pass */
    START_ON = 1 << 17,      /* items at least that a start is taken from, where there are more */
    L1_STEPS_MAX = 100,
    TUKEY_STEPS_MAX = 200,
    PACKED_MAX = PP_ROBUST_TERMS_MAX * (PP_ROBUST_TERMS_MAX + 1) / 2
};
static const double L1_CLOSE = 1e-4;    /* of the mean residual: the start need not be exact */
static const double L1_LEAST = 1e-6;    /* of the mean residual: weights stay finite */
static const double TUKEY_CLOSE = 1e-9; /* of the scale */
static const double STRIDE_MOST = 1.6;
/* Mean squared psi of a normal is .7; less where the scale is at its floor: data without scatter,
 * whose rounding must not pass for precision. */
static const double PSI2_LEAST = 0.1;
static const double AXES_RATIO =
    0.05; /* one axis is never taken for 20 times better than another */
static const double MEDIAN_LENGTH = 1.1774100225154747; /* sqrt(2 ln 2): of two unit normals */

/* SCALED: equal weights of rows divided by the scale of their axis. */
typedef enum weighing { EQUAL, L1, SCALED, TUKEY } weighing;

typedef struct part_sums {
    double normal[PACKED_MAX]; /* lower triangle, row by row */
    double right[PP_ROBUST_TERMS_MAX];
    double length;              /* of residuals */
    double weight;              /* of all items */
    double psi2, slope, slope2; /* of psi^2, psi' averaged over both directions, psi'^2 likewise */
    size_t count, kept;
} part_sums;

typedef struct work {
    const pp_robust_problem *problem;
    pp_robust_fit *fit;
    weighing weighing;
    double least;                     /* L1: least residual length divided by */
    double inverse_square[2];         /* 1 / scale^2 for the normal equations */
    double unit[PP_ROBUST_TERMS_MAX]; /* root mean square of each column: its unit */
    size_t parts;
    part_sums *sums;
    int list[2][PP_ROBUST_TERMS_MAX]; /* the terms an axis has */
    int lists[2];
    int width;    /* of a packed row: the terms x has, those y has, both values */
    double *rows; /* [count * width] packed; NULL: made anew in each pass */
    bool filled;  /* by the first pass */
    size_t step;  /* a pass takes every step-th item */
} work;

/* --- one pass ----------------------------------------------------------------------------- */

static double weigh(const work *w, double x, double y, part_sums *s)
{
    double length = sqrt(x * x + y * y);
    s->length += length;
    if (w->weighing == EQUAL || w->weighing == SCALED) return 1;
    if (w->weighing == L1) return 1 / fmax(length, w->least);
    double dx = x / w->fit->scale[0], dy = y / w->fit->scale[1];
    double d2 = dx * dx + dy * dy, u = d2 / (PP_ROBUST_TUKEY_C * PP_ROBUST_TUKEY_C);
    if (u >= 1) return 0;
    double tangential = (1 - u) * (1 - u), radial = (1 - u) * (1 - 5 * u);
    s->psi2 += d2 * tangential * tangential;
    s->slope += 0.5 * (radial + tangential);
    s->slope2 += 0.5 * (radial * radial + tangential * tangential);
    return tangential;
}

/* A row without the terms an axis has not: a of x, a of y, value of x, value of y. */
static void pack(const work *w, const pp_robust_row *row, double *packed)
{
    for (int axis = 0; axis < 2; axis++)
        for (int j = 0; j < w->lists[axis]; j++) *packed++ = row->a[axis][w->list[axis][j]];
    packed[0] = row->value[0], packed[1] = row->value[1];
}

static void make_rows(const work *w, size_t first, size_t count, double *rows)
{
    const pp_robust_problem *p = w->problem;
    if (p->fill_rows) {
        p->fill_rows(p->context, first, count, rows);
        return;
    }
    for (size_t k = 0; k < count; k++) {
        pp_robust_row row;
        p->fill(p->context, first + k, &row);
        pack(w, &row, rows + k * (size_t)w->width);
    }
}

/* Rows first .. first + count - 1, packed: kept ones, or made anew in `room`. */
static const double *packed_rows(const work *w, size_t first, size_t count, double *room)
{
    if (w->rows) room = &w->rows[first * (size_t)w->width];
    if (!w->rows || !w->filled) make_rows(w, first, count, room);
    return room;
}

/* Sums of one axis, by its own list of terms. */
typedef struct axis_sums {
    double normal[PACKED_MAX], right[PP_ROBUST_TERMS_MAX];
} axis_sums;

static inline void add_products_of(const double *a, int count, double value, double weight,
                                   axis_sums *s)
{
    double *normal = s->normal;
    for (int j = 0; j < count; normal += ++j) {
        double aw = weight * a[j];
        for (int k = 0; k <= j; k++) normal[k] += aw * a[k];
        s->right[j] += aw * value;
    }
}

static void add_products(const double *a, int count, double value, double weight, axis_sums *s)
{
    if (count == 6) /* the usual number without a drilling order, unrolled by the compiler */
        add_products_of(a, 6, value, weight, s);
    else
        add_products_of(a, count, value, weight, s);
}

static void unpack_sums(const work *w, const axis_sums sums[2], part_sums *s)
{
    for (int axis = 0; axis < 2; axis++)
        for (int j = 0; j < w->lists[axis]; j++) {
            int term = w->list[axis][j];
            s->right[term] += sums[axis].right[j];
            for (int k = 0; k <= j; k++)
                s->normal[term * (term + 1) / 2 + w->list[axis][k]] +=
                    sums[axis].normal[j * (j + 1) / 2 + k];
        }
}

typedef struct pass_sums { /* of a part */
    part_sums all;
    axis_sums axis[2];
    double beta[2][PP_ROBUST_TERMS_MAX]; /* by the axis's list */
} pass_sums;

static void take_row(const work *w, size_t i, const double *row, pass_sums *s)
{
    const pp_robust_problem *p = w->problem;
    pp_robust_fit *f = w->fit;
    const double *a[2] = {row, row + w->lists[0]}, *value = row + w->width - 2;
    double rest[2];
    for (int axis = 0; axis < 2; axis++) {
        rest[axis] = value[axis];
        for (int j = 0; j < w->lists[axis]; j++) rest[axis] -= s->beta[axis][j] * a[axis][j];
        f->residual[axis][i] = rest[axis];
    }
    f->weight[i] = 0;
    if (p->left_out && p->left_out[i]) return;
    double weight = f->weight[i] = weigh(w, rest[0], rest[1], &s->all);
    s->all.count++;
    s->all.weight += weight;
    s->all.kept += weight >= PP_ROBUST_MISFIT;
    for (int axis = 0; axis < 2; axis++)
        add_products(a[axis], w->lists[axis], value[axis], weight * w->inverse_square[axis],
                     &s->axis[axis]);
}

/* Residuals and weights at fit->beta, and the sums of the weighted normal equations. */
static pp_status pass_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    work *w = context;
    const pp_robust_problem *p = w->problem;
    pass_sums s = {0};
    double room[STRIP * (2 * PP_ROBUST_TERMS_MAX + 2)];
    for (int axis = 0; axis < 2; axis++)
        for (int j = 0; j < w->lists[axis]; j++) s.beta[axis][j] = w->fit->beta[w->list[axis][j]];
    size_t end = pp_part_begin(p->count, w->parts, part + 1), count;
    for (size_t i = pp_part_begin(p->count, w->parts, part); i < end; i += w->step * count) {
        count = w->step > 1 ? 1 : end - i < STRIP ? end - i : STRIP;
        const double *rows = packed_rows(w, i, count, room);
        for (size_t k = 0; k < count; k++) take_row(w, i + k, rows + k * (size_t)w->width, &s);
    }
    unpack_sums(w, s.axis, &s.all);
    w->sums[part] = s.all;
    return PP_OK;
}

static pp_status pass(work *w, weighing how, part_sums *total, pp_error *error)
{
    w->weighing = how;
    for (int axis = 0; axis < 2; axis++)
        w->inverse_square[axis] =
            how >= SCALED ? 1 / (w->fit->scale[axis] * w->fit->scale[axis]) : 1;
    PP_TRY(pp_parallel(w->problem->threads, w->parts, pass_part, w, error));
    w->filled = true;
    memset(total, 0, sizeof *total);
    for (size_t k = 0; k < w->parts; k++) {
        const part_sums *s = &w->sums[k];
        for (int i = 0; i < PACKED_MAX; i++) total->normal[i] += s->normal[i];
        for (int i = 0; i < PP_ROBUST_TERMS_MAX; i++) total->right[i] += s->right[i];
        total->length += s->length, total->weight += s->weight;
        total->psi2 += s->psi2, total->slope += s->slope, total->slope2 += s->slope2;
        total->count += s->count, total->kept += s->kept;
    }
    return PP_OK;
}

/* --- normal equations --------------------------------------------------------------------- */

/* The normal matrix in units of its columns, factored. */
static pp_status factor(const work *w, const part_sums *s, double *matrix, pp_error *error)
{
    int p = w->problem->terms;
    for (int i = 0; i < p; i++)
        for (int j = 0; j <= i; j++)
            matrix[j * p + i] = matrix[i * p + j] =
                s->normal[i * (i + 1) / 2 + j] / (w->unit[i] * w->unit[j]);
    if (pp_cholesky_factor((size_t)p, matrix, (size_t)p, error) == PP_OK) return PP_OK;
    return pp_fail(error, PP_ENUMERIC,
                   "the error terms cannot be told apart in these holes; measure more of them");
}

/* Solve for the coefficients and go there, or `stride` times as far; *moved is the largest change,
 * in mm (root mean square of a term). */
static pp_status update(work *w, const part_sums *s, double stride, double *moved, pp_error *error)
{
    int p = w->problem->terms;
    double matrix[PP_ROBUST_TERMS_MAX * PP_ROBUST_TERMS_MAX], x[PP_ROBUST_TERMS_MAX];
    PP_TRY(factor(w, s, matrix, error));
    for (int i = 0; i < p; i++) x[i] = s->right[i] / w->unit[i];
    PP_TRY(pp_cholesky_solve((size_t)p, matrix, (size_t)p, 1, x, (size_t)p, error));
    *moved = 0;
    for (int i = 0; i < p; i++) {
        double change = stride * (x[i] / w->unit[i] - w->fit->beta[i]);
        *moved = fmax(*moved, fabs(change) * w->unit[i]);
        w->fit->beta[i] += change;
    }
    return PP_OK;
}

static pp_status invert(const work *w, const part_sums *s, double *inverse, pp_error *error)
{
    int p = w->problem->terms;
    double matrix[PP_ROBUST_TERMS_MAX * PP_ROBUST_TERMS_MAX];
    PP_TRY(factor(w, s, matrix, error));
    memset(inverse, 0, (size_t)(p * p) * sizeof *inverse);
    for (int i = 0; i < p; i++) inverse[i * p + i] = 1;
    PP_TRY(pp_cholesky_solve((size_t)p, matrix, (size_t)p, (size_t)p, inverse, (size_t)p, error));
    for (int i = 0; i < p; i++)
        for (int j = 0; j < p; j++) inverse[i * p + j] /= w->unit[i] * w->unit[j];
    return PP_OK;
}

/* --- steps -------------------------------------------------------------------------------- */

/* Column units, and how many take part. */
static pp_status measure_columns(work *w, pp_error *error)
{
    part_sums s;
    for (int i = 0; i < PP_ROBUST_TERMS_MAX; i++) w->unit[i] = 1;
    w->fit->count = 0;
    for (size_t i = 0; i < w->problem->count; i++)
        w->fit->count += !(w->problem->left_out && w->problem->left_out[i]);
    if (2 * w->fit->count <= (size_t)w->problem->terms)
        return pp_fail(error, PP_ENUMERIC, "%zu holes are too few for %d error terms",
                       w->fit->count, w->problem->terms);
    PP_TRY(pass(w, EQUAL, &s, error));
    for (int i = 0; i < w->problem->terms; i++) {
        double square = s.normal[i * (i + 1) / 2 + i] / (double)s.count;
        if (square > 0) w->unit[i] = sqrt(square);
    }
    return PP_OK;
}

static pp_status start(work *w, pp_error *error)
{
    part_sums s;
    double moved;
    memset(w->fit->beta, 0, sizeof w->fit->beta);
    PP_TRY(pass(w, EQUAL, &s, error));
    PP_TRY(update(w, &s, 1, &moved, error));
    double mean = 0;
    for (int step = 0; step < L1_STEPS_MAX; step++) {
        w->least = fmax(L1_LEAST * mean, PP_ROBUST_SCALE_FLOOR * L1_LEAST);
        PP_TRY(pass(w, L1, &s, error));
        mean = s.length / (double)s.count;
        PP_TRY(update(w, &s, 1, &moved, error));
        if (moved <= L1_CLOSE * mean) break;
    }
    return PP_OK;
}

static pp_status find_scale(work *w, double *room, pp_error *error)
{
    part_sums s;
    pp_robust_fit *f = w->fit;
    PP_TRY(pass(w, EQUAL, &s, error)); /* residuals */
    size_t n = 0;
    const bool *left_out = w->problem->left_out;
    for (int axis = 0; axis < 2; axis++) {
        n = 0;
        for (size_t i = 0; i < w->problem->count; i++)
            if (!left_out || !left_out[i]) room[n++] = fabs(f->residual[axis][i]);
        f->scale[axis] = PP_MAD_TO_SIGMA * pp_median(room, n);
    }
    double most = fmax(f->scale[0], f->scale[1]);
    for (int axis = 0; axis < 2; axis++)
        f->scale[axis] = fmax(f->scale[axis], fmax(AXES_RATIO * most, PP_ROBUST_SCALE_FLOOR));
    n = 0;
    for (size_t i = 0; i < w->problem->count; i++) {
        if (left_out && left_out[i]) continue;
        double dx = f->residual[0][i] / f->scale[0], dy = f->residual[1][i] / f->scale[1];
        room[n++] = sqrt(dx * dx + dy * dy);
    }
    double coordinates = 2 * (double)n;
    double factor =
        pp_median(room, n) / MEDIAN_LENGTH * sqrt(coordinates / (coordinates - w->problem->terms));
    for (int axis = 0; axis < 2; axis++)
        f->scale[axis] = fmax(f->scale[axis] * factor, PP_ROBUST_SCALE_FLOOR);
    return PP_OK;
}

/* Reweighted steps fall short by the ratio of mean psi' to mean weight; stretched by its inverse
 * they are Newton's steps with the mean slope (Huber & Ronchetti, 7.8), and a few are enough.
 * Should one be longer than the one before, plain steps finish. */
static pp_status fit_biweight(work *w, pp_error *error)
{
    part_sums s;
    double moved, before = INFINITY, least = fmin(w->fit->scale[0], w->fit->scale[1]);
    bool stretch = true;
    for (int step = 0; step < TUKEY_STEPS_MAX; step++) {
        PP_TRY(pass(w, TUKEY, &s, error));
        double stride = stretch && s.slope > 0 ? fmin(s.weight / s.slope, STRIDE_MOST) : 1;
        PP_TRY(update(w, &s, stride, &moved, error));
        if (moved <= TUKEY_CLOSE * least) break;
        stretch = stretch && moved <= before;
        before = moved;
    }
    return PP_OK;
}

static pp_status find_errors(work *w, pp_error *error)
{
    pp_robust_fit *f = w->fit;
    part_sums s;
    int p = w->problem->terms;
    PP_TRY(pass(w, SCALED, &s, error));
    PP_TRY(invert(w, &s, f->inverse, error));
    PP_TRY(pass(w, TUKEY, &s, error)); /* leaves weights and residuals as they are at the end */
    double count = (double)s.count, coordinates = 2 * count;
    f->kept = s.kept;
    f->df = 2 * (double)s.kept - p;
    f->slope = s.slope / count;
    double variance = s.slope2 / count - f->slope * f->slope;
    f->small = 1 + p / coordinates * variance / (f->slope * f->slope);
    double psi2 = fmax(s.psi2 / (coordinates - p), PSI2_LEAST);
    double factor = psi2 / (f->slope * f->slope) * f->small * f->small;
    for (int i = 0; i < p * p; i++) f->covariance[i] = factor * f->inverse[i];
    return PP_OK;
}

static void list_terms(work *w)
{
    for (int axis = 0; axis < 2; axis++)
        for (int term = 0; term < w->problem->terms; term++)
            if (w->problem->has[axis][term]) w->list[axis][w->lists[axis]++] = term;
    w->width = w->lists[0] + w->lists[1] + 2;
}

static pp_status solve(work *w, bool from_beta, double *room, pp_error *error)
{
    /* units and start need not come from every one of a million holes */
    w->step = w->rows ? 1 : w->problem->count / START_ON;
    if (w->step == 0) w->step = 1;
    PP_TRY(measure_columns(w, error));
    if (!from_beta) PP_TRY(start(w, error));
    w->step = 1;
    PP_TRY(find_scale(w, room, error));
    PP_TRY(fit_biweight(w, error));
    return find_errors(w, error);
}

pp_status pp_robust_solve(const pp_robust_problem *problem, bool from_beta, pp_arena *scratch,
                          pp_robust_fit *fit, pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    work w = {.problem = problem, .fit = fit, .parts = problem->count / ITEMS_PER_PART + 1};
    double *room;
    PP_TAKE(w.sums, scratch, w.parts);
    PP_TAKE(room, scratch, problem->count);
    list_terms(&w);
    if (problem->count <= ROWS_KEPT_MAX) PP_TAKE(w.rows, scratch, problem->count * (size_t)w.width);
    pp_status status = solve(&w, from_beta, room, error);
    pp_arena_release(scratch, mark);
    return status;
}

/* --- median ------------------------------------------------------------------------------- */

static void swap(double *a, double *b)
{
    double keep = *a;
    *a = *b;
    *b = keep;
}

/* Put the k-th smallest at v[k], smaller ones before it, larger ones behind (Hoare's selection). */
static void select_kth(double *v, size_t count, size_t k)
{
    size_t low = 0, high = count - 1;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (v[middle] < v[low]) swap(&v[middle], &v[low]);
        if (v[high] < v[low]) swap(&v[high], &v[low]);
        if (v[high] < v[middle]) swap(&v[high], &v[middle]);
        double pivot = v[middle];
        size_t i = low, j = high;
        while (i <= j) {
            while (v[i] < pivot) i++;
            while (v[j] > pivot) j--;
            if (i > j) break;
            swap(&v[i], &v[j]);
            i++;
            if (j-- == 0) break;
        }
        if (k <= j && j < high)
            high = j;
        else if (k >= i)
            low = i;
        else
            return;
    }
}

double pp_median(double *v, size_t count)
{
    if (count == 0) return NAN;
    size_t k = count / 2;
    select_kth(v, count, k);
    if (count % 2) return v[k];
    double below = v[0];
    for (size_t i = 1; i < k; i++) below = v[i] > below ? v[i] : below;
    return 0.5 * (below + v[k]);
}

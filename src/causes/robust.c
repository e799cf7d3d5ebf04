#include "causes/robust.h"

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

typedef enum weighing { EQUAL, L1, TUKEY } weighing;

/* Lower triangle of the normal matrix, row by row, and the right side. */
typedef struct equations {
    double normal[PACKED_MAX], right[PP_ROBUST_TERMS_MAX];
} equations;

typedef struct pass_sums {
    equations axis[2];          /* by the axis's own list of terms */
    double length;              /* of residuals */
    double weight;              /* of all items */
    double psi2, slope, slope2; /* of psi^2, psi' averaged over both directions, psi'^2 likewise */
    size_t count, kept;
} pass_sums;

typedef struct work {
    const pp_robust_problem *problem;
    pp_robust_fit *fit;
    weighing weighing;
    double least;                     /* L1: least residual length divided by */
    double unit[PP_ROBUST_TERMS_MAX]; /* root mean square of each column: its unit */
    size_t parts;
    double *sums;                     /* [parts][sums_width] of each part: put_sums */
    pass_sums equal;                  /* of all holes with equal weights */
    int list[2][PP_ROBUST_TERMS_MAX]; /* the terms an axis has */
    int lists[2];
    int width;    /* of a packed row: the terms x has, those y has, both values */
    double *rows; /* [count * width] packed; NULL: made anew in each pass */
    bool filled;  /* by the first pass */
    size_t step;  /* a pass takes every step-th strip */
} work;

/* --- one pass ----------------------------------------------------------------------------- */

static double weigh(const work *w, double x, double y, pass_sums *s)
{
    double length = sqrt(x * x + y * y);
    s->length += length;
    if (w->weighing == EQUAL) return 1;
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

static inline void add_products_of(const double *a, int count, double value, double weight,
                                   equations *s)
{
    double *normal = s->normal;
    for (int j = 0; j < count; normal += ++j) {
        double aw = weight * a[j];
        for (int k = 0; k <= j; k++) normal[k] += aw * a[k];
        s->right[j] += aw * value;
    }
}

static void add_products(const double *a, int count, double value, double weight, equations *s)
{
    if (count == 6) /* the usual number without a drilling order, unrolled by the compiler */
        add_products_of(a, 6, value, weight, s);
    else
        add_products_of(a, count, value, weight, s);
}

static void take_row(const work *w, double beta[2][PP_ROBUST_TERMS_MAX], size_t i,
                     const double *row, pass_sums *s)
{
    const pp_robust_problem *p = w->problem;
    pp_robust_fit *f = w->fit;
    const double *a[2] = {row, row + w->lists[0]}, *value = row + w->width - 2;
    double rest[2];
    for (int axis = 0; axis < 2; axis++) {
        rest[axis] = value[axis];
        for (int j = 0; j < w->lists[axis]; j++) rest[axis] -= beta[axis][j] * a[axis][j];
        f->residual[axis][i] = rest[axis];
    }
    f->weight[i] = 0;
    if (p->left_out && p->left_out[i]) return;
    double weight = f->weight[i] = weigh(w, rest[0], rest[1], s);
    s->count++;
    s->weight += weight;
    s->kept += weight >= PP_ROBUST_MISFIT;
    for (int axis = 0; axis < 2; axis++)
        add_products(a[axis], w->lists[axis], value[axis], weight, &s->axis[axis]);
}

enum { SCALARS = 7 }; /* beside the equations */

static size_t triangle(int terms) { return (size_t)terms * ((size_t)terms + 1) / 2; }

static size_t sums_width(const work *w)
{
    size_t width = SCALARS;
    for (int axis = 0; axis < 2; axis++) width += triangle(w->lists[axis]) + (size_t)w->lists[axis];
    return width;
}

/* The sums of a part without the room for terms that there are not: a large plate has hundreds of
 * parts, and few terms. */
static void put_sums(const work *w, const pass_sums *s, double *to)
{
    for (int axis = 0; axis < 2; axis++) {
        size_t terms = (size_t)w->lists[axis];
        memcpy(to, s->axis[axis].normal, triangle(w->lists[axis]) * sizeof *to);
        memcpy(to += triangle(w->lists[axis]), s->axis[axis].right, terms * sizeof *to);
        to += terms;
    }
    const double scalars[SCALARS] = {s->length, s->weight,        s->psi2,        s->slope,
                                     s->slope2, (double)s->count, (double)s->kept};
    memcpy(to, scalars, sizeof scalars);
}

static void add_sums(const work *w, const double *from, pass_sums *total)
{
    for (int axis = 0; axis < 2; axis++) {
        equations *to = &total->axis[axis];
        for (size_t i = 0; i < triangle(w->lists[axis]); i++) to->normal[i] += *from++;
        for (int i = 0; i < w->lists[axis]; i++) to->right[i] += *from++;
    }
    total->length += from[0], total->weight += from[1];
    total->psi2 += from[2], total->slope += from[3], total->slope2 += from[4];
    total->count += (size_t)from[5], total->kept += (size_t)from[6];
}

/* Residuals and weights at fit->beta, and the sums of the weighted normal equations. */
static pp_status pass_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    work *w = context;
    const pp_robust_problem *p = w->problem;
    pass_sums s = {0};
    double room[STRIP * (2 * PP_ROBUST_TERMS_MAX + 2)], beta[2][PP_ROBUST_TERMS_MAX];
    for (int axis = 0; axis < 2; axis++)
        for (int j = 0; j < w->lists[axis]; j++) beta[axis][j] = w->fit->beta[w->list[axis][j]];
    size_t end = pp_part_begin(p->count, w->parts, part + 1), count;
    for (size_t i = pp_part_begin(p->count, w->parts, part); i < end; i += w->step * STRIP) {
        count = end - i < STRIP ? end - i : STRIP;
        const double *rows = packed_rows(w, i, count, room);
        for (size_t k = 0; k < count; k++)
            take_row(w, beta, i + k, rows + k * (size_t)w->width, &s);
    }
    put_sums(w, &s, w->sums + part * sums_width(w));
    return PP_OK;
}

static pp_status pass(work *w, weighing how, pass_sums *total, pp_error *error)
{
    w->weighing = how;
    PP_TRY(pp_parallel(w->problem->threads, w->parts, pass_part, w, error));
    w->filled = true;
    memset(total, 0, sizeof *total);
    for (size_t k = 0; k < w->parts; k++) add_sums(w, w->sums + k * sums_width(w), total);
    return PP_OK;
}

/* --- normal equations --------------------------------------------------------------------- */

/* Both axes together, rows divided by `scale` of their axis (NULL: 1), by all terms. */
static equations join_axes(const work *w, const pass_sums *s, const double *scale)
{
    equations all = {0};
    for (int axis = 0; axis < 2; axis++) {
        double share = scale ? 1 / (scale[axis] * scale[axis]) : 1;
        for (int j = 0; j < w->lists[axis]; j++) {
            int term = w->list[axis][j];
            all.right[term] += share * s->axis[axis].right[j];
            for (int k = 0; k <= j; k++)
                all.normal[term * (term + 1) / 2 + w->list[axis][k]] +=
                    share * s->axis[axis].normal[j * (j + 1) / 2 + k];
        }
    }
    return all;
}

/* The normal matrix in units of its columns, factored. */
static pp_status factor(const work *w, const equations *e, double *matrix, pp_error *error)
{
    int p = w->problem->terms;
    for (int i = 0; i < p; i++)
        for (int j = 0; j <= i; j++)
            matrix[j * p + i] = matrix[i * p + j] =
                e->normal[i * (i + 1) / 2 + j] / (w->unit[i] * w->unit[j]);
    if (pp_cholesky_factor((size_t)p, matrix, (size_t)p, error) == PP_OK) return PP_OK;
    return pp_fail(error, PP_ENUMERIC,
                   "the error terms cannot be told apart in these holes; measure more of them");
}

/* Solve for the coefficients and go there, or `stride` times as far; *moved is the largest change,
 * in mm (root mean square of a term). */
static pp_status update(work *w, const equations *e, double stride, double *moved, pp_error *error)
{
    int p = w->problem->terms;
    double matrix[PP_ROBUST_TERMS_MAX * PP_ROBUST_TERMS_MAX], x[PP_ROBUST_TERMS_MAX];
    PP_TRY(factor(w, e, matrix, error));
    for (int i = 0; i < p; i++) x[i] = e->right[i] / w->unit[i];
    PP_TRY(pp_cholesky_solve((size_t)p, matrix, (size_t)p, 1, x, (size_t)p, error));
    *moved = 0;
    for (int i = 0; i < p; i++) {
        double change = stride * (x[i] / w->unit[i] - w->fit->beta[i]);
        *moved = fmax(*moved, fabs(change) * w->unit[i]);
        w->fit->beta[i] += change;
    }
    return PP_OK;
}

static pp_status invert(const work *w, const equations *e, double *inverse, pp_error *error)
{
    int p = w->problem->terms;
    double matrix[PP_ROBUST_TERMS_MAX * PP_ROBUST_TERMS_MAX];
    PP_TRY(factor(w, e, matrix, error));
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
    pass_sums s;
    for (int i = 0; i < PP_ROBUST_TERMS_MAX; i++) w->unit[i] = 1;
    w->fit->count = 0;
    for (size_t i = 0; i < w->problem->count; i++)
        w->fit->count += !(w->problem->left_out && w->problem->left_out[i]);
    if (2 * w->fit->count <= (size_t)w->problem->terms)
        return pp_fail(error, PP_ENUMERIC, "%zu holes are too few for %d error terms",
                       w->fit->count, w->problem->terms);
    PP_TRY(pass(w, EQUAL, &s, error));
    equations e = join_axes(w, &s, NULL);
    for (int i = 0; i < w->problem->terms; i++) {
        double square = e.normal[i * (i + 1) / 2 + i] / (double)s.count;
        if (square > 0) w->unit[i] = sqrt(square);
    }
    return PP_OK;
}

static pp_status start(work *w, pp_error *error)
{
    pass_sums s;
    double moved;
    memset(w->fit->beta, 0, sizeof w->fit->beta);
    PP_TRY(pass(w, EQUAL, &s, error));
    equations e = join_axes(w, &s, NULL);
    PP_TRY(update(w, &e, 1, &moved, error));
    double mean = 0;
    for (int step = 0; step < L1_STEPS_MAX; step++) {
        w->least = fmax(L1_LEAST * mean, PP_ROBUST_SCALE_FLOOR * L1_LEAST);
        PP_TRY(pass(w, L1, &s, error));
        mean = s.length / (double)s.count;
        e = join_axes(w, &s, NULL);
        PP_TRY(update(w, &e, 1, &moved, error));
        if (moved <= L1_CLOSE * mean) break;
    }
    return PP_OK;
}

typedef struct scale_search {
    const work *w;
    double *room[2];
} scale_search;

static pp_status scale_of_axis(void *context, size_t axis, int worker, pp_error *error)
{
    (void)worker, (void)error;
    const scale_search *search = context;
    const pp_robust_problem *p = search->w->problem;
    pp_robust_fit *f = search->w->fit;
    double *room = search->room[axis];
    size_t n = 0;
    for (size_t i = 0; i < p->count; i++)
        if (!p->left_out || !p->left_out[i]) room[n++] = fabs(f->residual[axis][i]);
    f->scale[axis] = PP_MAD_TO_SIGMA * pp_median(room, n);
    return PP_OK;
}

static pp_status find_scale(work *w, double *room[2], pp_error *error)
{
    pp_robust_fit *f = w->fit;
    PP_TRY(pass(w, EQUAL, &w->equal, error)); /* residuals */
    const bool *left_out = w->problem->left_out;
    scale_search search = {w, {room[0], room[1]}};
    PP_TRY(pp_parallel(w->problem->threads, 2, scale_of_axis, &search, error));
    double most = fmax(f->scale[0], f->scale[1]);
    for (int axis = 0; axis < 2; axis++)
        f->scale[axis] = fmax(f->scale[axis], fmax(AXES_RATIO * most, PP_ROBUST_SCALE_FLOOR));
    size_t n = 0;
    for (size_t i = 0; i < w->problem->count; i++) {
        if (left_out && left_out[i]) continue;
        double dx = f->residual[0][i] / f->scale[0], dy = f->residual[1][i] / f->scale[1];
        room[0][n++] = sqrt(dx * dx + dy * dy);
    }
    double coordinates = 2 * (double)n;
    double factor = pp_median(room[0], n) / MEDIAN_LENGTH *
                    sqrt(coordinates / (coordinates - w->problem->terms));
    for (int axis = 0; axis < 2; axis++)
        f->scale[axis] = fmax(f->scale[axis] * factor, PP_ROBUST_SCALE_FLOOR);
    return PP_OK;
}

/* Reweighted steps fall short by the ratio of mean psi' to mean weight; stretched by its inverse
 * they are Newton's steps with the mean slope (Huber & Ronchetti, 7.8), and a few are enough.
 * Should one be longer than the one before, plain steps finish. Sums, weights and residuals stay as
 * they were before the last step, which moves nothing that counts. */
static pp_status fit_biweight(work *w, pass_sums *s, pp_error *error)
{
    double moved, before = INFINITY, least = fmin(w->fit->scale[0], w->fit->scale[1]);
    bool stretch = true;
    for (int step = 0; step < TUKEY_STEPS_MAX; step++) {
        PP_TRY(pass(w, TUKEY, s, error));
        double stride = stretch && s->slope > 0 ? fmin(s->weight / s->slope, STRIDE_MOST) : 1;
        equations e = join_axes(w, s, w->fit->scale);
        PP_TRY(update(w, &e, stride, &moved, error));
        if (moved <= TUKEY_CLOSE * least) break;
        stretch = stretch && moved <= before;
        before = moved;
    }
    return PP_OK;
}

/* From the sums of the last pass. */
static pp_status find_errors(work *w, const pass_sums *s, pp_error *error)
{
    pp_robust_fit *f = w->fit;
    int p = w->problem->terms;
    equations e = join_axes(w, &w->equal, f->scale);
    PP_TRY(invert(w, &e, f->inverse, error));
    double count = (double)s->count, coordinates = 2 * count;
    f->kept = s->kept;
    f->df = 2 * (double)s->kept - p;
    for (int i = 0; i < p; i++) f->term_df[i] = f->df;
    f->slope = s->slope / count;
    double variance = s->slope2 / count - f->slope * f->slope;
    f->small = 1 + p / coordinates * variance / (f->slope * f->slope);
    double psi2 = fmax(s->psi2 / (coordinates - p), PSI2_LEAST);
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

static pp_status solve(work *w, bool from_beta, double *room[2], pp_error *error)
{
    /* units and start need not come from every one of a million holes */
    w->step = w->rows ? 1 : w->problem->count / START_ON;
    if (w->step == 0) w->step = 1;
    PP_TRY(measure_columns(w, error));
    if (!from_beta) PP_TRY(start(w, error));
    w->step = 1;
    PP_TRY(find_scale(w, room, error));
    pass_sums last;
    PP_TRY(fit_biweight(w, &last, error));
    return find_errors(w, &last, error);
}

pp_status pp_robust_solve(const pp_robust_problem *problem, bool from_beta, pp_arena *scratch,
                          pp_robust_fit *fit, pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    work w = {.problem = problem, .fit = fit, .parts = problem->count / ITEMS_PER_PART + 1};
    double *room[2];
    list_terms(&w);
    PP_TAKE(w.sums, scratch, w.parts * sums_width(&w));
    PP_TAKE(room[0], scratch, problem->count);
    PP_TAKE(room[1], scratch, problem->count);
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

/* Puts those few of v[count] in front among which the k-th smallest, the middle one, is found, and
 * says how many are smaller than all of them: a sample tells between which two values it lies
 * (Floyd & Rivest, Communications of the ACM 18 (1975) 165), so that one look at each is enough.
 * The number in front is 0 should the sample have told wrong. */
static size_t narrow(double *v, size_t count, size_t k, size_t *smaller)
{
    enum { SAMPLE = 1024, SPREAD = 64 }; /* four standard deviations of a rank among 1024 */
    double sample[SAMPLE];
    for (size_t i = 0; i < SAMPLE; i++) sample[i] = v[i * (count / SAMPLE)];
    select_kth(sample, SAMPLE, SAMPLE / 2 - SPREAD);
    double low = sample[SAMPLE / 2 - SPREAD];
    select_kth(sample, SAMPLE, SAMPLE / 2 + SPREAD);
    double high = sample[SAMPLE / 2 + SPREAD];
    size_t front = 0;
    *smaller = 0;
    for (size_t i = 0; i < count; i++) {
        *smaller += v[i] < low;
        if (v[i] >= low && v[i] <= high) swap(&v[i], &v[front++]);
    }
    return k > *smaller && k < *smaller + front ? front : 0;
}

double pp_median(double *v, size_t count)
{
    enum { MANY = 1 << 14 };
    if (count == 0) return NAN;
    size_t k = count / 2, smaller, front = count > MANY ? narrow(v, count, k, &smaller) : 0;
    if (front > 0)
        k -= smaller;
    else
        front = count;
    select_kth(v, front, k);
    if (count % 2) return v[k];
    double below = v[0];
    for (size_t i = 1; i < k; i++) below = v[i] > below ? v[i] : below;
    return 0.5 * (below + v[k]);
}

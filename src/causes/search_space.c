#include "causes/search_space.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/constants.h"
#include "base/parallel.h"
#include "causes/search_grid.h"

enum { STRIP = PP_SPACE_STRIP };

static const double CLIPPED = 3.5, LEFT_OUT = 8; /* scaled residual lengths */
static const double NEARLY_CLIPPED = 12;         /* squared; shorter ones are whole for certain */

/* --- rows --------------------------------------------------------------------------------- */

static pp_status list_rows(const pp_robust_fit *fit, pp_arena *arena, pp_search_space *s,
                           pp_error *error)
{
    const pp_error_field *f = s->field;
    PP_TAKE(s->item, arena, f->count);
    for (size_t i = 0; i < f->count; i++) {
        double rx = fit->residual[0][i] / fit->scale[0], ry = fit->residual[1][i] / fit->scale[1];
        if (hypot(rx, ry) < LEFT_OUT) s->item[s->rows++] = (uint32_t)i;
    }
    return PP_OK;
}

bool pp_space_is_term(const pp_search_space *s, int fixed)
{
    return s->kind[fixed] >= PP_FIELD_FIRST_TERM && s->kind[fixed] < PP_FIELD_KINDS;
}

/* --- columns ------------------------------------------------------------------------------ */

/* A column of the space: a million rows of each are not kept, a strip is made when it is needed. */
typedef struct column {
    const pp_search_space *s;
    pp_space_column is; /* a component stands on the x axis here */
} column;

static bool has_axis(const column *c, int axis)
{
    if (c->is.component) return axis == 0;
    return c->is.fixed == c->s->fixed ||
           pp_field_kind_has(c->s->field, c->s->kind[c->is.fixed], axis);
}

/* Rows of a column. */
typedef struct strip {
    double raw[2][STRIP + 2]; /* [axis][row - first + 1], times the row's weight */
    double v[2][STRIP + 1];   /* [axis][row - first], whitened; the row behind, too */
    double u[2][STRIP];       /* W'v: what the rows weigh in a product with a scalar */
} strip;

/* The data of a row, its residual cut back. */
static void fill_data(const column *c, size_t row, double *x, double *y)
{
    const pp_robust_fit *fit = c->is.fit;
    const pp_error_field *f = c->s->field;
    size_t i = c->s->item[row];
    double rx = fit->residual[0][i] / fit->scale[0], ry = fit->residual[1][i] / fit->scale[1];
    double weight = pp_space_weight(c->s, row), cut = 0;
    if (rx * rx + ry * ry > NEARLY_CLIPPED) {
        double length = hypot(rx, ry);
        if (length > CLIPPED) cut = 1 - CLIPPED / length;
    }
    *x = weight * f->ex[i] / fit->scale[0] - cut * rx;
    *y = weight * f->ey[i] / fit->scale[1] - cut * ry;
}

static void fill_fixed(const column *c, size_t first, size_t count, double *x, double *y)
{
    const pp_search_space *s = c->s;
    const uint32_t *item = s->item + first;
    pp_field_kind kind = s->kind[c->is.fixed];
    if (item[count - 1] - item[0] == count - 1)
        pp_error_field_vectors(s->field, kind, item[0], count, x, y);
    else
        for (size_t k = 0; k < count; k++)
            pp_error_field_vectors(s->field, kind, item[k], 1, &x[k], &y[k]);
    for (size_t k = 0; k < count; k++) {
        double weight = pp_space_weight(s, first + k);
        x[k] = weight * x[k] / c->is.fit->scale[0];
        y[k] = weight * y[k] / c->is.fit->scale[1];
    }
}

static void fill_raw(const column *c, size_t first, size_t count, double *x, double *y)
{
    const pp_search_space *s = c->s;
    if (c->is.component)
        for (size_t k = 0; k < count; k++)
            x[k] = pp_space_weight(s, first + k) *
                   pp_component_value(s->field, c->is.component, c->is.part, s->item[first + k]);
    else if (c->is.fixed == s->fixed)
        for (size_t k = 0; k < count; k++) fill_data(c, first + k, &x[k], &y[k]);
    else
        fill_fixed(c, first, count, x, y);
}

/* Whitened rows first .. first + count - 1 of the axes that the column has, and the one behind. */
static void fill_whitened(const column *c, size_t first, size_t count, strip *to)
{
    const pp_search_space *s = c->s;
    size_t at = first > 0 ? 0 : 1, before = 1 - at,
           end = first + count < s->rows ? count + 1 : count;
    fill_raw(c, first - before, before + end, to->raw[0] + at, to->raw[1] + at);
    for (int axis = 0; axis < 2; axis++) {
        if (!has_axis(c, axis)) continue;
        const double *raw = to->raw[axis]; /* of row k: raw[k + 1] */
        if (s->rho == 0) {
            memcpy(to->v[axis], raw + 1, end * sizeof *raw);
            continue;
        }
        for (size_t k = 0; k < end; k++) {
            pp_whitening w = pp_space_whitening(s, first + k);
            to->v[axis][k] = first + k ? w.own * raw[k + 1] - w.back * raw[k] : raw[k + 1];
        }
    }
}

void pp_space_rows(const pp_search_space *s, const pp_space_column *is, size_t first, size_t count,
                   double *x, double *y)
{
    const column c = {s, *is};
    strip rows = {0};
    fill_whitened(&c, first, count, &rows);
    for (int axis = 0; axis < 2; axis++)
        if (has_axis(&c, axis)) memcpy(axis ? y : x, rows.v[axis], count * sizeof *x);
}

/* The same rows and what they weigh. */
static void fill_strip(const column *c, size_t first, size_t count, strip *to)
{
    const pp_search_space *s = c->s;
    fill_whitened(c, first, count, to);
    for (int axis = 0; axis < 2; axis++) {
        const double *v = to->v[axis];
        for (size_t k = 0; k < count && has_axis(c, axis); k++) {
            bool last = s->rho == 0 || first + k + 1 == s->rows;
            double next = last ? 0 : pp_space_whitening(s, first + k + 1).back * v[k + 1];
            double own = pp_space_whitening(s, first + k).own * v[k];
            to->u[axis][k] = pp_space_weight(s, first + k) * (own - next);
        }
    }
}

/* --- images ------------------------------------------------------------------------------- */

/* Sums from the last row back to the start of every bin. A strip is made of as many whole bins as
 * it has room for, or of a part of one. */
static void fill_steps(const column *c, double *const to[2])
{
    const pp_search_space *s = c->s;
    double sum[2] = {0, 0};
    strip rows;
    size_t first = 0, end = 0; /* of the strip */
    for (size_t b = s->bins; b-- > 0;) {
        for (size_t k = s->bin_begin[b]; k < s->bin_begin[b + 1]; k++) {
            if (k < first || k >= end) {
                end = k + STRIP < s->bin_begin[b + 1] ? k + STRIP : s->bin_begin[b + 1];
                first = k;
                for (size_t low = b; low > 0 && end - s->bin_begin[low - 1] <= STRIP; low--)
                    first = s->bin_begin[low - 1];
                fill_strip(c, first, end - first, &rows);
            }
            for (int axis = 0; axis < 2; axis++)
                if (to[axis]) sum[axis] += rows.u[axis][k - first];
        }
        for (int axis = 0; axis < 2; axis++)
            if (to[axis]) to[axis][b] = sum[axis];
    }
}

static double group_sum(const pp_search_space *s, const double *steps, size_t group)
{
    size_t end = s->group_begin[group + 1];
    return steps[s->group_begin[group]] - (end < s->bins ? steps[end] : 0);
}

static void fill_waves(const pp_search_space *s, double *to)
{
    double sums[PP_SPACE_GROUPS_MAX];
    for (size_t g = 0; g < s->groups; g++) sums[g] = group_sum(s, to, g);
    for (int w = 0; w < 2 * s->wave_count; w++) {
        const double *wave = s->wave + (size_t)w * s->groups;
        double sum = 0;
        for (size_t g = 0; g < s->groups; g++) sum += wave[g] * sums[g];
        to[s->wave_at + (size_t)w] = sum;
    }
    for (int w = 0; s->groups && w < PP_SPACE_SHAPES; w++) {
        const double *wave = s->cosine + (size_t)w * s->groups;
        double sum = 0;
        for (size_t g = 0; g < s->groups; g++) sum += wave[g] * sums[g];
        to[s->cosine_at + (size_t)w] = sum;
    }
}

/* Sums over the rows on one axis of a column. */
typedef struct row_sums {
    double odd, shape[PP_SPACE_SHAPES];
    double cut[2][PP_SPACE_CUTS_MAX + 1]; /* [axis of the cut][how many lie below] */
    double square;                        /* of whitened rows */
} row_sums;

static void add_rows(const pp_search_space *s, size_t first, size_t count, const double *v,
                     const double *u, double *cells, row_sums *sums)
{
    for (size_t k = 0; k < count; k++) {
        size_t row = first + k;
        cells[s->cell[row]] += v[k];
        sums->square += v[k] * v[k];
        for (int axis = 0; axis < 2; axis++) sums->cut[axis][s->cuts_below[axis][row]] += u[k];
        if (s->item[row] % 2) sums->odd += u[k];
    }
}

static void add_shapes(const pp_search_space *s, size_t first, size_t count, const strip *rows,
                       double *const to[2], row_sums sums[2])
{
    for (size_t k = 0; k < count; k++) {
        double value[PP_SPACE_SHAPES];
        pp_space_polynomials(s->field, s->item[first + k], value);
        for (int axis = 0; axis < 2; axis++)
            for (int d = 0; to[axis] && d < PP_SPACE_SHAPES; d++)
                sums[axis].shape[d] += rows->u[axis][k] * value[d];
    }
}

static void write_sums(const pp_search_space *s, row_sums *sums, double *to)
{
    double *cut = to + s->cut_at;
    for (int axis = 0; axis < 2; axis++) {
        double *sum = sums->cut[axis];
        int cuts = s->axis_cuts[axis];
        for (int c = cuts; c-- > 0;) sum[c] += sum[c + 1];
        for (int c = 0; c < cuts; c++) *cut++ = sum[c + 1];
    }
    if (s->bins) to[s->alternate_at] = sums->odd;
    memcpy(to + s->polynomial_at, sums->shape, sizeof sums->shape);
}

/* Products of a column with all scalars, to[axis] (NULL: the column has not that axis), and the
 * square length of the axes. */
static void make_image(const column *c, double *const to[2], double square[2])
{
    const pp_search_space *s = c->s;
    row_sums sums[2] = {0};
    strip rows;
    for (int axis = 0; axis < 2; axis++)
        if (to[axis]) memset(to[axis], 0, s->scalars * sizeof *to[axis]);
    for (size_t first = 0, count; first < s->rows; first += count) {
        count = s->rows - first < STRIP ? s->rows - first : STRIP;
        fill_strip(c, first, count, &rows);
        for (int axis = 0; axis < 2; axis++)
            if (to[axis])
                add_rows(s, first, count, rows.v[axis], rows.u[axis], to[axis] + s->cell_at,
                         &sums[axis]);
        add_shapes(s, first, count, &rows, to, sums);
    }
    fill_steps(c, to);
    for (int axis = 0; axis < 2; axis++) {
        square[axis] = sums[axis].square;
        if (!to[axis]) continue;
        fill_waves(s, to[axis]);
        write_sums(s, &sums[axis], to[axis]);
    }
}

pp_status pp_space_image(const pp_search_space *s, const pp_component *component, int part,
                         pp_arena *arena, pp_image *image, pp_error *error)
{
    *image = (pp_image){.component = *component, .part = part};
    PP_TAKE(image->scalars, arena, s->scalars);
    if (component->family == PP_FAMILY_OSCILLATION) {
        PP_TAKE(image->group, arena, s->groups);
        pp_space_wave_values(s, component->periods, part, image->group);
    }
    const column c = {s, {.component = component, .part = part}};
    double *const to[2] = {image->scalars, NULL};
    double square[2];
    make_image(&c, to, square);
    image->square = square[0];
    return PP_OK;
}

/* --- fixed columns and the data ----------------------------------------------------------- */

typedef struct column_work {
    pp_search_space *s;
    const pp_robust_fit *fit;
} column_work;

static void multiply_scalars(const column_work *w, int j)
{
    pp_search_space *s = w->s;
    const column c = {s, {.fixed = j, .fit = w->fit}};
    double *scalars = s->products + (size_t)j * s->width, *to[2], square[2];
    memset(scalars, 0, 2 * s->scalars * sizeof *scalars);
    for (int axis = 0; axis < 2; axis++)
        to[axis] = has_axis(&c, axis) ? scalars + (size_t)axis * s->scalars : NULL;
    make_image(&c, to, square);
}

enum { COLUMNS_MAX = PP_ROBUST_TERMS_MAX + 1 };

static double *product_of(const pp_search_space *s, int one, int with)
{
    return s->products + (size_t)one * s->width + 2 * s->scalars + (size_t)with;
}

/* Goes on with the sums of products of the columns that have the axis, listed in place[columns]:
 * sum[column][column before or itself]. */
static void add_products(const column_work *w, const int *place, int columns, int axis,
                         double sum[COLUMNS_MAX][COLUMNS_MAX])
{
    const pp_search_space *s = w->s;
    double value[STRIP][COLUMNS_MAX];
    strip rows;
    for (size_t first = 0, count; first < s->rows; first += count) {
        count = s->rows - first < STRIP ? s->rows - first : STRIP;
        for (int j = 0; j < columns; j++) {
            const column c = {s, {.fixed = place[j], .fit = w->fit}};
            fill_whitened(&c, first, count, &rows);
            for (size_t k = 0; k < count; k++) value[k][j] = rows.v[axis][k];
        }
        for (size_t k = 0; k < count; k++)
            for (int a = 0; a < columns; a++)
                for (int b = 0; b <= a; b++) sum[a][b] += value[k][a] * value[k][b];
    }
}

/* Those of one axis; the sums so far stand in the products, and go on from there. */
static void multiply_axis(const column_work *w, int axis)
{
    pp_search_space *s = w->s;
    double sum[COLUMNS_MAX][COLUMNS_MAX];
    int place[COLUMNS_MAX], columns = 0;
    for (int j = 0; j <= s->fixed; j++)
        if (has_axis(&(const column){s, {.fixed = j}}, axis)) place[columns++] = j;
    for (int a = 0; a < columns; a++)
        for (int b = 0; b <= a; b++) sum[a][b] = *product_of(s, place[a], place[b]);
    add_products(w, place, columns, axis, sum);
    for (int a = 0; a < columns; a++)
        for (int b = 0; b <= a; b++)
            *product_of(s, place[a], place[b]) = *product_of(s, place[b], place[a]) = sum[a][b];
}

/* Products of the columns with each other, the x axis before the y axis. */
static void multiply_columns(const column_work *w)
{
    pp_search_space *s = w->s;
    for (int j = 0; j <= s->fixed; j++)
        for (int i = 0; i <= s->fixed; i++) *product_of(s, j, i) = 0;
    for (int axis = 0; axis < 2; axis++) multiply_axis(w, axis);
}

/* The first part is the longest. */
static pp_status products_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    const column_work *w = context;
    if (part == 0)
        multiply_columns(w);
    else
        multiply_scalars(w, (int)part - 1);
    return PP_OK;
}

static pp_status make_products(const pp_space_request *r, pp_arena *arena, pp_search_space *s,
                               pp_error *error)
{
    column_work w = {.s = s, .fit = r->fit};
    size_t columns = (size_t)s->fixed + 1;
    PP_TAKE(s->products, arena, columns * s->width);
    PP_TRY(pp_parallel(s->threads, columns + 1, products_part, &w, error));
    s->total = *product_of(s, s->fixed, s->fixed);
    return PP_OK;
}

/* --- the whole ---------------------------------------------------------------------------- */

pp_status pp_space_build(const pp_space_request *r, pp_arena *arena, pp_search_space *space,
                         pp_error *error)
{
    pp_search_space s = {.field = r->model->field,
                         .threads = r->threads,
                         .rho = r->model->field->order_known ? r->rho : 0,
                         .fixed = r->model->count,
                         .kind = r->model->kind};
    PP_TRY(list_rows(r->fit, arena, &s, error));
    PP_TRY(pp_space_grid(r->fine, r->fine_count, arena, &s, error));
    PP_TRY(make_products(r, arena, &s, error));
    *space = s;
    return PP_OK;
}

void pp_space_wave_values(const pp_search_space *s, double periods, int part, double *values)
{
    for (size_t g = 0; g < s->groups; g++) {
        double angle = PP_TURN * periods * s->group_place[g];
        values[g] = part ? sin(angle) : cos(angle);
    }
}

double pp_space_wave_product(const pp_search_space *s, const double *vector, const double *wave,
                             int axis)
{
    const double *steps = vector + (size_t)axis * s->scalars;
    double sum = 0;
    for (size_t g = 0; g < s->groups; g++) sum += wave[g] * group_sum(s, steps, g);
    return sum;
}

double pp_space_wave_square(const pp_search_space *s, const double *a, const double *b)
{
    double sum = 0;
    for (size_t g = 0; g < s->groups; g++) {
        sum += s->group_square[g] * a[g] * b[g];
        if (g) sum += s->group_cross[g] * (a[g] * b[g - 1] + a[g - 1] * b[g]);
    }
    return sum;
}

/* The bin that begins with the step's first hole, or the first behind it. */
static size_t bin_of_step(const pp_search_space *s, size_t first)
{
    size_t low = 0, high = s->bins;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (s->item[s->bin_begin[middle]] < first)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

double pp_space_product(const pp_search_space *s, const double *vector, const pp_image *image,
                        int axis)
{
    const pp_component *c = &image->component;
    const double *scalars = vector + (size_t)axis * s->scalars;
    switch (c->family) {
    case PP_FAMILY_STEP: {
        size_t bin = bin_of_step(s, c->first);
        return bin < s->bins ? scalars[bin] : 0;
    }
    case PP_FAMILY_HALF_PLATE:
        for (int k = 0; k < s->cut_count; k++)
            if (s->cut[k].axis == c->axis && s->cut[k].split == c->split)
                return scalars[s->cut_at + (size_t)k];
        return 0;
    case PP_FAMILY_OSCILLATION:
        return pp_space_wave_product(s, vector, image->group, axis);
    default:
        return scalars[s->alternate_at];
    }
}

/* --- correlation for the search ----------------------------------------------------------- */

typedef struct correlation_sums {
    double product, pairs, square, items;
} correlation_sums;

static void add_block(const double *r, size_t begin, size_t end, size_t axis, size_t count,
                      correlation_sums *s)
{
    double mean = 0;
    const double *v = r + axis * count;
    for (size_t k = begin; k < end; k++) mean += v[k] / (double)(end - begin);
    for (size_t k = begin; k < end; k++) {
        double here = v[k] - mean;
        s->square += here * here, s->items++;
        if (k > begin) s->product += here * (v[k - 1] - mean), s->pairs++;
    }
}

static void take_alternation_out(const uint32_t *item, size_t n, double *v)
{
    double mean[2] = {0, 0}, count[2] = {0, 0};
    for (size_t k = 0; k < n; k++) mean[item[k] % 2] += v[k], count[item[k] % 2]++;
    for (int odd = 0; odd < 2; odd++) mean[odd] /= count[odd] > 0 ? count[odd] : 1;
    for (size_t k = 0; k < n; k++) v[k] -= mean[item[k] % 2];
}

double pp_search_correlation(const pp_error_field *f, const pp_robust_fit *fit, pp_arena *scratch)
{
    static const double BLOCK = 1.3, BLOCK_LEAST = 16, BLOCK_MOST = 50, SIGNIFICANT = 2.5;
    static const double RHO_MOST = 0.95, LEAST_SQUARE = 0.02;
    if (!f->order_known) return 0;
    pp_mark mark = pp_arena_mark(scratch);
    double *r = pp_arena_take(scratch, 2 * f->count, sizeof *r);
    uint32_t *item = pp_arena_take(scratch, f->count, sizeof *item);
    if (!r || !item) return 0;
    size_t n = 0;
    for (size_t i = 0; i < f->count; i++) {
        if (fit->weight[i] < PP_ROBUST_MISFIT) continue;
        for (size_t axis = 0; axis < 2; axis++)
            r[axis * f->count + n] = fit->weight[i] * fit->residual[axis][i] / fit->scale[axis];
        item[n++] = (uint32_t)i;
    }
    correlation_sums s = {0};
    double length = fmin(fmax(BLOCK * sqrt((double)n), BLOCK_LEAST), BLOCK_MOST);
    size_t blocks = (size_t)((double)n / length);
    if (blocks == 0) blocks = 1;
    for (size_t axis = 0; axis < 2; axis++) {
        take_alternation_out(item, n, r + axis * f->count);
        for (size_t b = 0; b < blocks; b++)
            add_block(r, pp_part_begin(n, blocks, b), pp_part_begin(n, blocks, b + 1), axis,
                      f->count, &s);
    }
    pp_arena_release(scratch, mark);
    if (!(s.pairs > 0) || !(s.square > LEAST_SQUARE * s.items)) return 0;
    double rho = s.product / s.pairs / (s.square / s.items);
    rho += (1 + 3 * rho) / length;
    if (!(fabs(rho) * sqrt(s.pairs) > SIGNIFICANT)) return 0;
    return fmax(-RHO_MOST, fmin(RHO_MOST, rho));
}

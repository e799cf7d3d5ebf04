#include "causes/search_space.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/constants.h"
#include "base/parallel.h"
#include "causes/search_grid.h"

static const double CLIPPED = 3.5, LEFT_OUT = 8; /* scaled residual lengths */

/* --- rows --------------------------------------------------------------------------------- */

static pp_status take_rows(const pp_space_request *r, pp_arena *arena, pp_search_space *s,
                           pp_error *error)
{
    const pp_error_field *f = s->field;
    const pp_robust_fit *fit = r->fit;
    PP_TAKE(s->item, arena, f->count);
    PP_TAKE(s->weight, arena, f->count);
    PP_TAKE(s->own, arena, f->count);
    PP_TAKE(s->back, arena, f->count);
    PP_TAKE(s->z[0], arena, f->count);
    PP_TAKE(s->z[1], arena, f->count);
    for (size_t i = 0; i < f->count; i++) {
        double rx = fit->residual[0][i] / fit->scale[0], ry = fit->residual[1][i] / fit->scale[1];
        double length = hypot(rx, ry), cut = length > CLIPPED ? 1 - CLIPPED / length : 0;
        if (!(length < LEFT_OUT)) continue;
        size_t k = s->rows++;
        double weight = f->root_weight ? f->root_weight[i] : 1;
        s->item[k] = (uint32_t)i;
        s->weight[k] = weight;
        s->z[0][k] = weight * f->ex[i] / fit->scale[0] - cut * rx;
        s->z[1][k] = weight * f->ey[i] / fit->scale[1] - cut * ry;
        size_t gap = k ? i - s->item[k - 1] : 0;
        double factor = k == 0 || s->rho == 0 ? 0 : gap == 1 ? s->rho : pow(s->rho, (double)gap);
        s->own[k] = 1 / sqrt(1 - factor * factor);
        s->back[k] = factor * s->own[k];
    }
    return PP_OK;
}

/* In place, from the last row back. */
static void whiten(const pp_search_space *s, double *v)
{
    for (size_t k = s->rows; k-- > 1;) v[k] = s->own[k] * v[k] - s->back[k] * v[k - 1];
}

/* --- images ------------------------------------------------------------------------------- */

static void fill_steps(const pp_search_space *s, const double *u, double *to)
{
    double sum = 0;
    for (size_t b = s->bins; b-- > 0;) {
        for (size_t k = s->bin_begin[b]; k < s->bin_begin[b + 1]; k++) sum += u[k];
        to[b] = sum;
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

static void fill_cuts(const pp_search_space *s, const double *u, double *to)
{
    double *cut = to + s->cut_at;
    for (int axis = 0; axis < 2; axis++) {
        double sums[PP_SPACE_CUTS_MAX + 1] = {0};
        int cuts = s->axis_cuts[axis];
        for (size_t k = 0; k < s->rows; k++) sums[s->cuts_below[axis][k]] += u[k];
        for (int c = cuts; c-- > 0;) sums[c] += sums[c + 1];
        for (int c = 0; c < cuts; c++) *cut++ = sums[c + 1];
    }
}

static void fill_shapes(const pp_search_space *s, const double *u, double *to)
{
    double odd = 0, sums[PP_SPACE_SHAPES] = {0};
    for (size_t k = 0; k < s->rows; k++) {
        double value[PP_SPACE_SHAPES];
        pp_space_polynomials(s->field, s->item[k], value);
        for (int d = 0; d < PP_SPACE_SHAPES; d++) sums[d] += u[k] * value[d];
        if (s->item[k] % 2) odd += u[k];
    }
    if (s->bins) to[s->alternate_at] = odd;
    memcpy(to + s->polynomial_at, sums, sizeof sums);
}

/* Products of a whitened column v with all scalars: u = W'v is what its rows weigh there. */
static void make_image(const pp_search_space *s, const double *v, double *u, double *to)
{
    memset(to, 0, s->scalars * sizeof *to);
    for (size_t k = 0; k < s->rows; k++) {
        double next = k + 1 < s->rows ? s->back[k + 1] * v[k + 1] : 0;
        u[k] = s->weight[k] * (s->own[k] * v[k] - next);
        to[s->cell_at + s->cell[k]] += v[k];
    }
    fill_steps(s, u, to);
    fill_waves(s, to);
    fill_cuts(s, u, to);
    fill_shapes(s, u, to);
}

pp_status pp_space_image(const pp_search_space *s, const pp_component *component, int part,
                         pp_arena *arena, pp_image *image, pp_error *error)
{
    *image = (pp_image){.component = *component, .part = part};
    double *v, *u;
    PP_TAKE(image->scalars, arena, s->scalars);
    if (component->family == PP_FAMILY_OSCILLATION) {
        PP_TAKE(image->group, arena, s->groups);
        pp_space_wave_values(s, component->periods, part, image->group);
    }
    pp_mark mark = pp_arena_mark(arena);
    PP_TAKE(v, arena, s->rows);
    PP_TAKE(u, arena, s->rows);
    for (size_t k = 0; k < s->rows; k++)
        v[k] = s->weight[k] * pp_component_value(s->field, component, part, s->item[k]);
    whiten(s, v);
    for (size_t k = 0; k < s->rows; k++) image->square += v[k] * v[k];
    make_image(s, v, u, image->scalars);
    pp_arena_release(arena, mark);
    return PP_OK;
}

/* --- fixed columns and the data ----------------------------------------------------------- */

typedef struct column_work {
    pp_search_space *s;
    double scale[2];
    double *column[PP_ROBUST_TERMS_MAX + 1][2]; /* [rows] whitened */
    double *u;                                  /* [columns * rows] */
} column_work;

static pp_status make_column(void *context, size_t j, int worker, pp_error *error)
{
    (void)worker, (void)error;
    column_work *w = context;
    pp_search_space *s = w->s;
    for (size_t k = 0; (int)j < s->fixed && k < s->rows; k++) {
        double vx, vy;
        pp_error_field_vectors(s->field, s->kind[j], s->item[k], 1, &vx, &vy);
        w->column[j][0][k] = s->weight[k] * vx / w->scale[0];
        w->column[j][1][k] = s->weight[k] * vy / w->scale[1];
    }
    whiten(s, w->column[j][0]);
    whiten(s, w->column[j][1]);
    return PP_OK;
}

static pp_status multiply_column(void *context, size_t j, int worker, pp_error *error)
{
    (void)worker, (void)error;
    column_work *w = context;
    pp_search_space *s = w->s;
    double *to = s->products + j * s->width;
    for (int axis = 0; axis < 2; axis++) {
        double *scalars = to + (size_t)axis * s->scalars;
        if ((int)j == s->fixed || pp_field_kind_has(s->field, s->kind[j], axis))
            make_image(s, w->column[j][axis], w->u + j * s->rows, scalars);
        else
            memset(scalars, 0, s->scalars * sizeof *scalars);
    }
    for (int i = 0; i <= s->fixed; i++) {
        double sum = 0;
        for (int axis = 0; axis < 2; axis++) {
            const double *a = w->column[j][axis], *b = w->column[i][axis];
            for (size_t k = 0; k < s->rows; k++) sum += a[k] * b[k];
        }
        to[2 * s->scalars + (size_t)i] = sum;
    }
    return PP_OK;
}

static pp_status make_products(const pp_space_request *r, pp_arena *arena, pp_search_space *s,
                               pp_error *error)
{
    column_work w = {.s = s, .scale = {r->fit->scale[0], r->fit->scale[1]}};
    size_t columns = (size_t)s->fixed + 1;
    PP_TAKE(s->products, arena, columns * s->width);
    pp_mark mark = pp_arena_mark(arena);
    PP_TAKE(w.u, arena, columns * s->rows);
    for (int axis = 0; axis < 2; axis++) {
        for (int j = 0; j < s->fixed; j++) PP_TAKE(w.column[j][axis], arena, s->rows);
        w.column[s->fixed][axis] = s->z[axis];
    }
    PP_TRY(pp_parallel(s->threads, columns, make_column, &w, error));
    PP_TRY(pp_parallel(s->threads, columns, multiply_column, &w, error));
    s->total = s->products[(size_t)s->fixed * s->width + 2 * s->scalars + (size_t)s->fixed];
    pp_arena_release(arena, mark);
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
    PP_TRY(take_rows(r, arena, &s, error));
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

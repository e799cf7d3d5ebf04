#include "flatness/surface_check.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "flatness/surface_system.h"
#include "linalg/linalg.h"

enum {
    POINTS_MOST = 100000,
    BLOCKS_MOST = 48,
    BLOCK = 6,       /* points left out together */
    POINTS_LEAST = 8 /* fewer: nothing to check with */
};
static const double spare_least = 1e-6;   /* 1 - h below: the fit hangs on the point */
static const double sharper_ratio = 1.5;  /* of the cross-validated error over the smoother's */
static const double sharper_chance = 2.5; /* standard deviations of a mean square */
static const double noise_share = 0.9; /* of the rms left out, at most noise: else all might be */
static const double huber_share = 2.5; /* scales, as in the fit */

typedef struct checking {
    const pp_survey *survey;
    const pp_surface *surface;
    pp_surface_system system;
    const double *factor; /* of A + mu K */
    double *near;         /* its inverse near the diagonal */
    double scale;         /* of Huber's weights; 0: none */
    size_t count;         /* points looked at */
    double *x, *y, *residual, *weight, *left_out;
    size_t *point; /* of the survey */
    pp_memory *memory;
} checking;

static pp_status list_points(checking *c, pp_error *error)
{
    const pp_survey *s = c->survey;
    pp_arena *scratch = &c->memory->scratch;
    size_t step = (s->count + POINTS_MOST - 1) / POINTS_MOST, room = s->count / step + 1;
    PP_TAKE(c->x, scratch, room);
    PP_TAKE(c->y, scratch, room);
    PP_TAKE(c->residual, scratch, room);
    PP_TAKE(c->weight, scratch, room);
    PP_TAKE(c->left_out, scratch, room);
    PP_TAKE(c->point, scratch, room);
    for (size_t k = 0; k < s->count; k += step) {
        double x, y, z;
        pp_mesh_row row;
        pp_survey_to_plate(&s->frame, s->x[k], s->y[k], s->z[k], &x, &y, &z);
        if (!pp_surface_row(c->surface->mesh, x, y, &row)) continue;
        double e = z - pp_mesh_value(&row, c->surface->field);
        c->x[c->count] = x, c->y[c->count] = y, c->residual[c->count] = e;
        c->point[c->count] = k;
        bool far = c->scale > 0 && fabs(e) > huber_share * c->scale;
        c->weight[c->count++] = far ? huber_share * c->scale / fabs(e) : 1;
    }
    return PP_OK;
}

/* The leverage over one cell, of the inverse about its dofs. */
static void form_of_cell(const checking *c, size_t i, size_t j, pp_cell_form *form)
{
    size_t column = c->system.half_bandwidth + 1, dof[PP_CELL_DOFS];
    pp_cell_matrix z;
    pp_cell_dofs(c->surface->mesh, i, j, dof);
    for (size_t l = 0; l < PP_CELL_DOFS; l++)
        for (size_t m = 0; m < PP_CELL_DOFS; m++) {
            size_t low = dof[l] < dof[m] ? dof[l] : dof[m], high = dof[l] + dof[m] - low;
            z.k[l][m] = c->near[low * column + high - low];
        }
    pp_cell_form_of(&z, form);
}

static double form_at(const pp_cell_form *form, double u, double v)
{
    double sum = 0;
    for (int a = 6; a >= 0; a--) {
        const double *row = form->c[a];
        double value = row[6];
        for (int b = 5; b >= 0; b--) value = value * v + row[b];
        sum = sum * u + value;
    }
    return sum;
}

/* Each point less the surface without it; *stands: false where the fit hangs on one. A cell's
 * leverage is worked out when the first point asks for it. */
static pp_status leave_one_out(checking *c, bool *stands, pp_error *error)
{
    const pp_mesh *mesh = c->surface->mesh;
    pp_cell_form *forms;
    bool *there;
    *stands = false;
    PP_TAKE(forms, &c->memory->scratch, mesh->nx * mesh->ny);
    PP_TAKE_ZERO(there, &c->memory->scratch, mesh->nx * mesh->ny);
    for (size_t k = 0; k < c->count; k++) {
        pp_mesh_place at = pp_mesh_find(mesh, c->x[k], c->y[k]);
        size_t cell = at.j * mesh->nx + at.i;
        if (!there[cell]) form_of_cell(c, at.i, at.j, &forms[cell]);
        there[cell] = true;
        double spare = 1 - c->weight[k] * form_at(&forms[cell], 2 * at.s - 1, 2 * at.t - 1);
        if (!(spare > spare_least)) return PP_OK;
        c->left_out[k] = c->residual[k] / spare;
    }
    *stands = true;
    return PP_OK;
}

/* The point itself and its nearest neighbours. */
static void nearest_points(const checking *c, size_t of, size_t block[BLOCK])
{
    double distance[BLOCK];
    size_t found = 0;
    for (size_t k = 0; k < c->count; k++) {
        double dx = c->x[k] - c->x[of], dy = c->y[k] - c->y[of], d = dx * dx + dy * dy;
        if (found == BLOCK && !(d < distance[BLOCK - 1])) continue;
        size_t at = found < BLOCK ? found++ : BLOCK - 1;
        for (; at > 0 && distance[at - 1] > d; at--)
            distance[at] = distance[at - 1], block[at] = block[at - 1];
        distance[at] = d, block[at] = k;
    }
}

typedef struct left_block {
    size_t point[BLOCK], first,
        number; /* lowest dof that any of them touches; as they were taken */
    double squares;
} left_block;

static int by_first(const void *a, const void *b)
{
    const left_block *p = a, *q = b;
    if (p->first != q->first) return p->first < q->first ? -1 : 1;
    return p->number < q->number ? -1 : p->number > q->number;
}

static int by_number(const void *a, const void *b)
{
    const left_block *p = a, *q = b;
    return p->number < q->number ? -1 : p->number > q->number;
}

/* Sum of squares of a block's points less the surface without the block; NaN: the fit hangs on it.
 * half: the columns of L^-1 times the block's rows, with (A + mu K) = L L'. */
static double block_squares(const checking *c, const left_block *b, const double *half,
                            size_t stride)
{
    double h[BLOCK][BLOCK] = {{0}}, m[BLOCK * BLOCK], r[BLOCK], sum = 0;
    int pivots[BLOCK];
    pp_error ignored;
    for (size_t d = b->first; d < c->system.n; d++) {
        const double *y = half + d * stride;
        for (size_t i = 0; i < BLOCK; i++)
            for (size_t j = 0; j < BLOCK; j++) h[i][j] += y[i] * y[j];
    }
    for (size_t i = 0; i < BLOCK; i++) {
        r[i] = c->residual[b->point[i]];
        for (size_t j = 0; j < BLOCK; j++)
            m[j * BLOCK + i] = (i == j) - c->weight[b->point[j]] * h[i][j];
    }
    if (pp_lu_factor(BLOCK, m, BLOCK, pivots, &ignored) != PP_OK ||
        pp_lu_solve(BLOCK, m, BLOCK, pivots, 1, r, BLOCK, &ignored) != PP_OK)
        return NAN;
    for (size_t i = 0; i < BLOCK; i++) sum += r[i] * r[i];
    return sum;
}

/* Blocks taken evenly, ascending by the lowest dof: above it their columns are nought. */
static void choose_blocks(const checking *c, size_t count, left_block *blocks)
{
    for (size_t b = 0; b < count; b++) {
        blocks[b] = (left_block){.first = SIZE_MAX, .number = b};
        nearest_points(c, b * c->count / count, blocks[b].point);
        for (size_t i = 0; i < BLOCK; i++) {
            pp_mesh_row row;
            size_t k = blocks[b].point[i];
            pp_surface_row(c->surface->mesh, c->x[k], c->y[k], &row);
            for (int a = 0; a < 16; a++)
                if (row.dof[a] < blocks[b].first) blocks[b].first = row.dof[a];
        }
    }
    qsort(blocks, count, sizeof *blocks, by_first);
}

/* half[n * stride], first[stride] <- the rows of the blocks' points as columns */
static void fill_columns(const checking *c, size_t count, const left_block *blocks, double *half,
                         size_t *first)
{
    size_t stride = count * BLOCK;
    for (size_t b = 0; b < count; b++)
        for (size_t i = 0; i < BLOCK; i++) {
            pp_mesh_row row;
            size_t k = blocks[b].point[i], at = b * BLOCK + i;
            pp_surface_row(c->surface->mesh, c->x[k], c->y[k], &row);
            for (int a = 0; a < 16; a++) half[row.dof[a] * stride + at] += row.value[a];
            first[at] = blocks[b].first;
        }
}

/* Mean square of what blocks left out differ by; NaN: not found. */
static pp_status leave_blocks_out(const checking *c, double *square, pp_error *error)
{
    size_t count = c->count < BLOCKS_MOST ? c->count : BLOCKS_MOST, stride = count * BLOCK;
    size_t n = c->system.n, *first;
    left_block *blocks;
    double *half, sum = 0;
    *square = NAN;
    if (c->survey->count > POINTS_MOST || c->count < 2 * BLOCK) return PP_OK;
    PP_TAKE(blocks, &c->memory->scratch, count);
    PP_TAKE(first, &c->memory->scratch, stride);
    PP_TAKE_ZERO(half, &c->memory->scratch, n * stride);
    choose_blocks(c, count, blocks);
    fill_columns(c, count, blocks, half, first);
    PP_TRY(pp_band_forward_beside(n, c->system.half_bandwidth, c->factor, first, stride, half,
                                  stride, error));
    for (size_t b = 0; b < count; b++)
        blocks[b].squares = block_squares(c, &blocks[b], half + b * BLOCK, stride);
    qsort(blocks, count, sizeof *blocks, by_number);
    for (size_t b = 0; b < count; b++) sum += blocks[b].squares;
    *square = sum / (double)stride;
    return PP_OK;
}

static void conclude(const checking *c, double known, double smoother, double blocks,
                     pp_surface_check *out)
{
    double ones = 0, most = -1;
    for (size_t k = 0; k < c->count; k++) {
        ones += c->weight[k] * c->left_out[k] * c->left_out[k];
        if (!(fabs(c->left_out[k]) > most)) continue;
        most = fabs(c->left_out[k]);
        out->x = c->x[k], out->y = c->y[k];
        out->row = pp_survey_row(c->survey, c->point[k]);
    }
    ones /= (double)c->count;
    double base = isnan(known) ? fmin(c->surface->noise, noise_share * sqrt(ones)) : known;
    double square = base * base, one = sqrt(fmax(0, ones - square));
    double block = isnan(blocks) ? 0 : sqrt(fmax(0, blocks - square));
    out->leave_one_out = sqrt(ones);
    out->leave_block_out = sqrt(blocks);
    out->standard_error = fmax(one, block);
    out->sharper = one > sharper_ratio * smoother &&
                   ones > square * (1 + sharper_chance * sqrt(2 / (double)c->count));
    out->valid = true;
}

/* The fit's own, unless its weights are other ones. */
static pp_status find_factor(checking *c, pp_error *error)
{
    c->factor = c->surface->factor;
    if (c->system.normal == c->surface->normal) return PP_OK;
    double *factor;
    PP_TAKE(factor, &c->memory->scratch, c->system.n * (c->system.half_bandwidth + 1));
    c->factor = factor;
    return pp_surface_system_factor(&c->system, c->surface->smoothing, factor, error);
}

pp_status pp_surface_check_make(const pp_survey *survey, const pp_surface *surface, double known,
                                double smoother, int threads, pp_memory *memory,
                                pp_surface_check *check, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    bool weighted = surface->outlier_count > surface->left_out_count;
    checking c = {.survey = survey, .surface = surface, .memory = memory};
    c.scale = weighted ? fmax(surface->noise, isnan(known) ? 0 : known) : 0;
    PP_TRY(pp_surface_system_find(survey, surface, c.scale, threads, memory, &c.system, error));
    size_t n = c.system.n, kd = c.system.half_bandwidth;
    double *room, blocks = NAN;
    PP_TAKE(c.near, &memory->scratch, n * (kd + 1));
    PP_TAKE(room, &memory->scratch, pp_band_invert_room(kd, kd));
    PP_TRY(find_factor(&c, error));
    pp_band_invert_near(n, kd, c.factor, kd, c.near, room);
    PP_TRY(list_points(&c, error));
    pp_surface_check out = {.leave_one_out = NAN, .leave_block_out = NAN, .x = NAN, .y = NAN};
    bool stands = false;
    if (c.count >= POINTS_LEAST) PP_TRY(leave_one_out(&c, &stands, error));
    if (stands) {
        PP_TRY(leave_blocks_out(&c, &blocks, error));
        conclude(&c, known, smoother, blocks, &out);
    }
    pp_arena_release(&memory->scratch, mark);
    *check = out;
    return PP_OK;
}

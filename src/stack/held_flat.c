#include "stack/held_flat.h"

#include <math.h>
#include <string.h>

#include "linalg/linalg.h"

static pp_status factor(const pp_stack_ground *g, pp_arena *arena, pp_held_flat *h, pp_error *error)
{
    const pp_influence *f = &g->influence;
    size_t m = h->points, n = m + 3, all = f->count;
    double *matrix;
    int *pivots;
    PP_TAKE_ZERO(matrix, arena, n * n);
    PP_TAKE(pivots, arena, n);
    for (size_t i = 0; i < m; i++) h->scale = fmax(h->scale, f->g[i * (all + 1)]);
    for (size_t j = 0; j < m; j++) {
        memcpy(matrix + j * n, f->g + j * all, m * sizeof *matrix);
        for (size_t k = 0; k < 3; k++)
            matrix[j * n + m + k] = matrix[(m + k) * n + j] = h->scale * f->r[k * all + j];
    }
    PP_TRY(pp_lu_factor(n, matrix, n, pivots, error));
    h->matrix = matrix;
    h->pivots = pivots;
    return PP_OK;
}

pp_status pp_held_flat_solve(const pp_held_flat *h, size_t count, double *x, pp_error *error)
{
    size_t n = h->points + 3;
    return pp_lu_solve(n, h->matrix, n, h->pivots, count, x, n, error);
}

/* G s/D + R a = -(u - weight's sag), R' s = (weight, 0, 0) */
static pp_status find_loads(const pp_stack_ground *g, const pp_stack_choices *c, pp_arena *arena,
                            pp_held_flat *h, pp_error *error)
{
    size_t m = h->points, n = m + 3;
    double *load, *x;
    PP_TAKE(load, arena, c->total * m);
    PP_TAKE(x, arena, c->total * n);
    for (size_t o = 0; o < c->total; o++) {
        const pp_stack_shape *shape = &g->shapes->shape[c->way[o].layer];
        double sag = shape->weight / g->mesh->area / shape->rigidity;
        for (size_t i = 0; i < m; i++) x[o * n + i] = -(h->under[o * m + i] - sag * g->sag_at[i]);
        x[o * n + m] = h->scale * shape->weight / shape->rigidity;
        x[o * n + m + 1] = x[o * n + m + 2] = 0;
    }
    PP_TRY(pp_held_flat_solve(h, c->total, x, error));
    for (size_t o = 0; o < c->total; o++)
        for (size_t i = 0; i < m; i++)
            load[o * m + i] = x[o * n + i] * g->shapes->shape[c->way[o].layer].rigidity;
    h->load = load;
    return PP_OK;
}

pp_status pp_held_flat_make(const pp_stack_ground *ground, const pp_stack_choices *choices,
                            pp_arena *arena, pp_held_flat *held, pp_error *error)
{
    pp_held_flat h = {.points = ground->table_points};
    double *top, *under;
    size_t m = h.points;
    PP_TAKE(top, arena, choices->total * m);
    PP_TAKE(under, arena, choices->total * m);
    for (size_t o = 0; o < choices->total; o++)
        for (size_t i = 0; i < m; i++) {
            double x = ground->points.x[i], y = ground->points.y[i];
            top[o * m + i] = pp_stack_shape_height(ground->shapes, &choices->way[o], false, x, y);
            under[o * m + i] = pp_stack_shape_height(ground->shapes, &choices->way[o], true, x, y);
        }
    h.top = top;
    h.under = under;
    PP_TRY(factor(ground, arena, &h, error));
    PP_TRY(find_loads(ground, choices, arena, &h, error));
    *held = h;
    return PP_OK;
}

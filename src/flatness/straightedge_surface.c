/* The straightedge search over fitted surfaces. */
#include <math.h>

#include "flatness/moments.h"
#include "flatness/straightedge.h"

enum { CURVATURE_SAMPLES = 4 /* intervals of a cell, each way */ };

typedef struct surface_heights {
    const pp_mesh *mesh;
    const pp_cell_polynomial *cells;
} surface_heights;

static void heights(const void *context, size_t count, const double *x, const double *y,
                    double *height)
{
    const surface_heights *h = context;
    const pp_mesh *mesh = h->mesh;
    for (size_t k = 0; k < count; k++) {
        pp_mesh_place place = pp_mesh_find(mesh, x[k], y[k]);
        const pp_cell_polynomial *p = &h->cells[place.j * mesh->nx + place.i];
        double u = 2 * place.s - 1, v = 2 * place.t - 1, w = 0;
        for (int a = 3; a >= 0; a--)
            w = w * u + (p->c[a][0] + v * (p->c[a][1] + v * (p->c[a][2] + v * p->c[a][3])));
        height[k] = w;
    }
}

/* Principal curvatures at a place, for a surface close to level. */
static void widen_curvatures(const pp_surface *surface, double x, double y, pp_relief *relief)
{
    if (!pp_mesh_inside(surface->mesh, x, y)) return;
    pp_surface_value w = pp_surface_at(surface, x, y);
    double mean = (w.wxx + w.wyy) / 2, radius = hypot((w.wxx - w.wyy) / 2, w.wxy);
    relief->hollow = fmax(relief->hollow, mean + radius);
    relief->hump = fmax(relief->hump, radius - mean);
}

static void find_curvatures(const pp_surface *surface, pp_relief *relief)
{
    const pp_mesh *mesh = surface->mesh;
    for (size_t j = 0; j < mesh->ny; j++)
        for (size_t i = 0; i < mesh->nx; i++) {
            if (mesh->fraction[j * mesh->nx + i] == 0) continue;
            for (int b = 0; b <= CURVATURE_SAMPLES; b++)
                for (int a = 0; a <= CURVATURE_SAMPLES; a++) {
                    /* second derivatives jump at cell borders: stay on this side */
                    const double within = 1 - 1e-9, samples = CURVATURE_SAMPLES;
                    double s = 0.5 + (a / samples - 0.5) * within;
                    double t = 0.5 + (b / samples - 0.5) * within;
                    widen_curvatures(surface, mesh->x0 + ((double)i + s) * mesh->hx,
                                     mesh->y0 + ((double)j + t) * mesh->hy, relief);
                }
        }
}

static pp_status make_relief(const pp_surface *surface, pp_memory *memory, surface_heights *context,
                             pp_relief *relief, pp_error *error)
{
    const pp_mesh *mesh = surface->mesh;
    bool cut_out = pp_outline_is_cut_out(&mesh->shape);
    pp_cell_polynomial *cells;
    PP_TAKE(cells, &memory->scratch, mesh->nx * mesh->ny);
    pp_cell_polynomials(mesh, surface->field, cells);
    *context = (surface_heights){mesh, cells};
    *relief = (pp_relief){.outline = mesh->outline,
                          .centre_x = cut_out ? mesh->x0 + mesh->width / 2 : mesh->centre_x,
                          .centre_y = cut_out ? mesh->y0 + mesh->height / 2 : mesh->centre_y,
                          .shape = mesh->shape,
                          .radius = mesh->radius,
                          .width = mesh->width,
                          .height = mesh->height,
                          .feature = fmax(mesh->hx, mesh->hy),
                          .heights = heights,
                          .context = context};
    find_curvatures(surface, relief);
    return PP_OK;
}

static pp_status search(const pp_surface *surface, const pp_surface *underside, size_t count,
                        const double *lengths, int threads, pp_memory *memory, pp_straightedge *out,
                        pp_error *error)
{
    surface_heights context[2];
    pp_relief relief[2];
    PP_TRY(make_relief(surface, memory, &context[0], &relief[0], error));
    if (underside) PP_TRY(make_relief(underside, memory, &context[1], &relief[1], error));
    pp_straightedge *found;
    PP_TAKE(found, &memory->scratch, count);
    for (size_t k = 0; k < count; k++)
        PP_TRY(pp_straightedge_on_relief(&relief[0], underside ? &relief[1] : NULL, lengths[k],
                                         threads, memory, &found[k], error));
    for (size_t k = 0; k < count; k++) out[k] = found[k];
    return PP_OK;
}

pp_status pp_straightedge_search(const pp_surface *surface, const pp_surface *underside,
                                 size_t count, const double *lengths, int threads,
                                 pp_memory *memory, pp_straightedge *out, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = search(surface, underside, count, lengths, threads, memory, out, error);
    pp_arena_release(&memory->scratch, mark);
    return status;
}

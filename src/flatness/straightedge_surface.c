/* The straightedge search over fitted surfaces. */
#include <math.h>
#include <stdint.h>

#include "base/clones.h"
#include "flatness/moments.h"
#include "flatness/straightedge.h"

enum { CURVATURE_SAMPLES = 4 /* intervals of a cell, each way */ };

/* Samples placed in the mesh at a time */
enum { BLOCK = 64 };

/* The polynomial of a cell, the powers of u side by side: four sums at once. */
typedef struct turned_polynomial {
    double c[4][4]; /* [b][a] of u^a v^b */
} turned_polynomial;

typedef struct surface_heights {
    const pp_mesh *mesh;
    const turned_polynomial *cells;
} surface_heights;

static inline __attribute__((always_inline)) double height_in(const turned_polynomial *p, double u,
                                                              double v)
{
    double row[4];
    for (int a = 0; a < 4; a++)
        row[a] = p->c[0][a] + v * (p->c[1][a] + v * (p->c[2][a] + v * p->c[3][a]));
    return ((row[3] * u + row[2]) * u + row[1]) * u + row[0];
}

/* Most places lie in an active cell of their own: no call for them, and divisions in pairs. */
PP_VECTOR_CLONES
static void heights(const void *context, size_t count, const double *x, const double *y,
                    double *height)
{
    const surface_heights *h = context;
    const pp_mesh *mesh = h->mesh;
    const double x0 = mesh->x0, y0 = mesh->y0, hx = mesh->hx, hy = mesh->hy;
    const double nx = (double)mesh->nx, ny = (double)mesh->ny;
    double s[BLOCK], t[BLOCK];
    for (size_t from = 0; from < count; from += BLOCK) {
        size_t some = count - from < BLOCK ? count - from : BLOCK;
        for (size_t k = 0; k < some; k++) {
            s[k] = (x[from + k] - x0) / hx;
            t[k] = (y[from + k] - y0) / hy;
        }
        for (size_t k = 0; k < some; k++) {
            pp_mesh_place place;
            bool within = s[k] >= 0 && t[k] >= 0 && s[k] < nx && t[k] < ny;
            int32_t i = within ? (int32_t)s[k] : 0, j = within ? (int32_t)t[k] : 0;
            size_t cell = (size_t)j * mesh->nx + (size_t)i;
            if (within && mesh->fraction[cell] > 0) {
                height[from + k] =
                    height_in(&h->cells[cell], 2 * (s[k] - i) - 1, 2 * (t[k] - j) - 1);
                continue;
            }
            place = pp_mesh_find(mesh, x[from + k], y[from + k]);
            height[from + k] = height_in(&h->cells[place.j * mesh->nx + place.i], 2 * place.s - 1,
                                         2 * place.t - 1);
        }
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
    size_t count = mesh->nx * mesh->ny;
    pp_cell_polynomial *cells;
    turned_polynomial *turned;
    PP_TAKE(cells, &memory->scratch, count);
    PP_TAKE(turned, &memory->scratch, count);
    pp_cell_polynomials(mesh, surface->field, cells);
    for (size_t k = 0; k < count; k++)
        for (int a = 0; a < 4; a++)
            for (int b = 0; b < 4; b++) turned[k].c[b][a] = cells[k].c[a][b];
    *context = (surface_heights){mesh, turned};
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

#include "holddown/hole_grid.h"

#include <math.h>
#include <string.h>

enum { ACROSS_MAX = 1000 }; /* cells on the long side */

static size_t clamp_index(double at, size_t count)
{
    return at > 0 ? (at < (double)count ? (size_t)at : count - 1) : 0;
}

static size_t cell_of(const pp_hole_grid *g, double x, double y)
{
    return clamp_index((y - g->y0) / g->cell, g->rows) * g->columns +
           clamp_index((x - g->x0) / g->cell, g->columns);
}

pp_status pp_hole_grid_make(size_t count, const double *x, const double *y, double reach,
                            pp_arena *arena, pp_hole_grid *grid, pp_error *error)
{
    pp_hole_grid g = {.count = count, .x = x, .y = y, .x0 = INFINITY, .y0 = INFINITY};
    double x1 = -INFINITY, y1 = -INFINITY;
    for (size_t h = 0; h < count; h++) {
        g.x0 = fmin(g.x0, x[h]), x1 = fmax(x1, x[h]);
        g.y0 = fmin(g.y0, y[h]), y1 = fmax(y1, y[h]);
    }
    if (count == 0) g.x0 = g.y0 = x1 = y1 = 0;
    g.cell = fmax(fmax(reach, fmax(x1 - g.x0, y1 - g.y0) / ACROSS_MAX), 1e-6);
    g.columns = (size_t)((x1 - g.x0) / g.cell) + 1;
    g.rows = (size_t)((y1 - g.y0) / g.cell) + 1;
    size_t cells = g.columns * g.rows;
    uint32_t *begin, *items;
    PP_TAKE_ZERO(begin, arena, cells + 1);
    PP_TAKE(items, arena, count);
    for (size_t h = 0; h < count; h++) begin[cell_of(&g, x[h], y[h])]++;
    for (size_t c = 1; c < cells; c++) begin[c] += begin[c - 1]; /* the end of each cell ... */
    for (size_t h = count; h-- > 0;) items[--begin[cell_of(&g, x[h], y[h])]] = (uint32_t)h;
    begin[cells] = (uint32_t)count; /* ... and now its begin */
    g.begin = begin;
    g.items = items;
    *grid = g;
    return PP_OK;
}

typedef struct window {
    size_t i0, i1, j0, j1;
} window;

static window cells_around(const pp_hole_grid *g, double x, double y, double distance)
{
    return (window){clamp_index((x - distance - g->x0) / g->cell, g->columns),
                    clamp_index((x + distance - g->x0) / g->cell, g->columns),
                    clamp_index((y - distance - g->y0) / g->cell, g->rows),
                    clamp_index((y + distance - g->y0) / g->cell, g->rows)};
}

size_t pp_hole_grid_near(const pp_hole_grid *g, double x, double y, double distance, size_t room,
                         uint32_t *list)
{
    size_t count = 0;
    window w = cells_around(g, x, y, distance);
    for (size_t j = w.j0; j <= w.j1; j++)
        for (size_t k = g->begin[j * g->columns + w.i0]; k < g->begin[j * g->columns + w.i1 + 1];
             k++) {
            uint32_t h = g->items[k];
            if (hypot(g->x[h] - x, g->y[h] - y) > distance) continue;
            if (list && count < room) list[count] = h;
            count++;
        }
    return count;
}

double pp_hole_grid_nearest(const pp_hole_grid *g, double x, double y, double distance)
{
    double nearest = INFINITY;
    window w = cells_around(g, x, y, distance);
    for (size_t j = w.j0; j <= w.j1; j++)
        for (size_t k = g->begin[j * g->columns + w.i0]; k < g->begin[j * g->columns + w.i1 + 1];
             k++) {
            double d = hypot(g->x[g->items[k]] - x, g->y[g->items[k]] - y);
            if (d <= distance) nearest = fmin(nearest, d);
        }
    return nearest;
}

/* Holes near a place, through a grid of square cells as wide as the reach asked for. */
#ifndef PP_HOLDDOWN_HOLE_GRID_H
#define PP_HOLDDOWN_HOLE_GRID_H

#include <stdint.h>

#include "base/memory.h"

typedef struct pp_hole_grid {
    size_t count;
    const double *x, *y; /* the holes, not owned */
    double x0, y0, cell;
    size_t columns, rows;
    const uint32_t *begin; /* [columns * rows + 1] */
    const uint32_t *items; /* [count], ascending within each cell */
} pp_hole_grid;

/* Sort `count` places into cells at least `reach` wide. */
pp_status pp_hole_grid_make(size_t count, const double *x, const double *y, double reach,
                            pp_arena *arena, pp_hole_grid *grid, pp_error *error);

/* Holes whose centres lie within `distance` of (x, y), into list[room] (may be NULL), in cell
 * order; returns how many there are, be it more than room. */
size_t pp_hole_grid_near(const pp_hole_grid *grid, double x, double y, double distance, size_t room,
                         uint32_t *list);

/* Distance from (x, y) to the nearest hole within `distance`; INFINITY if none. */
double pp_hole_grid_nearest(const pp_hole_grid *grid, double x, double y, double distance);

#endif

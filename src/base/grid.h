/* Points sorted into square cells, to find what lies near a place. */
#ifndef PP_BASE_GRID_H
#define PP_BASE_GRID_H

#include <stdint.h>

#include "base/memory.h"

typedef struct pp_grid {
    size_t count;
    double x0, y0; /* lower corner */
    double cell;   /* side actually used: as asked for, or larger where that made too many cells */
    size_t columns, rows;
    const uint32_t *start; /* [columns * rows + 1]: first place of each cell, row by row */
    const uint32_t *item;  /* [count]: point at each place, ascending within a cell */
    const double *x, *y;   /* [count]: its coordinates, by place */
} pp_grid;

/* Cells that may hold points within a distance of a place. */
typedef struct pp_grid_window {
    size_t column_first, column_last, row_first, row_last;
} pp_grid_window;

/* Sort x, y[count] (finite) into cells of side `cell`; 0 or NaN: as small as there is room for, as
 * at most about 4 cells are made for a point.
 * errors   PP_ENOMEM */
pp_status pp_grid_build(size_t count, const double *x, const double *y, double cell,
                        pp_arena *arena, pp_grid *grid, pp_error *error);

/* The cells that may hold points within `radius` of (x, y); cut at the rim of the grid. */
pp_grid_window pp_grid_around(const pp_grid *grid, double x, double y, double radius);

/* Places first .. end - 1 of one row of the window. */
static inline size_t pp_grid_first(const pp_grid *grid, pp_grid_window window, size_t row)
{
    return grid->start[row * grid->columns + window.column_first];
}
static inline size_t pp_grid_end(const pp_grid *grid, pp_grid_window window, size_t row)
{
    return grid->start[row * grid->columns + window.column_last + 1];
}

/* Points within `radius` of (x, y), rim included, into list[room] (may be NULL), in the order of
 * their cells; returns how many there are, be it more than room. */
size_t pp_grid_near(const pp_grid *grid, double x, double y, double radius, size_t room,
                    uint32_t *list);

/* Distance from (x, y) to the nearest point within `radius`; INFINITY if there is none. */
double pp_grid_distance(const pp_grid *grid, double x, double y, double radius);

/* The point nearest to (x, y) within `radius` (ties: the lowest), UINT32_MAX if there is none. */
uint32_t pp_grid_nearest(const pp_grid *grid, double x, double y, double radius, double *distance);

#endif

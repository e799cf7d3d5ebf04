#include "base/grid.h"

#include <math.h>

static const double CELL_LEAST = 1e-6; /* of whoever asks for none */
enum { CELLS_PER_POINT = 4, CELLS_LEAST = 64 };

typedef struct box {
    double x_low, x_high, y_low, y_high;
} box;

static box bounds(size_t count, const double *x, const double *y)
{
    box b = {0, 0, 0, 0};
    if (count) b = (box){x[0], x[0], y[0], y[0]};
    for (size_t i = 1; i < count; i++) {
        if (x[i] < b.x_low) b.x_low = x[i];
        if (x[i] > b.x_high) b.x_high = x[i];
        if (y[i] < b.y_low) b.y_low = y[i];
        if (y[i] > b.y_high) b.y_high = y[i];
    }
    return b;
}

/* A stray point far away must not ask for more cells than there is use for. */
static double affordable_cell(box b, double cell, size_t count)
{
    double most = (double)CELLS_PER_POINT * (double)count + CELLS_LEAST;
    while ((floor((b.x_high - b.x_low) / cell) + 1) * (floor((b.y_high - b.y_low) / cell) + 1) >
           most)
        cell *= 1.5;
    return cell;
}

static size_t clamp_cell(double place, size_t cells)
{
    if (!(place > 0)) return 0;
    if (place >= (double)cells) return cells - 1;
    return (size_t)place;
}

static size_t cell_of(const pp_grid *grid, double x, double y)
{
    size_t column = clamp_cell((x - grid->x0) / grid->cell, grid->columns);
    size_t row = clamp_cell((y - grid->y0) / grid->cell, grid->rows);
    return row * grid->columns + column;
}

pp_status pp_grid_build(size_t count, const double *x, const double *y, double cell,
                        pp_arena *arena, pp_grid *grid, pp_error *error)
{
    box b = bounds(count, x, y);
    pp_grid g = {.count = count, .x0 = b.x_low, .y0 = b.y_low};
    g.cell = affordable_cell(b, fmax(cell, CELL_LEAST), count);
    g.columns = (size_t)floor((b.x_high - b.x_low) / g.cell) + 1;
    g.rows = (size_t)floor((b.y_high - b.y_low) / g.cell) + 1;
    size_t cells = g.columns * g.rows;

    uint32_t *start, *item;
    double *px, *py;
    PP_TAKE_ZERO(start, arena, cells + 1);
    PP_TAKE(item, arena, count);
    PP_TAKE(px, arena, count);
    PP_TAKE(py, arena, count);

    for (size_t i = 0; i < count; i++) start[cell_of(&g, x[i], y[i])]++;
    uint32_t total = 0;
    for (size_t c = 0; c <= cells; c++) { /* each cell's first place */
        uint32_t here = start[c];
        start[c] = total;
        total += here;
    }
    for (size_t i = 0; i < count; i++) {
        uint32_t place = start[cell_of(&g, x[i], y[i])]++;
        item[place] = (uint32_t)i;
        px[place] = x[i];
        py[place] = y[i];
    }
    for (size_t c = cells; c > 0; c--) start[c] = start[c - 1]; /* they moved one cell on */
    start[0] = 0;

    g.start = start;
    g.item = item;
    g.x = px;
    g.y = py;
    *grid = g;
    return PP_OK;
}

pp_grid_window pp_grid_around(const pp_grid *grid, double x, double y, double radius)
{
    return (pp_grid_window){
        clamp_cell((x - radius - grid->x0) / grid->cell, grid->columns),
        clamp_cell((x + radius - grid->x0) / grid->cell, grid->columns),
        clamp_cell((y - radius - grid->y0) / grid->cell, grid->rows),
        clamp_cell((y + radius - grid->y0) / grid->cell, grid->rows),
    };
}

size_t pp_grid_near(const pp_grid *grid, double x, double y, double radius, size_t room,
                    uint32_t *list)
{
    size_t count = 0;
    pp_grid_window window = pp_grid_around(grid, x, y, radius);
    for (size_t row = window.row_first; row <= window.row_last; row++) {
        size_t end = pp_grid_end(grid, window, row);
        for (size_t k = pp_grid_first(grid, window, row); k < end; k++) {
            if (hypot(grid->x[k] - x, grid->y[k] - y) > radius) continue;
            if (list && count < room) list[count] = grid->item[k];
            count++;
        }
    }
    return count;
}

double pp_grid_distance(const pp_grid *grid, double x, double y, double radius)
{
    double nearest = INFINITY;
    pp_grid_window window = pp_grid_around(grid, x, y, radius);
    for (size_t row = window.row_first; row <= window.row_last; row++) {
        size_t end = pp_grid_end(grid, window, row);
        for (size_t k = pp_grid_first(grid, window, row); k < end; k++) {
            double d = hypot(grid->x[k] - x, grid->y[k] - y);
            if (d <= radius) nearest = fmin(nearest, d);
        }
    }
    return nearest;
}

uint32_t pp_grid_nearest(const pp_grid *grid, double x, double y, double radius, double *distance)
{
    uint32_t nearest = UINT32_MAX;
    double best = radius * radius;
    pp_grid_window window = pp_grid_around(grid, x, y, radius);
    for (size_t row = window.row_first; row <= window.row_last; row++) {
        size_t end = pp_grid_end(grid, window, row);
        for (size_t k = pp_grid_first(grid, window, row); k < end; k++) {
            double dx = grid->x[k] - x, dy = grid->y[k] - y;
            double square = dx * dx + dy * dy;
            if (square < best || (square == best && grid->item[k] < nearest)) {
                best = square;
                nearest = grid->item[k];
            }
        }
    }
    if (distance) *distance = sqrt(best);
    return nearest;
}

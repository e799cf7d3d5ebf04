#include "flatness/coverage.h"

#include <math.h>

enum { EIGHTHS = 8 };

typedef struct envelope { /* workspace of one line */
    double *value;        /* [n] */
    size_t *apex;         /* [n] parabolas of the lower envelope */
    double *from;         /* [n + 1] where each begins */
} envelope;

/* value[q] <- min over p of value[p] + ((q - p) step)^2, for a line of n with a stride. */
static void nearest_along(double *line, size_t n, size_t stride, double step, envelope *e)
{
    size_t top = 0;
    bool any = false;
    double square = step * step;
    for (size_t q = 0; q < n; q++) e->value[q] = line[q * stride];
    for (size_t q = 0; q < n; q++) {
        if (isinf(e->value[q])) continue;
        double at = -INFINITY;
        while (any) {
            size_t p = e->apex[top];
            double dq = (double)q, dp = (double)p;
            at = ((e->value[q] - e->value[p]) / square + dq * dq - dp * dp) / (2 * (dq - dp));
            if (at > e->from[top]) break;
            if (top == 0) {
                any = false;
                at = -INFINITY;
            } else {
                top--;
            }
        }
        if (any) top++;
        e->apex[top] = q;
        e->from[top] = at;
        any = true;
    }
    if (!any) return;
    e->from[top + 1] = INFINITY;
    size_t k = 0;
    for (size_t q = 0; q < n; q++) {
        while (e->from[k + 1] < (double)q) k++;
        double off = ((double)q - (double)e->apex[k]) * step;
        line[q * stride] = e->value[e->apex[k]] + off * off;
    }
}

static pp_status squared_distances(const pp_mesh *mesh, const uint64_t *seen, pp_memory *memory,
                                   double **result, pp_error *error)
{
    size_t columns = EIGHTHS * mesh->nx, rows = EIGHTHS * mesh->ny;
    size_t longest = columns > rows ? columns : rows;
    double *grid;
    envelope e;
    PP_TAKE(grid, &memory->scratch, columns * rows);
    PP_TAKE(e.value, &memory->scratch, longest);
    PP_TAKE(e.apex, &memory->scratch, longest);
    PP_TAKE(e.from, &memory->scratch, longest + 1);
    for (size_t r = 0; r < rows; r++)
        for (size_t c = 0; c < columns; c++) {
            uint64_t cell = seen[r / EIGHTHS * mesh->nx + c / EIGHTHS];
            bool hit = cell >> (EIGHTHS * (r % EIGHTHS) + c % EIGHTHS) & 1;
            grid[r * columns + c] = hit ? 0 : INFINITY;
        }
    for (size_t r = 0; r < rows; r++)
        nearest_along(grid + r * columns, columns, 1, mesh->hx / EIGHTHS, &e);
    for (size_t c = 0; c < columns; c++)
        nearest_along(grid + c, rows, columns, mesh->hy / EIGHTHS, &e);
    *result = grid;
    return PP_OK;
}

pp_status pp_unseen_find(const pp_mesh *mesh, const uint64_t *seen, double reach, double far,
                         pp_memory *memory, pp_unseen *unseen, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    double *square = NULL;
    PP_TRY(squared_distances(mesh, seen, memory, &square, error));
    double step_x = mesh->hx / EIGHTHS, step_y = mesh->hy / EIGHTHS;
    double limit = fmax(reach, 2 * fmax(step_x, step_y));
    size_t columns = EIGHTHS * mesh->nx, rows = EIGHTHS * mesh->ny, inside = 0, beyond = 0,
           far_off = 0;
    pp_unseen out = {.distance = -1};
    for (size_t r = 0; r < rows; r++)
        for (size_t c = 0; c < columns; c++) {
            double x = mesh->x0 + ((double)c + 0.5) * step_x;
            double y = mesh->y0 + ((double)r + 0.5) * step_y;
            if (!pp_mesh_inside(mesh, x, y)) continue;
            double distance = sqrt(square[r * columns + c]);
            inside++;
            beyond += distance > limit;
            far_off += distance > fmax(far, limit);
            if (distance > out.distance) out.distance = distance, out.x = x, out.y = y;
        }
    out.share = (double)beyond / (double)inside;
    out.far_share = (double)far_off / (double)inside;
    pp_arena_release(&memory->scratch, mark);
    *unseen = out;
    return PP_OK;
}

#include "base/isobands.h"

#include <math.h>

typedef struct cell {
    double x[4], y[4], v[4]; /* corners, anticlockwise from the lower left */
} cell;

static bool take_cell(const pp_raster *r, size_t i, size_t j, cell *c)
{
    const double *v = &r->value[j * r->columns + i];
    const double value[] = {v[0], v[1], v[r->columns + 1], v[r->columns]};
    for (size_t k = 0; k < 4; k++) {
        size_t right = k == 1 || k == 2, up = k >= 2;
        c->x[k] = r->x0 + (double)(i + right) * r->dx;
        c->y[k] = r->y0 + (double)(j + up) * r->dy;
        c->v[k] = value[k];
        if (isnan(value[k])) return false;
    }
    return true;
}

static int corners_above(const cell *c, double level)
{
    int above = 0;
    for (int k = 0; k < 4; k++) above += c->v[k] >= level;
    return above;
}

/* Where the side from corner a to corner b crosses the level */
static void crossing(const cell *c, int a, int b, double level, double *x, double *y)
{
    double share = (level - c->v[a]) / (c->v[b] - c->v[a]);
    *x = c->x[a] + share * (c->x[b] - c->x[a]);
    *y = c->y[a] + share * (c->y[b] - c->y[a]);
}

/* The cell cut by the level (Sutherland and Hodgman 1974) */
static void visit_cut(const cell *c, double level, pp_band_visit *visit, void *context)
{
    bool begins = true;
    for (int a = 0; a < 4; a++) {
        int b = (a + 1) % 4;
        bool in = c->v[a] >= level, next_in = c->v[b] >= level;
        double x, y;
        if (in) visit(context, c->x[a], c->y[a], begins), begins = false;
        if (in == next_in) continue;
        crossing(c, a, b, level, &x, &y);
        visit(context, x, y, begins);
        begins = false;
    }
}

static void visit_run(const pp_raster *r, size_t from, size_t to, size_t j, pp_band_visit *visit,
                      void *context)
{
    double x0 = r->x0 + (double)from * r->dx, x1 = r->x0 + (double)to * r->dx;
    double y0 = r->y0 + (double)j * r->dy, y1 = r->y0 + (double)(j + 1) * r->dy;
    visit(context, x0, y0, true);
    visit(context, x1, y0, false);
    visit(context, x1, y1, false);
    visit(context, x0, y1, false);
}

void pp_raster_above(const pp_raster *r, double level, pp_band_visit *visit, void *context)
{
    cell c;
    for (size_t j = 0; j + 1 < r->rows; j++) {
        size_t run = 0; /* full cells before this one */
        for (size_t i = 0; i + 1 < r->columns; i++) {
            int above = take_cell(r, i, j, &c) ? corners_above(&c, level) : 0;
            if (above == 4) {
                run++;
                continue;
            }
            if (run) visit_run(r, i - run, i, j, visit, context);
            run = 0;
            if (above) visit_cut(&c, level, visit, context);
        }
        if (run) visit_run(r, r->columns - 1 - run, r->columns - 1, j, visit, context);
    }
}

void pp_raster_line(const pp_raster *r, double level, pp_line_visit *visit, void *context)
{
    cell c;
    for (size_t j = 0; j + 1 < r->rows; j++)
        for (size_t i = 0; i + 1 < r->columns; i++) {
            double x[4], y[4];
            int n = 0;
            if (!take_cell(r, i, j, &c)) continue;
            for (int a = 0; a < 4; a++) {
                int b = (a + 1) % 4;
                if ((c.v[a] >= level) == (c.v[b] >= level)) continue;
                crossing(&c, a, b, level, &x[n], &y[n]);
                n++;
            }
            for (int k = 0; k + 1 < n; k += 2) visit(context, x[k], y[k], x[k + 1], y[k + 1]);
        }
}

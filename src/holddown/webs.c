#include "holddown/webs.h"

#include <math.h>
#include <stdlib.h>

#include "base/grid.h"
#include "holddown/pin_metal.h"

enum { NEIGHBOURS_MAX = 64, METAL_MAX = 1024 };
static const double RADIUS_MOST = 0.75; /* of the pitch: past a square web's 1/sqrt 2 */
static const double SAME = 1e-5;        /* of the pitch: on one circle */

typedef struct circle {
    double x, y, radius;
} circle;

/* Through three points; false when they are (almost) in line. */
static bool through(const double *x, const double *y, uint32_t i, uint32_t j, uint32_t k, circle *c)
{
    double bx = x[j] - x[i], by = y[j] - y[i], cx = x[k] - x[i], cy = y[k] - y[i];
    double twice = 2 * (bx * cy - by * cx), b2 = bx * bx + by * by, c2 = cx * cx + cy * cy;
    if (fabs(twice) < 1e-9 * (b2 + c2)) return false;
    double ux = (cy * b2 - by * c2) / twice, uy = (bx * c2 - cx * b2) / twice;
    *c = (circle){x[i] + ux, y[i] + uy, hypot(ux, uy)};
    return true;
}

static double radius_of_hole(const pp_web_request *r, uint32_t hole)
{
    return pp_drilled_radius(r->nominal, hole, r->hole_diameter);
}

pp_status pp_webs_find_wide(pp_web_request *request, pp_arena *arena, pp_error *error)
{
    size_t count = 0;
    for (size_t h = 0; h < request->nominal->count; h++)
        count += radius_of_hole(request, (uint32_t)h) > request->pitch;
    uint32_t *wide;
    PP_TAKE(wide, arena, count);
    request->wide = wide;
    request->wide_count = count;
    for (size_t h = 0; h < request->nominal->count; h++)
        if (radius_of_hole(request, (uint32_t)h) > request->pitch) *wide++ = (uint32_t)h;
    return PP_OK;
}

static double metal_from(const pp_web_request *r, uint32_t hole, double x, double y)
{
    return hypot(r->nominal->x[hole] - x, r->nominal->y[hole] - y) - radius_of_hole(r, hole);
}

double pp_webs_metal(const pp_web_request *request, const pp_grid *grid, double x, double y,
                     double distance)
{
    uint32_t near[METAL_MAX];
    size_t count = pp_grid_near(grid, x, y, distance, METAL_MAX, near);
    double metal = count > METAL_MAX ? -INFINITY : INFINITY;
    for (size_t k = 0; k < count && k < METAL_MAX; k++)
        metal = fmin(metal, metal_from(request, near[k], x, y));
    for (size_t k = 0; k < request->wide_count; k++)
        metal = fmin(metal, metal_from(request, request->wide[k], x, y));
    return metal;
}

/* How many holes lie on the circle, 0 when one lies within it, or when (i, j, k) are not the first
 * three on it: each circle is to be found once. */
static int holes_on(const pp_web_request *r, const pp_grid *grid, const circle *c, uint32_t i,
                    uint32_t j, uint32_t k)
{
    uint32_t near[NEIGHBOURS_MAX];
    double pitch = r->pitch;
    size_t count = pp_grid_near(grid, c->x, c->y, c->radius + SAME * pitch, NEIGHBOURS_MAX, near);
    for (size_t n = 0; n < count && n < NEIGHBOURS_MAX; n++) {
        uint32_t h = near[n];
        if (h == i || h == j || h == k) continue;
        double d = hypot(r->nominal->x[h] - c->x, r->nominal->y[h] - c->y);
        if (d < c->radius - SAME * pitch || h < k) return 0;
    }
    return (int)count;
}

typedef struct web_list {
    pp_web *webs;
    size_t count;
} web_list;

/* Webs whose first hole is i; counted only when list->webs is NULL */
static void webs_of_hole(const pp_web_request *r, const pp_grid *grid, uint32_t i, web_list *list)
{
    uint32_t near[NEIGHBOURS_MAX];
    const double *x = r->nominal->x, *y = r->nominal->y;
    double most = RADIUS_MOST * r->pitch;
    size_t n = pp_grid_near(grid, x[i], y[i], 2 * most, NEIGHBOURS_MAX, near);
    if (n > NEIGHBOURS_MAX) n = NEIGHBOURS_MAX;
    for (size_t a = 0; a < n; a++)
        for (size_t b = 0; b < n; b++) {
            uint32_t j = near[a], k = near[b];
            circle c;
            if (j <= i || k <= j || !through(x, y, i, j, k, &c)) continue;
            if (c.radius > most) continue;
            int holes = holes_on(r, grid, &c, i, j, k);
            if (holes == 0) continue;
            if (list->webs) {
                double metal = pp_webs_metal(r, grid, c.x, c.y, c.radius + r->pitch);
                list->webs[list->count] = (pp_web){c.x, c.y, metal, holes};
            }
            list->count++;
        }
}

static int by_place(const void *a, const void *b)
{
    const pp_web *p = a, *q = b;
    if (p->y != q->y) return p->y < q->y ? -1 : 1;
    return p->x < q->x ? -1 : p->x > q->x;
}

pp_status pp_webs_find(const pp_web_request *request, pp_arena *arena, size_t *count, pp_web **webs,
                       pp_error *error)
{
    const pp_nominal *n = request->nominal;
    pp_grid grid;
    PP_TRY(
        pp_grid_build(n->count, n->x, n->y, 2 * RADIUS_MOST * request->pitch, arena, &grid, error));
    web_list list = {0};
    for (size_t h = 0; h < n->count; h++) webs_of_hole(request, &grid, (uint32_t)h, &list);
    PP_TAKE(list.webs, arena, list.count);
    list.count = 0;
    for (size_t h = 0; h < n->count; h++) webs_of_hole(request, &grid, (uint32_t)h, &list);
    qsort(list.webs, list.count, sizeof *list.webs, by_place);
    *count = list.count;
    *webs = list.webs;
    return PP_OK;
}

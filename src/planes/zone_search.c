/* The narrowest zone over all orientations: branch and bound on the half sphere of directions; see
 * zone_solver.h for the bounds. */
#include "planes/zone_solver.h"

#include <string.h>

#include "planes/plane_pass.h"

enum { CAPS_MAX = 256 };

static const double FINEST_CELL = 1e-9;   /* rad: no cell is cut further */
static const double DESCEND_CELL = 1e-3;  /* rad: from here on a cell asks where it drains to */
static const double DESCENT_VISITS = 100; /* a descent looks at every point about that often */

/* Directions around a local minimum that are settled by its guard. */
typedef struct cap {
    double axis[3];
    double angle;
} cap;

typedef struct search {
    const pp_zone_cloud *cloud;
    pp_zone_work *work;
    pp_zone_fit best;
    cap caps[CAPS_MAX];
    size_t cap_count;
    double *budget; /* point visits left */
    bool proven;
    pp_error *error;
} search;

/* A spherical triangle, and how many points of order[0] (above) and order[1] (below), counted from
 * the front, can be extreme in one of its directions. */
typedef struct cell {
    double corner[3][3];
    size_t candidates[2];
} cell;

static double dot(const double a[3], const double b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

/* Angle between unit vectors, accurate for small ones too. */
static double angle_between(const double a[3], const double b[3])
{
    double d[3] = {a[0] - b[0], a[1] - b[1], a[2] - b[2]};
    return 2 * asin(fmin(1, sqrt(dot(d, d)) / 2));
}

static void middle(const double *const points[], int count, double unit[3])
{
    double sum[3] = {0};
    for (int i = 0; i < count; i++)
        for (int k = 0; k < 3; k++) sum[k] += points[i][k];
    double length = sqrt(dot(sum, sum));
    for (int k = 0; k < 3; k++) unit[k] = sum[k] / length;
}

static void point_of(const pp_zone_cloud *cloud, size_t i, double p[3])
{
    p[0] = cloud->x[i], p[1] = cloud->y[i], p[2] = cloud->z[i];
}

/* The candidate farthest along `direction`. */
static size_t farthest(const search *s, const double direction[3], const size_t *order,
                       size_t count)
{
    size_t best = order[0];
    double reach = -INFINITY, p[3];
    for (size_t k = 0; k < count; k++) {
        point_of(s->cloud, order[k], p);
        double along = dot(direction, p);
        if (along > reach) reach = along, best = order[k];
    }
    return best;
}

/* Move to the front those candidates that can overtake `leader` (the farthest along `direction`)
 * when the direction turns by at most `angle`: |turned - direction| <= 2 sin(angle/2). */
static size_t keep_candidates(const search *s, const double direction[3], double angle,
                              size_t leader, size_t *order, size_t count)
{
    double reach = 2 * sin(angle / 2), lead[3], p[3];
    size_t kept = 0;
    point_of(s->cloud, leader, lead);
    for (size_t k = 0; k < count; k++) {
        point_of(s->cloud, order[k], p);
        double behind[3] = {lead[0] - p[0], lead[1] - p[1], lead[2] - p[2]};
        double gap = dot(direction, behind) - s->cloud->noise;
        if (gap > 0 && gap * gap > reach * reach * dot(behind, behind)) continue;
        size_t other = order[kept];
        order[kept++] = order[k];
        order[k] = other;
    }
    return kept;
}

static bool covered(const search *s, const cell *c)
{
    for (size_t i = 0; i < s->cap_count; i++)
        for (int sense = 1; sense >= -1; sense -= 2) {
            bool inside = true;
            for (int k = 0; inside && k < 3; k++) {
                double n[3] = {sense * c->corner[k][0], sense * c->corner[k][1],
                               sense * c->corner[k][2]};
                inside = angle_between(n, s->caps[i].axis) <= s->caps[i].angle;
            }
            if (inside) return true;
        }
    return false;
}

/* A cap must stay below a right angle: there it is convex, so corners inside mean all inside. */
static void add_cap(search *s, const pp_zone_fit *fit)
{
    if (s->cap_count == CAPS_MAX) return;
    cap *c = &s->caps[s->cap_count++];
    memcpy(c->axis, fit->normal, sizeof c->axis);
    c->angle = fmin(1.5, 2 * atan(fit->guard / fit->width) * (1 - 1e-9));
}

static pp_status descend(search *s, const double direction[3])
{
    pp_zone_fit fit = {0};
    *s->budget -= DESCENT_VISITS * (double)s->cloud->count;
    PP_TRY(pp_zone_descend(s->cloud, direction, s->work, &fit, s->error));
    if (fit.seen_as_line) return PP_OK;
    if (fit.flat || fit.width < s->best.width - s->cloud->noise) s->best = fit;
    if (!fit.flat) add_cap(s, &fit);
    return PP_OK;
}

static void cut(const cell *c, cell parts[4])
{
    double mid[3][3];
    for (int k = 0; k < 3; k++)
        middle((const double *const[]){c->corner[k], c->corner[(k + 1) % 3]}, 2, mid[k]);
    for (int k = 0; k < 3; k++) {
        parts[k] = *c;
        memcpy(parts[k].corner[(k + 1) % 3], mid[k], sizeof mid[k]);
        memcpy(parts[k].corner[(k + 2) % 3], mid[(k + 2) % 3], sizeof mid[k]);
    }
    parts[3] = *c;
    memcpy(parts[3].corner, mid, sizeof mid);
}

/* Settle every direction of the cell, or clear s->proven. */
static pp_status settle(search *s, cell *c)
{
    if (s->best.flat) return PP_OK;
    *s->budget -= 2 * (double)(c->candidates[0] + c->candidates[1]);
    if (*s->budget < 0) s->proven = false;
    if (*s->budget < 0) return PP_OK;
    double centre[3], back[3], p[3], q[3], span[3], radius = 0;
    middle((const double *const[]){c->corner[0], c->corner[1], c->corner[2]}, 3, centre);
    for (int k = 0; k < 3; k++) radius = fmax(radius, angle_between(centre, c->corner[k]));
    for (int k = 0; k < 3; k++) back[k] = -centre[k];
    size_t top = farthest(s, centre, s->work->order[0], c->candidates[0]);
    size_t bottom = farthest(s, back, s->work->order[1], c->candidates[1]);
    point_of(s->cloud, top, p);
    point_of(s->cloud, bottom, q);
    for (int k = 0; k < 3; k++) span[k] = p[k] - q[k];

    bool drains = dot(centre, span) < s->best.width - s->cloud->noise;
    if (drains) PP_TRY(descend(s, centre));
    double least =
        fmin(fmin(dot(c->corner[0], span), dot(c->corner[1], span)), dot(c->corner[2], span));
    if (least >= s->best.width - s->cloud->blur || covered(s, c)) return PP_OK;
    if (!drains && radius < DESCEND_CELL) {
        PP_TRY(descend(s, centre));
        if (covered(s, c)) return PP_OK;
    }
    if (radius < FINEST_CELL) {
        s->proven = false;
        return PP_OK;
    }
    c->candidates[0] = keep_candidates(s, centre, radius, top, s->work->order[0], c->candidates[0]);
    c->candidates[1] =
        keep_candidates(s, back, radius, bottom, s->work->order[1], c->candidates[1]);
    cell parts[4];
    cut(c, parts);
    for (int k = 0; k < 4; k++) PP_TRY(settle(s, &parts[k]));
    return PP_OK;
}

pp_status pp_zone_search(const pp_zone_cloud *cloud, pp_zone_work *work, pp_zone_fit *best,
                         double *budget, bool *proven, pp_error *error)
{
    static const double side[4][2] = {{1, 1}, {-1, 1}, {-1, -1}, {1, -1}};
    search s = {.cloud = cloud,
                .work = work,
                .best = *best,
                .budget = budget,
                .proven = true,
                .error = error};
    add_cap(&s, best);
    for (size_t i = 0; i < cloud->count; i++) work->order[0][i] = work->order[1][i] = i;
    for (int k = 0; k < 4; k++) {
        cell c = {{{side[k][0], 0, 0}, {0, side[k][1], 0}, {0, 0, 1}},
                  {cloud->count, cloud->count}};
        PP_TRY(settle(&s, &c));
    }
    *best = s.best;
    *proven = s.proven;
    return PP_OK;
}

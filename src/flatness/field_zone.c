#include "flatness/field_zone.h"

#include <math.h>

#include "linalg/linalg.h"

/* Two unit vectors of the plane. */
static void axes_of(const pp_plane *plane, double along[3], double across[3])
{
    const double *n = plane->normal;
    int flat = fabs(n[0]) < fabs(n[1]) ? 0 : 1;
    if (fabs(n[2]) < fabs(n[flat])) flat = 2;
    double dot = n[flat], length = sqrt(1 - dot * dot);
    for (int k = 0; k < 3; k++) along[k] = ((k == flat) - dot * n[k]) / length;
    across[0] = n[1] * along[2] - n[2] * along[1];
    across[1] = n[2] * along[0] - n[0] * along[2];
    across[2] = n[0] * along[1] - n[1] * along[0];
}

/* One point above, one below: what there is when the four do not settle the weights, and more noise
 * than any weights have. */
static void take_two(pp_zone_weights *z, size_t upper, size_t lower)
{
    z->count = 2;
    z->index[0] = upper, z->weight[0] = 1;
    z->index[1] = lower, z->weight[1] = -1;
}

/* Weights of the four witnesses: 1 above and -1 below in all, with one foot. */
static bool weigh(const pp_points *p, const pp_minimum_zone *zone, pp_zone_weights *z)
{
    static const double NEGATIVE = 1e-6; /* rounding */
    double along[3], across[3], m[16], r[4] = {1, -1, 0, 0}, size = 0;
    int pivots[4];
    pp_error ignored;
    axes_of(&zone->plane, along, across);
    for (int i = 0; i < 4; i++) {
        size_t k = zone->witness[i].index;
        double d[3] = {p->x[k] - zone->plane.point[0], p->y[k] - zone->plane.point[1],
                       p->z[k] - zone->plane.point[2]};
        m[4 * i] = zone->witness[i].side > 0, m[4 * i + 1] = zone->witness[i].side < 0;
        m[4 * i + 2] = d[0] * along[0] + d[1] * along[1] + d[2] * along[2];
        m[4 * i + 3] = d[0] * across[0] + d[1] * across[1] + d[2] * across[2];
        size = fmax(size, fmax(fabs(m[4 * i + 2]), fabs(m[4 * i + 3])));
    }
    if (!(size > 0)) return false;
    for (int i = 0; i < 4; i++) m[4 * i + 2] /= size, m[4 * i + 3] /= size;
    if (pp_lu_factor(4, m, 4, pivots, &ignored) != PP_OK ||
        pp_lu_solve(4, m, 4, pivots, 1, r, 4, &ignored) != PP_OK)
        return false;
    z->count = 4;
    for (int i = 0; i < 4; i++) {
        z->index[i] = zone->witness[i].index;
        z->weight[i] = r[i];
        if (!(r[i] * zone->witness[i].side >= -NEGATIVE) || !(fabs(r[i]) <= 1 + NEGATIVE))
            return false;
    }
    return true;
}

pp_zone_weights pp_zone_weights_of(const pp_points *points, const pp_least_squares *least_squares,
                                   const pp_minimum_zone *minimum_zone, bool by_least_squares)
{
    pp_zone_weights z = {0};
    if (by_least_squares) {
        z.width = least_squares->flatness;
        z.plane = least_squares->plane;
        take_two(&z, least_squares->highest, least_squares->lowest);
        return z;
    }
    z.width = minimum_zone->flatness;
    z.plane = minimum_zone->plane;
    if (minimum_zone->witness_count == 4 && weigh(points, minimum_zone, &z)) return z;
    take_two(&z, least_squares->highest, least_squares->lowest);
    return z;
}

double pp_zone_spread(const pp_zone_weights *zone)
{
    double sum = 0;
    for (int i = 0; i < zone->count; i++) sum += zone->weight[i] * zone->weight[i];
    return sqrt(sum);
}

static const double UP[3] = {0, 0, 1};

pp_status pp_zone_fit(const pp_points *points, int threads, pp_memory *memory,
                      pp_least_squares *fit, pp_error *error)
{
    return pp_plane_least_squares(points, UP, threads, memory, fit, error);
}

pp_status pp_zone_of_fit(const pp_points *points, const pp_least_squares *fit,
                         bool by_least_squares, int threads, pp_memory *memory,
                         pp_zone_weights *zone, pp_error *error)
{
    static const double PLANE = 1e-6; /* mm: what every comparison allows */
    pp_minimum_zone narrowest = {0};
    /* a plane but for rounding: whose points touch first is chance, and the zone no wider than this
     */
    if (!by_least_squares && fit->flatness > PLANE)
        PP_TRY(pp_plane_minimum_zone(points, fit, UP, threads, memory, &narrowest, error));
    *zone = pp_zone_weights_of(points, fit, &narrowest, by_least_squares || fit->flatness <= PLANE);
    return PP_OK;
}

pp_status pp_zone_find(const pp_points *points, bool by_least_squares, int threads,
                       pp_memory *memory, pp_zone_weights *zone, pp_error *error)
{
    pp_least_squares fit;
    PP_TRY(pp_zone_fit(points, threads, memory, &fit, error));
    return pp_zone_of_fit(points, &fit, by_least_squares, threads, memory, zone, error);
}

#include "holddown/seat.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>

/* The centre is moved aside by these shares of the extent while searching: over a regular raster it
 * would else stand exactly on edges of many triangles, among which the search could circle. */
static const double ASIDE_X = 0.7548776662466927e-8, ASIDE_Y = 0.5698402909980532e-8;

/* The imaginary corners: so many extents away, and so many ranges of height above all points. */
static const double FAR = 100, UP = 1e6;
static const double RANGE_LEAST = 1e-3;   /* mm: of a flat set of points */
static const double BELOW_EXTENT = 1e-12; /* a point counts as below the plane from this share of */
static const double BELOW_RANGE = 1e-13;  /* the extent and this one of the range on */
static const double SHARE_LEAST = 1e-12;  /* of the entering point: a corner that can leave */
static const double STEP_SAME = 1e-14;    /* two steps are one */
static const double SHARE_OUTSIDE =
    -1e-9; /* of the centre: less, and it is not over the triangle */
static const double HALF_ROOT_3 = 0.8660254; /* the imaginary triangle is equilateral */
enum { ROUNDS_A_POINT = 10, ROUNDS_MORE = 100 };

/* A corner of the triangle: a given point, or one of three imaginary ones far out and high up,
 * which only real points can replace. */
typedef struct corner {
    double x, y, z; /* from the centre of mass */
    size_t point;   /* SIZE_MAX: imaginary */
} corner;

/* Share of each corner in the centre of mass (0, 0): three weights that add up to 1. */
static void shares_at(const corner c[3], double x, double y, double share[3])
{
    double area = (c[1].x - c[0].x) * (c[2].y - c[0].y) - (c[2].x - c[0].x) * (c[1].y - c[0].y);
    for (int k = 0; k < 3; k++) {
        const corner *p = &c[(k + 1) % 3], *q = &c[(k + 2) % 3];
        share[k] = ((p->x - x) * (q->y - y) - (q->x - x) * (p->y - y)) / area;
    }
}

static double height_at(const corner c[3], double x, double y)
{
    double share[3];
    shares_at(c, x, y, share);
    return share[0] * c[0].z + share[1] * c[1].z + share[2] * c[2].z;
}

/* Put `entering` in the place of the corner that keeps the centre inside: with the entering point
 * e = sum s_k c_k, the centre's shares t_k change to t_k - step s_k; the first to reach zero
 * leaves.
 */
static int leaving_corner(const corner c[3], const corner *entering)
{
    double t[3], s[3], best = INFINITY;
    int leaves = 0;
    shares_at(c, 0, 0, t);
    shares_at(c, entering->x, entering->y, s);
    for (int k = 0; k < 3; k++) {
        if (s[k] <= SHARE_LEAST) continue;
        double step = t[k] / s[k];
        if (step < best - STEP_SAME || (step < best + STEP_SAME && c[k].point == SIZE_MAX)) {
            best = step;
            leaves = k;
        }
    }
    return leaves;
}

pp_status pp_seat_rest_plane(const pp_stand *stand, const double *z, pp_rest_plane *plane,
                             pp_error *error)
{
    const double *x = stand->x, *y = stand->y, extent = stand->extent;
    size_t count = stand->count;
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < count; i++) low = fmin(low, z[i]), high = fmax(high, z[i]);
    double range = high - low + RANGE_LEAST;
    double tolerance = BELOW_EXTENT * extent + BELOW_RANGE * range;
    double far = FAR * extent, up = high + UP * range;
    double centre_x = stand->centre_x + ASIDE_X * extent;
    double centre_y = stand->centre_y + ASIDE_Y * extent;
    corner c[3] = {{far, 0, up, SIZE_MAX},
                   {-0.5 * far, HALF_ROOT_3 * far, up, SIZE_MAX},
                   {-0.5 * far, -HALF_ROOT_3 * far, up, SIZE_MAX}};
    bool settled = false;
    for (size_t round = 0; round <= ROUNDS_A_POINT * count + ROUNDS_MORE && !settled; round++) {
        double deepest = -tolerance;
        size_t who = SIZE_MAX;
        for (size_t i = 0; i < count; i++) {
            double above = z[i] - height_at(c, x[i] - centre_x, y[i] - centre_y);
            if (above < deepest) deepest = above, who = i;
        }
        settled = who == SIZE_MAX;
        if (settled) break;
        corner entering = {x[who] - centre_x, y[who] - centre_y, z[who], who};
        c[leaving_corner(c, &entering)] = entering;
    }
    if (!settled)
        return pp_fail(error, PP_ENUMERIC,
                       "the plane on which the plate rests was not found; move supports that lie "
                       "in one line with the centre of the plate");
    double share[3];
    shares_at(c, 0, 0, share);
    for (int k = 0; k < 3; k++)
        if (c[k].point == SIZE_MAX || !isfinite(share[k]) || share[k] < SHARE_OUTSIDE)
            return pp_fail(error, PP_EINPUT,
                           "the centre of the plate is not over its supports, so it would tip; "
                           "give supports around the centre");
    double area = (c[1].x - c[0].x) * (c[2].y - c[0].y) - (c[2].x - c[0].x) * (c[1].y - c[0].y);
    double z1 = c[1].z - c[0].z, z2 = c[2].z - c[0].z;
    pp_rest_plane p = {.centre_x = centre_x, .centre_y = centre_y};
    p.slope_x = (z1 * (c[2].y - c[0].y) - z2 * (c[1].y - c[0].y)) / area;
    p.slope_y = (z2 * (c[1].x - c[0].x) - z1 * (c[2].x - c[0].x)) / area;
    p.height = c[0].z - p.slope_x * c[0].x - p.slope_y * c[0].y;
    for (int k = 0; k < 3; k++) p.touching[k] = c[k].point;
    *plane = p;
    return PP_OK;
}

double pp_seat_height(const pp_rest_plane *plane, double x, double y)
{
    return plane->height + plane->slope_x * (x - plane->centre_x) +
           plane->slope_y * (y - plane->centre_y);
}

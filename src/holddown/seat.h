/* How a rigid plate rests on supports: the plane that touches from below. */
#ifndef PP_HOLDDOWN_SEAT_H
#define PP_HOLDDOWN_SEAT_H

#include "holddown/stand.h"
#include "plateproof/error.h"

typedef struct pp_rest_plane { /* z = height + slope_x (x - centre_x) + slope_y (y - centre_y) */
    double centre_x, centre_y;
    double height, slope_x, slope_y;
    size_t touching[3]; /* the points it rests on */
} pp_rest_plane;

/* The plane on which a rigid plate comes to rest: no point (x, y, z) lies below it, and the centre
 * of mass stands over the triangle of the three points it touches.
 *
 * given    z[count]  of the plate's underside above the support at each place of `stand`
 * errors   PP_EINPUT  the centre of mass is not over the supports: it would tip
 *
 * Method: the lower convex hull's facet under the centre of mass, by the dual simplex method (a
 * triangle around the centre whose plane is lowered to the point farthest below it).
 */
pp_status pp_seat_rest_plane(const pp_stand *stand, const double *z, pp_rest_plane *plane,
                             pp_error *error);

/* Height of the plane at (x, y). */
double pp_seat_height(const pp_rest_plane *plane, double x, double y);

#endif

/* The largest gap under a straightedge laid anywhere on the plate, in any direction.
 *
 * A straightedge of length L rests on two contact points A and B of the surface; the gap is the
 * depth of the surface below the chord AB. The largest gap over all places is the largest of
 *     (1 - t) f(A) + t f(B) - f((1 - t) A + t B)    for |A - B| <= L, A and B on the plate,
 * because over a longer piece of plate the upper convex hull of the profile only rises. So windows
 * of the full length (or of the whole chord of the plate, where that is shorter) are all that need
 * be tried, each with the hull of its profile. The underside is the top turned over: -f.
 *
 * Density: with c = relief.feature (the mesh's cell size), lines c/3 apart (and through the corners
 * of a rectangle), directions c/(2 L) apart (and along the diagonals), samples along a line c/4
 * apart or 40 to the window, whichever is coarser, but never more than c/2. The best places are
 * then refined by a compass search. At the true largest gap the first-order change is zero for
 * every move that the edge of the plate leaves free, so the nearest place tried falls short by at
 * most
 *     1/2 (hollow + hump) ((dp + dr)^2 + ds^2/2) + 1/2 max(hollow, hump) dr^2,
 * with dp half the line spacing, dr the move of the ends by half the step in direction, ds the
 * sampling step, hollow and hump the largest curvatures either way: second order, exact for a
 * quadratic surface. A straightedge may bridge an opening: it rests on both sides, and no gap is
 * counted where there is no plate. Between two edges of the plate a straight line stands in for it,
 * which touches no upper hull that it would not touch at its ends. What refinement has made good is
 * taken off; the rest is error_bound.
 */
#ifndef PP_FLATNESS_STRAIGHTEDGE_H
#define PP_FLATNESS_STRAIGHTEDGE_H

#include "flatness/surface.h"

typedef struct pp_straightedge {
    double length;        /* asked for, mm */
    double used_length;   /* the plate's own extent when shorter */
    double gap;           /* largest gap under it, mm */
    double error_bound;   /* the true largest gap is at most gap + error_bound */
    bool underside;       /* found on the underside */
    double x, y;          /* middle of the straightedge, plate frame */
    double direction_deg; /* of the straightedge from +x, in [0, 180) */
} pp_straightedge;

/* A surface as the search sees it: an outline and its heights. */
typedef struct pp_relief {
    pp_outline outline;
    double centre_x, centre_y; /* of the box about it */
    double radius;             /* disc */
    double width, height;      /* of that box */
    pp_outline_spec shape;     /* of any other outline than a disc or a rectangle */
    double feature;            /* mm; heights do not wave within less than this */
    double hollow, hump;       /* largest curvature upwards and downwards, 1/mm, both >= 0 */
    void (*heights)(const void *context, size_t count, const double *x, const double *y,
                    double *height);
    const void *context;
} pp_relief;

/* Largest gap over `top` and over the underside: `underside` turned over (its z still points up,
 * out of the same frame), or `top` turned over where it is NULL. `length` > 0. The same bits for
 * any number of threads. Of equal gaps the top's is reported, and the first in the order of the
 * search; a plate without any gap gives 0 at its centre. Errors: PP_EINPUT (no length), PP_ENOMEM.
 */
pp_status pp_straightedge_on_relief(const pp_relief *top, const pp_relief *underside, double length,
                                    int threads, pp_memory *memory, pp_straightedge *out,
                                    pp_error *error);

/* The same over fitted surfaces, for out[count] of lengths[count]. `underside` may be NULL.
 * errors   PP_EINPUT: a length not above zero; PP_ENOMEM */
pp_status pp_straightedge_search(const pp_surface *surface, const pp_surface *underside,
                                 size_t count, const double *lengths, int threads,
                                 pp_memory *memory, pp_straightedge *out, pp_error *error);

#endif

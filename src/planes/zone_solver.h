/* The narrowest pair of parallel planes around a point cloud. Internal to the minimum zone.
 *
 * Descent. In a frame (u, v, h) with h along the present normal, let q_i = (u_i, v_i) and, for
 * slopes s,
 *     N(s) = max(h_i - s.q_i) - min(h_i - s.q_i).
 * N is convex and piecewise linear; the width of the cloud square to the plane of slopes s is
 *     w(s) = N(s) / sqrt(1 + |s|^2).
 * N is minimised by the exchange of reference points (the simplex method on the dual: weights on
 * upper and on lower points, each summing to 1, whose feet coincide). The frame is turned to the
 * plane found and the step repeated; w falls at each turn that changes the plane, and contacts are
 * finitely many, so it ends with s = 0. Where N is level in some direction there (the guard below
 * is 0), w falls along it as cos(theta): the frame is nudged that way, and the descent goes on.
 *
 * Proof of optimality. Let w0 = N(0) be the width there, and g ("guard") the distance from the
 * origin to the edge of the convex hull of {q_j - q_i : i touches above, j below}, which holds the
 * origin. By convexity N(s) >= w0 + g |s| for every s. A plane tilted by theta has |s| = tan theta,
 * so its zone is
 *     w = N cos(theta) >= w0 cos(theta) + g sin(theta) >= w0   for all theta <= 2 atan(g / w0).
 * With g >= w0 no orientation at all is better: this is the common case of a plate. Otherwise the
 * search (pp_zone_search) settles the directions outside such caps by branch and bound: over a
 * spherical triangle with corners n_k, and any two points p, q of the cloud, the width is at least
 * min_k n_k.(p - q), because the width as a homogeneous function of the direction is convex.
 */
#ifndef PP_PLANES_ZONE_SOLVER_H
#define PP_PLANES_ZONE_SOLVER_H

#include <stdbool.h>

#include "planes/plane.h"

typedef struct pp_zone_cloud {
    size_t count;
    const double *x, *y, *z; /* about an origin inside the cloud */
    double radius;           /* largest distance of a point from the origin */
    double noise;            /* rounding error of a height */
    double blur;             /* two heights no farther apart than this are taken as equal where
                                optimality is judged: what rounding of the coordinates as given,
                                before the origin was taken off, can make of equal heights */
} pp_zone_cloud;

typedef struct pp_zone_foot {
    double u, v;
} pp_zone_foot;

/* Room for clouds of up to `room` points. */
typedef struct pp_zone_work {
    size_t room;
    double *u, *v, *h;
    pp_zone_foot *upper, *lower; /* feet of the contacts */
    size_t *order[2];            /* of the search */
} pp_zone_work;

typedef struct pp_zone_fit {
    double normal[3];
    double width;
    double guard;
    bool
        seen_as_line; /* the points seen along the start normal lie in one line: nothing else set */
    bool flat;        /* width within rounding of 0; witness: 3 points spanning the plane */
    int witness_count;
    pp_witness witness[PP_WITNESS_MAX]; /* index into the cloud; upper ones first */
} pp_zone_fit;

/* Arrays for up to `room` points. errors: PP_ENOMEM */
pp_status pp_zone_work_take(size_t room, pp_arena *arena, pp_zone_work *work, pp_error *error);

/* The local minimum reached from `normal`. errors: PP_ENUMERIC: it did not settle; PP_ENOMEM */
pp_status pp_zone_descend(const pp_zone_cloud *cloud, const double normal[3], pp_zone_work *work,
                          pp_zone_fit *fit, pp_error *error);

/* Improve *best (a descent's result) to the best over all orientations. *budget: how often a point
 * may be looked at; what is left comes back. *proven: false when the budget or the fineness of the
 * cells ran out before every orientation was settled.
 * errors   PP_ENUMERIC: a descent on the way did not settle; PP_ENOMEM */
pp_status pp_zone_search(const pp_zone_cloud *cloud, pp_zone_work *work, pp_zone_fit *best,
                         double *budget, bool *proven, pp_error *error);

#endif

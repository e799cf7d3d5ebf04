/* The smallest circle with allowances: the inner problem of the smallest zone, at one angle.
 *
 *     G = min over t of max over i (|t - p_i| - r_i)
 *
 * and weights that prove it. For any v_i, lambda_i >= |v_i| with sum v = 0 and sum lambda = 1,
 *
 *     max_i (|t - p_i| - r_i) >= sum lambda_i (|t - p_i| - r_i) >= -sum (v_i . p_i + lambda_i r_i)
 *
 * whatever t is; the weights returned make the right-hand side equal to G, up to rounding.
 */
#ifndef PP_ZONE_CIRCLE_H
#define PP_ZONE_CIRCLE_H

#include <stddef.h>

typedef struct pp_zone_point {
    double x, y;
    double allowance; /* r >= 0 */
} pp_zone_point;

typedef struct pp_zone_circle {
    double x, y;  /* t */
    double value; /* max over all points at t, as computed there: never below G but for rounding */
    int count;    /* 1..3 points carry the proof */
    size_t item[3];
    double lambda[3], vx[3], vy[3];
} pp_zone_circle;

/* Solve for `count` >= 1 points.
 *
 * method   LP-type: a basis of at most three points; the point farthest outside joins it, and of
 *          all subsets of these four the one is kept whose centre (the point itself; the point on
 *          the join of two; a centre that touches three, Apollonius' problem) has the least true
 *          maximum over the four. No tolerance decides what is feasible.
 */
void pp_zone_circle_solve(size_t count, const pp_zone_point *points, pp_zone_circle *circle);

#endif

/* The no-tension footing rule: how the reactions of a surveyed plate share its weight among the
 * supports it touched. Reactions cannot be measured; even footing is the assumption. */
#ifndef PP_HOLDDOWN_REACTIONS_H
#define PP_HOLDDOWN_REACTIONS_H

#include <stdbool.h>
#include <stddef.h>

/* Reactions r_i = a_i max(0, c0 + c1 x_i + c2 y_i) that carry `weight` at the centre of mass: those
 * of least sum r^2/a that only push.
 *
 * given    x, y, share[count]   the touching supports and the area each stands for (1 for pins)
 *          extent               a length the size of the plate
 *          angles[count]        work
 * out      reaction[count]      0 where a support is touched but carries nothing
 * returns  false when no such reactions exist: the centre of mass is not inside the touching
 *          supports (on their outline does not count), or they lie in one line
 *
 * Method: Newton's method with backtracking on the convex dual in three variables.
 */
bool pp_footing_solve(size_t count, const double *x, const double *y, const double *share,
                      double centre_x, double centre_y, double weight, double extent,
                      double *angles, double *reaction);

/* Whether (centre_x, centre_y) lies strictly inside the convex hull of the points: seen from it,
 * no gap between them reaches half a turn. angles[count] is work. */
bool pp_footing_surrounds(size_t count, const double *x, const double *y, double centre_x,
                          double centre_y, double extent, double *angles);

#endif

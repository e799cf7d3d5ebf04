/* The no-tension footing rule: how the reactions of a surveyed plate share its weight among the
 * supports it touched. Reactions cannot be measured; even footing is the assumption. */
#ifndef PP_HOLDDOWN_REACTIONS_H
#define PP_HOLDDOWN_REACTIONS_H

#include <stdbool.h>

#include "holddown/stand.h"

/* Reactions r_i = a_i max(0, c0 + c1 x_i + c2 y_i) that carry `weight` at the centre of mass: those
 * of least sum r^2/a that only push.
 *
 * given    stand                the touching supports
 *          share[count]         the area each stands for (1 for pins)
 *          angles[count]        work
 * out      reaction[count]      0 where a support is touched but carries nothing
 * returns  false when no such reactions exist: the centre of mass is not inside the touching
 *          supports (on their outline does not count), or they lie in one line
 *
 * Method: Newton's method with backtracking on the convex dual in three variables.
 */
bool pp_footing_solve(const pp_stand *stand, const double *share, double weight, double *angles,
                      double *reaction);

/* Whether the centre of mass lies strictly inside the convex hull of the places: seen from it, no
 * gap between them reaches half a turn. angles[count] is work. */
bool pp_footing_surrounds(const pp_stand *stand, double *angles);

#endif

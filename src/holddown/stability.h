/* How safely a plate stands on what it touches. */
#ifndef PP_HOLDDOWN_STABILITY_H
#define PP_HOLDDOWN_STABILITY_H

#include "holddown/at_rest.h"

/* Distance, mm, of the plate's centre of gravity from the edge of the figure that its supports at
 * rest span: over that edge it tips. About 0: it stands on a line of two, and can lie either way.
 * Where the touching tolerance had to grow, the figure of those it touched before counts as well,
 * from either side, unless all of them are near the middle: a twisted plate on pins that lie
 * opposite touches two of them, and the rest only on paper.
 */
double pp_tip_distance(const pp_hold_plate *plate, const pp_hold_state *state);

#endif

/* When each hole was drilled, from whichever row of the measured list tells it. */
#ifndef PP_HOLES_DRILL_ORDER_H
#define PP_HOLES_DRILL_ORDER_H

#include "input/lists/holelist.h"

/* order[holes] as the list writes it, NaN where no row tells. A hole measured again after reaming
 * need not say once more when it was drilled. Where rows differ the latest round holds, of one
 * round the lowest.
 *
 * given    readings      with `order`
 *          hole_of_row   nominal index of each row, PP_NONE of a row without one
 * errors   PP_ENOMEM */
pp_status pp_drill_order_take(const pp_readings *readings, const uint32_t *hole_of_row,
                              size_t holes, pp_arena *scratch, double *order, pp_error *error);

#endif

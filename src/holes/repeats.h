/* How far repeat readings of one hole scatter, and what that makes a hole's mean worth. */
#ifndef PP_HOLES_REPEATS_H
#define PP_HOLES_REPEATS_H

#include "holes/measures.h"

/* Standard deviation of one coordinate among repeat readings of one hole, face and round, pooled
 * over all of them; 0 when nothing was read twice.
 * errors   PP_ENOMEM */
pp_status pp_repeats_scatter(const pp_readings *readings, pp_arena *scratch, double *scatter,
                             pp_error *error);

#endif

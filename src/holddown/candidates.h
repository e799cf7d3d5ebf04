/* Where a clamp may stand, and what it does to the plate there. */
#ifndef PP_HOLDDOWN_CANDIDATES_H
#define PP_HOLDDOWN_CANDIDATES_H

#include "holddown/clamps.h"

typedef struct pp_candidates {
    size_t count;
    const double *x, *y;
    const double *deflection; /* [count * dofs] of the free plate per newton */
    const double (*rigid)[3];
    const double *g;           /* [count * supports] the same at the supports */
    const size_t *block_begin; /* [count + 1] */
    const uint32_t *blocks;    /* holes under each one's pad, ascending */
} pp_candidates;

/* Places given, or found: see pp_plan_request. Candidates beside the plate are left out.
 * errors   PP_ENUMERIC: the deflection of a place cannot be solved; PP_ENOMEM */
pp_status pp_candidates_make(const pp_hold_plate *plate, const pp_plan_request *request,
                             pp_memory *memory, pp_candidates *candidates, pp_error *error);

#endif

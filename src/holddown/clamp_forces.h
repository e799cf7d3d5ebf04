/* Clamps at any places of the plate as forces that stay on it. */
#ifndef PP_HOLDDOWN_CLAMP_FORCES_H
#define PP_HOLDDOWN_CLAMP_FORCES_H

#include "holddown/at_rest.h"
#include "holddown/clamps.h"

/* forces[count], one per clamp, for pp_hold_settle. memory->scratch holds their deflections.
 * errors: PP_ENUMERIC: a deflection cannot be solved; PP_ENOMEM */
pp_status pp_clamp_forces(const pp_hold_plate *plate, size_t count, const pp_clamp *clamps,
                          pp_memory *memory, pp_hold_force *forces, pp_error *error);

#endif

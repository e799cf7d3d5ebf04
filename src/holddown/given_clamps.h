/* The clamps that the job gives, on the plate. */
#ifndef PP_HOLDDOWN_GIVEN_CLAMPS_H
#define PP_HOLDDOWN_GIVEN_CLAMPS_H

#include "holddown/at_rest.h"
#include "holddown/clamps.h"
#include "holddown/under_foot.h"

typedef struct pp_given_clamps {
    size_t count;
    const pp_job_clamp *clamps;
    const char *job_file; /* for messages */
} pp_given_clamps;

/* clamps[given->count], memory->keep, with the holes under their pads (hole_diameter NaN: centres
 * count). errors: PP_EINPUT one stands beside the plate, or two on one spot; PP_ENOMEM */
pp_status pp_given_clamps_list(const pp_given_clamps *given, const pp_hold_plate *plate,
                               const pp_hold_places *holes, double hole_diameter, pp_memory *memory,
                               const pp_clamp **clamps, pp_error *error);

/* Bending stress that they put into the plate, all on, against it at rest, MPa.
 * errors   PP_EINPUT, PP_ENUMERIC as pp_hold_settle; PP_ENOMEM */
pp_status pp_given_clamps_stress(const pp_hold_plate *plate, const pp_hold_state *rest,
                                 const pp_plate_spec *material, size_t count,
                                 const pp_clamp *clamps, pp_memory *memory, double *stress,
                                 pp_error *error);

#endif

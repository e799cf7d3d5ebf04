/* Clamps as a list of set-ups, from the first chuck to the last: all clamps on, then those over
 * holes lifted for the holes under their pads and put back, then all released. Each state is solved
 * anew. */
#ifndef PP_HOLDDOWN_SETUPS_H
#define PP_HOLDDOWN_SETUPS_H

#include "holddown/clamp.h"
#include "holddown/under_foot.h"

typedef struct pp_setup_request {
    const pp_hold_plate *plate;
    const pp_hold_state *rest;     /* of the plate without clamps */
    const pp_hold_answer *answers; /* [holes] in it */
    double rest_support_force;     /* the largest on a pin in it, foot and thrust included, N */
    const pp_hold_question *question;
    const pp_hold_places *holes;
    size_t clamp_count; /* at most PP_CLAMPS_MAX */
    const pp_clamp *clamps;
    double pitch; /* of the holes; NaN */
    pp_drilling_order order;
} pp_setup_request;

/* memory->keep: the list. A hole under several pads waits until all of them are lifted.
 * errors: PP_ENUMERIC, PP_ENOMEM */
pp_status pp_setups_list(const pp_setup_request *request, pp_memory *memory, pp_setup_list *list,
                         pp_error *error);

#endif

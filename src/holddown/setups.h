/* Clamps as a list of set-ups, from the first chuck to the last: all clamps on, then those over
 * holes lifted for the holes under their pads and put back, then all released. Each state is solved
 * anew, unless the gaps in it are known from the search. */
#ifndef PP_HOLDDOWN_SETUPS_H
#define PP_HOLDDOWN_SETUPS_H

#include "holddown/clamps.h"

/* One state of the clamps, and what is drilled in it. */
typedef struct pp_drill_setup {
    size_t lifted_count;
    const uint32_t *lifted; /* clamps that are off meanwhile; none: all are on */
    size_t hole_count;
    const uint32_t *holes;        /* nominal indices in drilling order */
    const double *gap;            /* [hole_count] of each under the foot in this state, mm */
    double worst_gap;             /* under the foot over these holes, in this state, mm */
    uint32_t worst_hole;          /* nominal index; PP_NONE without holes */
    double deepest_sag;           /* below the pin plane, 0: none or a table, mm */
    double largest_support_force; /* on a pin, foot and thrust included, N; NaN on a table */
    double travel;                /* of the spindle from hole to hole, mm */
    double travel_by_rows;        /* what going row by row would take */
    int sweeps;                   /* interleaved ones that the order is made of; 1: row by row */
} pp_drill_setup;

typedef enum pp_setup_action {
    PP_STEP_TIGHTEN,
    PP_STEP_DRILL,
    PP_STEP_LIFT,
    PP_STEP_PUT_BACK,
    PP_STEP_RELEASE
} pp_setup_action;

typedef struct pp_setup_step {
    pp_setup_action action;
    uint32_t setup; /* that it belongs to, from 0 */
    uint32_t clamp; /* PP_NONE: drill */
} pp_setup_step;

/* From the first chuck to the last. */
typedef struct pp_setup_list {
    size_t count;
    const pp_drill_setup *setups; /* the first with all clamps on; none: there is no plan */
    const uint32_t *tighten;      /* [clamps] in the order to tighten them: from the middle
                                     outwards, so that the plate can slide flat (common practice, no
                                     source); released the other way round */
    size_t step_count;
    const pp_setup_step *steps;
} pp_setup_list;

typedef struct pp_setup_request {
    const pp_hold_plate *plate;
    const pp_hold_state *rest;     /* of the plate without clamps */
    const pp_hold_answer *answers; /* [holes] in it */
    double rest_support_force;     /* the largest on a pin in it, foot and thrust included, N */
    const pp_hold_question *question;
    const pp_hold_places *holes;
    size_t clamp_count; /* at most PP_CLAMPS_MAX */
    const pp_clamp *clamps;
    const double *gap; /* [holes] pp_plan's; NULL: not known */
    double pitch;      /* of the holes; NaN */
    pp_drilling_order order;
} pp_setup_request;

/* memory->keep: the list. A hole under several pads waits until all of them are lifted.
 * errors: PP_EINPUT, PP_ENUMERIC as pp_hold_settle, without the clamps lifted; PP_ENOMEM */
pp_status pp_setups_list(const pp_setup_request *request, pp_memory *memory, pp_setup_list *list,
                         pp_error *error);

#endif

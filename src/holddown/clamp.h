/* Clamps and set-ups as plain data: what the plan gives and reports read. mm, N. */
#ifndef PP_HOLDDOWN_CLAMP_H
#define PP_HOLDDOWN_CLAMP_H

#include <stddef.h>
#include <stdint.h>

#include "input/job/job.h"

enum { PP_CLAMPS_MAX = PP_JOB_CLAMPS_MAX }; /* of one set-up: sets of them are the bits of a word */

typedef struct pp_clamp {
    double x, y, force;
    size_t block_count;
    const uint32_t *blocks; /* nominal hole indices under its pad */
    const char *name;       /* as the job calls it; NULL: found */
    bool edge_stop;         /* holds nothing down but for its force */
    double from_pin;        /* distance of one given from the nearest pin, mm; 0: a table */
} pp_clamp;

/* One state of the clamps, and what is drilled in it. */
typedef struct pp_drill_setup {
    size_t lifted_count;
    const uint32_t *lifted; /* clamps that are off meanwhile; none: all are on */
    size_t hole_count;
    const uint32_t *holes;        /* nominal indices in drilling order */
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

#endif

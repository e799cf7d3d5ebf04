/* The same plate the other face up. Holes, supports and clamps stay where they are on the machine;
 * the plate is turned about the middle of its box, along x or, where only that brings the outline
 * onto itself, along y. mm, N. */
#ifndef PP_HOLDDOWN_TURNED_OVER_H
#define PP_HOLDDOWN_TURNED_OVER_H

#include "holddown/setups.h"

/* What the study says of it. */
typedef struct pp_turned_over {
    bool valid;              /* the outline lies on itself turned over */
    bool about_x;            /* else about y */
    const pp_hold_gap *gaps; /* [holes] without clamps; NULL where not valid */
    double worst_gap;        /* of them, under the foot; -INFINITY without holes */
    bool plan_wanted;        /* both ways clamps are needed: a plan was looked for */
    bool plan_bends;         /* clamps found were left, for they bend the plate too far */
    pp_plan plan;            /* its own; no clamps unless found */
    pp_setup_list setups;    /* of that plan */
    const double *gap_after; /* [holes] under the foot in the set-up each is drilled in; NULL
                                without a plan */
} pp_turned_over;

/* The plate turned, laid and pressed: what a plan is looked for on. */
typedef struct pp_turned_plate {
    pp_hold_plate plate;
    pp_hold_state state;
    pp_hold_answer *answers; /* [holes] */
} pp_turned_plate;

/* Turn it, let it settle and press every hole.
 *
 * given    plate    must outlive the turned one, which shares what it can with it
 *          question only_gap leaves the forces out
 * memory   keep     the turned plate and gaps[holes]; scratch: state and answers, until released
 * out      result   valid (false: the outline does not allow it, and no more is filled), about_x,
 *                   gaps, worst_gap
 * errors   PP_EINPUT it does not stand on its supports; PP_ENUMERIC: it does not settle;
 *          PP_ENOMEM */
pp_status pp_turn_over(const pp_hold_plate *plate, const pp_hold_question *question,
                       const pp_hold_places *holes, pp_memory *memory, pp_turned_plate *turned,
                       pp_turned_over *result, pp_error *error);

#endif

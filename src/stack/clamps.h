/* Clamps for a stack that the foot alone does not close: places on the rim of the top layer that
 * press it down while every hole is drilled. Theory: docs/theory/stack.md. */
#ifndef PP_STACK_CLAMPS_H
#define PP_STACK_CLAMPS_H

#include "stack/evaluate.h"

typedef struct pp_stack_plan_request {
    const pp_stack_ground *ground; /* of the study */
    const pp_place_list *pins;     /* NULL: a table */
    const pp_stack_question *question;
    const pp_stack_holes_at *places;
    const pp_stack_state *listed;    /* reckoned with every hole */
    const pp_place_list *candidates; /* NULL: the rim, where a pad covers no hole */
    double hole_diameter;            /* NaN: centres count */
    double force_most;               /* of one clamp */
    double pad;                      /* diameter; NaN: a point */
    bool over_holes;                 /* a pad may cover holes */
    int threads;
} pp_stack_plan_request;

/* One clamp after the other: each place with all, half and a quarter of the force is reckoned
 * through on a coarser mesh at the worst holes and some spread out, and the best is taken, until
 * the gaps are within the limits with a tenth to spare or nothing helps. What comes out is reckoned
 * again with every hole on the study's mesh; then clamps that are not needed are taken away or
 * halved.
 *
 * memory   keep: the coarser mesh
 * errors   PP_EINPUT, PP_ENUMERIC as pp_stack_evaluate, with some clamps; PP_ENOMEM; that clamps
 *          are not enough is a result. The same bits for any
 *          number of threads. */
pp_status pp_stack_plan_find(const pp_stack_plan_request *request, pp_memory *memory,
                             pp_stack_plan *plan, pp_error *error);

#endif

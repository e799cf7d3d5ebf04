/* Extra hold-down: clamps that bring every hole within the gap limit under the foot.
 *
 * Greedy, so that each clamp can be explained: the best next clamp by its linear influence on the
 * base contact state, then the exact contact state with it; at the end clamps that turn out not to
 * be needed are taken away and the forces of the rest trimmed. Every statement is re-solved with
 * all clamps on; a hole under a clamp's pad is solved with that clamp moved away. What comes out is
 * a plan that was found, never the fewest possible clamps.
 */
#ifndef PP_HOLDDOWN_CLAMPS_H
#define PP_HOLDDOWN_CLAMPS_H

#include "holddown/study.h"
#include "holddown/under_foot.h"

typedef struct pp_plan_request {
    const pp_hold_question *question;
    const pp_hold_places *holes;
    const pp_hold_answer *answers;   /* [holes] without clamps */
    const pp_place_list *candidates; /* NULL: the rim, the lanes where a pad covers no hole, and on
                                        pins the pins */
    double force_limit;              /* of one clamp, N; NaN: none */
    double pad;                      /* diameter, mm; NaN: a point */
    double hole_diameter;            /* for what a pad covers; NaN: centres count */
    const pp_plate_spec *material;
} pp_plan_request;

typedef struct pp_plan {
    bool found;        /* every hole passes */
    bool beyond_limit; /* the best single clamp would need more than force_limit to close the gap
                          at its own place */
    size_t clamp_count;
    const pp_clamp *clamps; /* in the order they were found */
    double worst_gap;       /* largest gap under the foot with the plan, mm */
    double stress;          /* bending stress that the clamps put into the plate, MPa; 0 without */
    size_t candidates;
    size_t contact_solves; /* holes pressed, over all steps: what the plan cost */
} pp_plan;

pp_status pp_plan_find(const pp_hold_plate *plate, const pp_hold_state *state,
                       const pp_plan_request *request, pp_memory *memory, pp_plan *plan,
                       pp_error *error);

#endif

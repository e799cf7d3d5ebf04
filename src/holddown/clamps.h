/* Extra hold-down: clamps that bring every hole within the gap limit under the foot.
 *
 * First sets of equal clamps are looked for (even_clamps.c): the fewest that do, of those the least
 * force, at places that mirror each other unless another needs a tenth less. Where none of up to
 * eight does, one clamp after the other: the best next one by its linear influence on the contact
 * state, then the exact state with it; at the end those not needed are taken away and the forces of
 * the rest trimmed. Every statement is solved again with all clamps on; a hole under a clamp's pad
 * is solved with that clamp moved away, and on pins the loads count, foot and thrust included. What
 * comes out is a plan that was found, never the fewest possible clamps.
 *
 * It must hold for other surveys of the same plate, too: it is tried on redraws of the survey's
 * noise (flatness/redraw.h), and forces are raised until it holds in 19 of 20, as far as they go.
 */
#ifndef PP_HOLDDOWN_CLAMPS_H
#define PP_HOLDDOWN_CLAMPS_H

#include "holddown/under_foot.h"

enum { PP_CLAMPS_MAX = PP_JOB_CLAMPS_MAX }; /* of one set-up: sets of them are the bits of a word */

typedef struct pp_clamp {
    double x, y, force;
    size_t block_count;
    const uint32_t *blocks; /* nominal hole indices under its pad */
    const char *name;       /* as the job calls it; NULL: found */
    bool edge_stop;         /* holds nothing down but for its force */
    double from_pin;        /* distance of one given from the nearest pin, mm; 0: a table */
} pp_clamp;

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
    const pp_support_spec *supports; /* for the redraws; NULL: none are tried */
    size_t redraws;
    const double *redraw;  /* [redraws * dofs] */
    double pin_load_limit; /* N; NaN: none */
    double support_reach;  /* how far from a pin a clamp may stand, mm; NaN: anywhere */
    bool over_holes;       /* a clamp may stand over holes */
} pp_plan_request;

typedef struct pp_plan {
    bool found;        /* every hole passes */
    bool beyond_limit; /* the best single clamp would need more than force_limit to close the gap
                          at its own place */
    size_t clamp_count;
    const pp_clamp *clamps; /* in the order they were found */
    double worst_gap;       /* largest gap under the foot with the plan, mm */
    const double *gap;      /* [holes] with it; of a hole under one pad, with that clamp moved away.
                               NULL:      not known */
    double stress;          /* bending stress that the clamps put into the plate, MPa; 0 without */
    double largest_support_force; /* on a support with the plan, foot and thrust included, N */
    bool pins_overloaded;         /* a set that would do was left for that */
    size_t redraws, holds;        /* tried on that many redraws of the survey, and holds in these */
    double redraw_worst;          /* largest gap over the redraws, mm */
    bool given_up; /* not found within the effort allowed: there may be one all the same */
    size_t candidates;
    size_t contact_solves; /* holes pressed, over all steps: what the plan cost */
} pp_plan;

/* Find a plan.
 *
 * given    state   of the plate at rest, without clamps
 * memory   keep: the clamps, what they block, the gaps
 * errors   PP_EINPUT, PP_ENUMERIC: with some clamps the plate tips or does not settle; PP_ENOMEM;
 *          that no plan was found is a result */
pp_status pp_plan_find(const pp_hold_plate *plate, const pp_hold_state *state,
                       const pp_plan_request *request, pp_memory *memory, pp_plan *plan,
                       pp_error *error);

/* Try the plate without clamps, which passes as surveyed, on the request's redraws: into *plan
 * redraws, holds and redraw_worst.
 *
 * given    state   of the plate at rest
 * errors   PP_EINPUT, PP_ENUMERIC as pp_planner_try_redraws; PP_ENOMEM */
pp_status pp_foot_alone_try(const pp_hold_plate *plate, const pp_hold_state *state,
                            const pp_plan_request *request, pp_memory *memory, pp_plan *plan,
                            pp_error *error);

#endif

/* Under the foot, hole by hole: one contact problem each, in parallel. */
#ifndef PP_HOLDDOWN_UNDER_FOOT_H
#define PP_HOLDDOWN_UNDER_FOOT_H

#include "holddown/at_rest.h"

typedef struct pp_hold_places { /* where the foot comes down */
    size_t count;
    const double *x, *y;
} pp_hold_places;

typedef struct pp_hold_question {
    double force;     /* of the foot, N */
    double thrust;    /* NaN: none */
    double gap_limit; /* mm */
    double force_cap; /* N; NaN: none */
    bool only_gap;    /* gap and gap under the foot, nothing else */
    bool only_close;  /* these and the force to close, nothing else */
} pp_hold_question;

/* Gaps are as computed: on a table a little below 0 where the hole stands between contact points.
 */
typedef struct pp_hold_answer {
    double gap, gap_under_foot;
    double held_gap;       /* under the foot, touching points not allowed to lift */
    double gap_in_thrust;  /* under foot and thrust; NaN without */
    double force_to_close; /* 0: none needed; NaN: above the cap */
    double tilt;           /* mm/mm, from the released state */
    double largest_support;
} pp_hold_answer;

typedef struct pp_hold_gap { /* one nominal hole of the same plate in another state */
    double as_laid, under_foot;
} pp_hold_gap;

/* All that holds the plate up with the foot on one place: what it looks like elsewhere follows */
typedef struct pp_hold_contact {
    double force;     /* of the foot, N; 0: not asked */
    double motion[3]; /* of the contact base */
    double *reaction; /* [supports] */
} pp_hold_contact;

/* What is asked of which holes: places[which[k]], k = 0 .. count - 1. */
typedef struct pp_hold_visit {
    const pp_hold_question *question;
    const pp_hold_places *places;
    size_t count;
    const uint32_t *which; /* [count]; NULL: every place */
    /* [count][dofs] per newton of the foot on the free plate; NULL: taken from the compliance's
     * inverse nearby. Only without slopes (only_gap, only_close). */
    const double *deflection;
    pp_hold_contact *contact; /* [count][2] out: under the foot, and closing; NULL: not asked */
} pp_hold_visit;

/* Put the foot down at every place of the visit. Of a state settled again (pp_hold_resettle) only
 * only_gap can be asked, and `gap` is then NaN.
 *
 * out      answers[count]
 *          support_force[supports]  largest force on each over all of them; may be NULL
 * errors   PP_ENUMERIC: the contact does not settle under the foot; PP_ENOMEM
 *
 * Places are visited cell by cell in parts of a fixed size, each a warm start for the next, so the
 * answers do not depend on the number of threads.
 */
pp_status pp_hold_press(const pp_hold_plate *plate, const pp_hold_state *state,
                        const pp_hold_visit *visit, pp_memory *memory, pp_hold_answer *answers,
                        double *support_force, pp_error *error);

#endif

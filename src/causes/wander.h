/* Could the position have wandered from hole to hole? A random walk along the order, beside what
 * depends on the place alone, against the causes found.
 *
 * A walk looks like a drift, a few set-ups or a slow swing, whichever its path happens to resemble:
 * each of them is then found far beyond chance, and none of them is there. The walk has one
 * parameter, its variance from hole to hole, which is fitted; where it costs no more than the
 * causes found in the order, these are not told apart from it (docs/theory/diagnosis.md).
 */
#ifndef PP_CAUSES_WANDER_H
#define PP_CAUSES_WANDER_H

#include "causes/naming.h"

typedef struct pp_wander_request {
    const pp_search_space *space;
    const pp_robust_fit *fit; /* the space's */
    double s2;
    const bool *rare_reversals; /* [2] lost motion of the axis shows at few places of the order */
    const bool *found;          /* [space->fixed] terms found */
    const pp_component *components; /* found */
    int component_count;
} pp_wander_request;

typedef struct pp_wander {
    bool explains;                  /* what was found in the order as well as its causes */
    bool term[PP_ROBUST_TERMS_MAX]; /* [space->fixed] terms found that it takes the place of */
    bool family[PP_FAMILIES];       /* families likewise */
    double rms; /* of the walk about its mean over the job, in the space's units; NaN: not tried */
} pp_wander;

/* errors  PP_ENOMEM */
pp_status pp_wander_try(const pp_wander_request *request, pp_arena *scratch, pp_wander *wander,
                        pp_error *error);

#endif

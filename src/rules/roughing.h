/* Is the first of two passes enough? What holes measured after it, drawn at random, say of the
 * whole plate: counted, by a tolerance interval, and as the probability that all of it conforms.
 * Theory: docs/theory/stack.md, "Roughing". */
#ifndef PP_RULES_ROUGHING_H
#define PP_RULES_ROUGHING_H

#include "holes/measures.h"
#include "rules/limits.h"

typedef enum pp_sufficient {
    PP_ROUGHING_NO,
    PP_ROUGHING_NOT_PROVEN,
    PP_ROUGHING_YES
} pp_sufficient;

typedef struct pp_roughing {
    double lower, upper, outer; /* diameters held against, the guard of the decision taken off */
    size_t holes, measured;     /* tube holes */
    size_t undersize, in_remainder, oversize; /* of those measured */
    size_t remainder_allowed;                 /* of all holes */
    double mean, deviation;
    double tolerance_factor, tolerance_low, tolerance_high; /* NaN with fewer than 2 */
    bool tolerance_inside;
    double confidence;
    double share_outside_bound; /* of all holes outside lower..upper, at confidence; no model */
    double probability;         /* that the whole plate conforms; NaN: cannot be said */
    double expected_undersize, expected_oversize, expected_in_remainder; /* of those not measured */
    double normal_p; /* of the diameters' being normal; NaN with fewer than 8 */
    double trend_p;  /* of no trend with the drilling order; NaN without it */
    pp_sufficient sufficient;
    bool undersize_alone;                       /* is what stands in the way of "yes" */
    double seconds_roughing, seconds_finishing; /* per hole, as given; NaN */
    double time_finishing, time_saved;          /* s */
} pp_roughing;

/* errors  PP_EINPUT: too few holes, holes that are not nominal, no limits; a guarded decision
 * without an uncertainty; PP_ENUMERIC: the probability does not settle; PP_ENOMEM */
pp_status pp_roughing_judge(const pp_job *job, const pp_limits *limits, const pp_measures *measures,
                            pp_memory *memory, pp_roughing *roughing, pp_error *error);

const char *pp_sufficient_words(pp_sufficient sufficient); /* "yes", "no", "not proven" */

#endif

/* Was the promise of a corrected list kept by the plate that was drilled to it? */
#ifndef PP_CAUSES_PROMISE_KEPT_H
#define PP_CAUSES_PROMISE_KEPT_H

#include "causes/diagnosis.h"

typedef struct pp_promise_kept {
    double rms;               /* mm: of the errors against the drawing, shift and turn apart */
    double median, low, high; /* mm: what was promised, and what 9 of 10 plates lie between */
    bool kept;                /* not above high */
} pp_promise_kept;

/* Look at the correction.json that came with the commanded list. *told: it holds a promise; what
 * cannot be read tells nothing, no verdict depends on it.
 * errors   PP_ENOMEM */
pp_status pp_promise_check(const char *path, const pp_measures *measures,
                           const pp_diagnosis *diagnosis, pp_memory *memory, bool *told,
                           pp_promise_kept *kept, pp_error *error);

#endif

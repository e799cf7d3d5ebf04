/* Was the promise of a corrected list kept by the plate that was drilled to it? */
#ifndef PP_CORRECTION_KEPT_H
#define PP_CORRECTION_KEPT_H

#include "causes/diagnosis.h"

typedef struct pp_promise_kept {
    bool told;           /* a correction.json with a promise stands beside the list */
    double rms;          /* mm: of the errors against the drawing, shift and turn apart */
    double median, high; /* mm: what was promised; what 19 of 20 plates keep */
    bool kept;
} pp_promise_kept;

/* Look at the correction.json beside the commanded list. What cannot be read tells nothing: the
 * verdict does not depend on it.
 * errors   PP_ENOMEM */
pp_status pp_promise_check(const char *list, const pp_measures *measures,
                           const pp_diagnosis *diagnosis, pp_memory *memory, pp_promise_kept *kept,
                           pp_error *error);

#endif

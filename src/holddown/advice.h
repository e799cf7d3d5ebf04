/* The hold-down study in words: one sentence of advice, and notes on how far to trust it. */
#ifndef PP_HOLDDOWN_ADVICE_H
#define PP_HOLDDOWN_ADVICE_H

#include "holddown/study.h"

/* Fill in clamping_advised, advice and the notes from what else *study says. `beyond_limit`: the
 * best single clamp would need more than its force limit; `outside`: holes beyond the outline.
 * memory   keep   the list of notes (their texts are constant) */
pp_status pp_hold_advise(const pp_job *job, bool beyond_limit, size_t outside, pp_memory *memory,
                         pp_holddown *study, pp_error *error);

#endif

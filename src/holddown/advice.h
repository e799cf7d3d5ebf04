/* The hold-down study in words: one sentence of advice, and notes on how far to trust it. */
#ifndef PP_HOLDDOWN_ADVICE_H
#define PP_HOLDDOWN_ADVICE_H

#include "holddown/clamps.h"
#include "holddown/study.h"

/* Fill in clamping_advised, advice and the notes from what else *study says. A plan that would bend
 * the plate too far is taken out of the study: one advice, with which the plan agrees.
 * memory   keep   the list of notes and their texts */
pp_status pp_hold_advise(const pp_job *job, const pp_plan *plan, pp_memory *memory,
                         pp_holddown *study, pp_error *error);

#endif

/* Inside pp_work_list_make: blame and what one fault asks for (work_faults.c), how far a hole may
 * be reamed (reaming.c). */
#ifndef PP_RULES_WORK_PARTS_H
#define PP_RULES_WORK_PARTS_H

#include "rules/work_list.h"

/* A hole of the plate: its nominal index, or the nominal count and the number of an extra hole. */
static inline uint32_t pp_key_of_bore(const pp_measures *m, size_t bore)
{
    return bore < m->extra_first ? m->bores[bore].hole
                                 : (uint32_t)m->nominal->count + m->extra_of[bore - m->extra_first];
}

/* The holes (keys) that a finding of holes is laid at: one, or both of two where either alone would
 * have broken the limit. Returns how many. */
int pp_work_blame(const pp_judgement *judgement, const pp_finding *finding, uint32_t keys[2]);

/* What a finding that is listed asks for, the hole's settling left aside. */
pp_fault pp_work_fault_of(const pp_judgement *judgement, uint32_t finding);

/* Turn the faults "ream" of rows into what the metal around allows; fills in row->ream. `faults`:
 * where those of all rows stand.
 * memory   scratch: one number a nominal hole
 * errors   PP_ENOMEM */
pp_status pp_work_ream(const pp_judgement *judgement, pp_work_row *rows, size_t count,
                       pp_fault *faults, pp_memory *memory, pp_error *error);

#endif

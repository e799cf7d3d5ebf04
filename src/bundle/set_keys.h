/* The keys of the set file: one table that reading, messages and the manual go by. */
#ifndef PP_BUNDLE_SET_KEYS_H
#define PP_BUNDLE_SET_KEYS_H

#include "input/job/job_keys.h"

/* Keys of [bundle] and [tube] have their place in pp_set, those of [plate NAME] in pp_set_plate;
 * those of [job] are the job file's. */
const pp_key *pp_set_keys(size_t *count);

#endif

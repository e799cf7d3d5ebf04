/* What a hold-down study needs, and holes that lie on the plate. */
#ifndef PP_HOLDDOWN_STUDY_CHECKS_H
#define PP_HOLDDOWN_STUDY_CHECKS_H

#include "flatness/flatness.h"
#include "input/lists/holelist.h"

/* errors: PP_ENOTHING what the job does not give; PP_EINPUT no thickness, or holes beyond the plate
 */
pp_status pp_study_check(const pp_job *job, const pp_flatness *flatness, const pp_nominal *nominal,
                         pp_error *error);

#endif

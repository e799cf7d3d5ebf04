/* Clamps that the job gives, checked. */
#ifndef PP_INPUT_JOB_JOB_CLAMPS_H
#define PP_INPUT_JOB_JOB_CLAMPS_H

#include "input/job/job.h"

/* job->clamps := clamps[job->clamp_count], pads filled in from clamp_pad.
 * errors: PP_EINPUT with the line: no place, no force, a force that holds nothing, too many */
pp_status pp_job_settle_clamps(pp_job *job, pp_job_clamp *clamps, pp_error *error);

#endif

/* Keys of the job file that contradict each other. */
#ifndef PP_INPUT_JOB_JOB_CHECKS_H
#define PP_INPUT_JOB_JOB_CHECKS_H

#include "input/job/job.h"

/* Refuse a job whose keys contradict each other, or of which one is useless without another: such
 * a key would be passed over in silence.
 * errors: PP_EINPUT with the line of the key */
pp_status pp_job_check(const pp_job *job, pp_error *error);

#endif

/* Keys of the job file that contradict each other. */
#ifndef PP_INPUT_JOB_JOB_CHECKS_H
#define PP_INPUT_JOB_JOB_CHECKS_H

#include "input/job/job.h"

/* Where problems are kept, and whether one ends the reading. */
typedef struct pp_job_noting {
    pp_job_problems *problems; /* NULL: the first ends it */
    pp_arena *keep;
    pp_error *error; /* of the step; may be NULL where problems is */
} pp_job_noting;

/* What to do after a step that left its error in noting->error: PP_OK where the reading goes on,
 * and the problem is kept.
 * errors   `status`, where the reading ends; PP_ENOMEM */
pp_status pp_job_note(const pp_job_noting *noting, pp_status status);

/* Refuse a job whose keys contradict each other, or of which one is useless without another: such
 * a key would be passed over in silence.
 * errors: PP_EINPUT with the line of the key, unless it is noted */
pp_status pp_job_check(const pp_job *job, const pp_job_noting *noting);

#endif

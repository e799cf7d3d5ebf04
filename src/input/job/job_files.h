/* Every file that a job names, so that whoever moves, hashes or packs them forgets none. */
#ifndef PP_INPUT_JOB_JOB_FILES_H
#define PP_INPUT_JOB_JOB_FILES_H

#include "input/job/job.h"

/* Call `visit` for each data file that the job names (its path is not NULL). A visitor may change
 * `path`: where the file is now; `written` stays what the job says. Rule files are not among them:
 * the job names them by set (`rules.set`, `plate.flatness_rule`).
 * returns the first failure of a visit, which ends the round
 * errors   those of `visit` */
typedef pp_status (*pp_job_file_visit)(void *context, pp_job_file *file, pp_error *error);
pp_status pp_job_each_file(pp_job *job, pp_job_file_visit visit, void *context, pp_error *error);

#endif

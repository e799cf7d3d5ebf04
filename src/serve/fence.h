/* A job may name any file of the machine; at the screen only files of the folder count. */
#ifndef PP_SERVE_FENCE_H
#define PP_SERVE_FENCE_H

#include "input/job/job.h"

/* Whether every file that the job names, rule files included, stands below the folder, or is not
 * there at all. `job` was read by pp_plates_job from `path`. errors: PP_EINPUT with the line */
pp_status pp_fence_check(const char *top, int root, const char *path, pp_job *job, pp_error *error);

/* The same of a bundle's set, and of every job that it names. errors: PP_EINPUT with the line; as
 * pp_plates_job */
pp_status pp_fence_check_set(const char *top, int root, const char *path, pp_memory *memory,
                             pp_error *error);

/* The command that does everything the job has data for: inspect, stack or roughing. */
const char *pp_fence_command(const pp_job *job);

#endif

/* Is a point so far off the plate that its unit must be wrong? */
#ifndef PP_INPUT_LISTS_OUTLINE_H
#define PP_INPUT_LISTS_OUTLINE_H

#include "input/job/job.h"

/* Within the outline or beyond it by at most half its largest dimension, in plate coordinates; true
 * when the job gives no outline, false for NaN. The region is convex. */
bool pp_outline_near(const pp_job *job, double x, double y);

/* The message about a point that is not near: PP_EINPUT. */
pp_status pp_outline_fail(const pp_job *job, const char *path, long line, long column, double x,
                          double y, pp_error *error);

#endif

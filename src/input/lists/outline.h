/* The corners of a polygon, and: is a point so far off the plate that its unit must be wrong? */
#ifndef PP_INPUT_LISTS_OUTLINE_H
#define PP_INPUT_LISTS_OUTLINE_H

#include "base/reading.h"
#include "input/job/job.h"

/* Read the corners of outline = polygon into the job, anticlockwise, and hold them against what an
 * outline is; of any other outline nothing happens.
 *
 * given    reading  how the file was read is put here; NULL: not wanted
 * memory   keep     the corners
 * errors   PP_EINPUT  fewer than 3 corners or more than PP_OUTLINE_CORNERS_MAX, two corners in one
 *                     place, sides that cross, no area; PP_EIO: the file cannot be read; PP_ENOMEM
 */
pp_status pp_outline_read(pp_job *job, pp_memory *memory, const pp_table_reading **reading,
                          pp_error *error);

/* Within the outline or beyond it by at most half its largest dimension, in plate coordinates; true
 * when the job gives no outline, false for NaN. The region is convex: of outlines that are not, it
 * goes by the box about them. */
bool pp_outline_near(const pp_job *job, double x, double y);

/* The message about a point that is not near. errors: PP_EINPUT always */
pp_status pp_outline_fail(const pp_job *job, const char *path, long line, long column, double x,
                          double y, pp_error *error);

#endif

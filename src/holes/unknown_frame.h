/* match = pattern: the plate was measured in an unknown frame (shifted, rotated, turned over). Find
 * the frame from the pattern itself, or from the datum points.
 *
 * Method: the directions between neighbours fix the rotation up to the lattice's own symmetry (60,
 * 90 or 180 degrees; a pattern without common directions is tried by pairs of far-apart holes);
 * shifts are tried hole by hole around the one that brings the centroids together. A sample of the
 * measured holes that includes the outermost rejects most poses; the best are refined by fits and
 * judged by the number of all measured holes that find a nominal hole within a quarter pitch. */
#ifndef PP_HOLES_UNKNOWN_FRAME_H
#define PP_HOLES_UNKNOWN_FRAME_H

#include "base/grid.h"
#include "holes/alignment.h"

typedef struct pp_frame {
    pp_view view; /* the readings' view, with x changed in sign where the plate was turned over */
    pp_pose pose;
    bool turned_over;
    size_t symmetries; /* poses that match as many holes; 1: no choice left open. Of several the one
                          not turned over, with the smallest rotation, is taken. */
} pp_frame;

typedef struct pp_frame_question {
    const pp_hole_files *files;
    const pp_grid *nominal_grid; /* all nominal holes */
    const pp_view *view;         /* of the readings, not turned over */
    const pp_align_options *options;
    double pitch;
} pp_frame_question;

/* Find the frame.
 * memory   scratch only
 * errors   PP_EINPUT: align = as-measured (it says that the frame is known), no pitch, or no pose
 *          matches most holes; PP_ENOMEM */
pp_status pp_frame_find(const pp_frame_question *question, pp_memory *memory, pp_frame *frame,
                        pp_error *error);

#endif

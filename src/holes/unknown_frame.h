/* match = pattern: the plate was measured in an unknown frame (shifted, rotated, turned over); find
 * it from the pattern itself. */
#ifndef PP_HOLES_UNKNOWN_FRAME_H
#define PP_HOLES_UNKNOWN_FRAME_H

#include "holes/alignment.h"
#include "holes/grid.h"

typedef struct pp_frame {
    pp_view view; /* the readings' view, with x changed in sign where the plate was turned over */
    pp_pose pose;
    bool turned_over;
    size_t symmetries; /* poses that fit as well; 1: no choice left open */
} pp_frame;

pp_status pp_frame_find(const pp_job *job, const pp_hole_files *files, const pp_grid *nominal_grid,
                        const pp_view *view, double pitch, int threads, pp_memory *memory,
                        pp_frame *frame, pp_error *error);

#endif

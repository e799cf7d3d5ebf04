#include "holes/unknown_frame.h"

pp_status pp_frame_find(const pp_job *job, const pp_hole_files *files, const pp_grid *nominal_grid,
                        const pp_view *view, double pitch, int threads, pp_memory *memory,
                        pp_frame *frame, pp_error *error)
{
    (void)files, (void)nominal_grid, (void)view, (void)pitch, (void)threads, (void)memory;
    (void)frame;
    return pp_fail_at(error, PP_EINPUT, job->path, 0, 0, "match = pattern is not there yet");
}

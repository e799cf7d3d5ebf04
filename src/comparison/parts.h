/* Inside the comparison. */
#ifndef PP_COMPARISON_PARTS_H
#define PP_COMPARISON_PARTS_H

#include "comparison/comparison.h"

/* How the face moved from one map to the other; the plates' flatness is set already.
 * errors   PP_ENOMEM */
pp_status pp_compare_faces(const pp_side *before, const pp_side *now, pp_memory *memory,
                           pp_moved_face *face, pp_error *error);

#endif

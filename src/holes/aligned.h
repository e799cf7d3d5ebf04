/* Bores brought into the plate frame. mm. */
#ifndef PP_HOLES_ALIGNED_H
#define PP_HOLES_ALIGNED_H

#include "base/outline.h"
#include "holes/alignment.h"
#include "holes/centre_error.h"

typedef struct pp_aligned {
    double *edge;   /* [gathered->bore_count] metal to the plate's edge; NULL without an outline */
    double *edge_u; /* [the same] its standard uncertainty; NULL likewise, or without `errors` */
    pp_bore_error *errors; /* [the same]; NULL: no uncertainty was given */
    double rms;            /* distance from nominal of the tube holes on the face aligned */
    double common_share;   /* mean of pp_common_share over the tube holes read; NaN: none */
} pp_aligned;

typedef struct pp_aligning {
    const pp_hole_files *files;
    const pp_gathered *gathered;
    const pp_pose *poses;          /* [face] */
    const pp_alignment *alignment; /* for its reference and the uncertainty of the scale */
    const pp_centre_errors *errors;
    pp_outline_spec outline; /* kind none: no edge */
    pp_hole_uncertainty uncertainty;
} pp_aligning;

/* Place every bore: fills in its place and position in gathered->bores.
 * memory   keep: the edges and errors
 * errors   PP_EINPUT: a hole far beyond the outline; PP_ENOMEM */
pp_status pp_bores_align(const pp_aligning *request, int threads, pp_memory *memory,
                         pp_aligned *aligned, pp_error *error);

#endif

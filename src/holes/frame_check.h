/* Mistakes of the measuring frame, told from the holes themselves: named holes that all lie
 * elsewhere, in one and the same way. */
#ifndef PP_HOLES_FRAME_CHECK_H
#define PP_HOLES_FRAME_CHECK_H

#include "base/grid.h"
#include "holes/alignment.h"
#include "holes/bores.h"

/* The pattern as its datum lays it, against all its holes. */
typedef struct pp_datum_doubt {
    bool found;
    double angle_deg, dx, dy; /* the motion that would bring it back onto the drawing */
    double rms;               /* of the holes after that motion, mm */
} pp_datum_doubt;

/* Refuse readings that are the pattern mirrored, turned, shifted by pitches or in another unit.
 *
 * Where the entry bores (the exit's, if there are none) lie farther from their nominal places than
 * half a pitch (root mean square, after the alignment), the similarity that brings them onto the
 * pattern is sought: by least squares with the unit as it is, 25.4 times and 1/25.4, mirrored and
 * not. If one does so within a tenth of a pitch, no drill did that, and the message says in words
 * what it is. If none does, and more than a quarter of the holes lie within a tenth of a pitch of
 * another hole's place, the lists are numbered differently, and the message says so.
 *
 * given   files     with placed_later, a turn or a shift is left to the set
 *         gathered  bores in the measuring frame; poses: the alignment
 *         align     two-holes, datum-points: a turn or a shift is a result, and told in *doubt
 * errors  PP_EINPUT as above */
pp_status pp_frame_check(const pp_hole_files *files, const pp_gathered *gathered,
                         const pp_pose poses[2], const pp_grid *nominal_grid, pp_align align,
                         double pitch, pp_datum_doubt *doubt, pp_error *error);

typedef struct pp_exit_view_request {
    const pp_hole_files *files;
    const pp_gathered *gathered; /* bores in the measuring frame */
    const uint32_t *key;         /* [readings] nominal hole of each that has a name */
    const pp_grid *nominal_grid;
    const pp_view *view; /* of the job */
    const pp_pose *pose; /* of the exit face */
    double pitch;        /* mm; NaN: not known, nothing is checked */
    pp_exit_view stated; /* how the job says the exit face was looked at */
    pp_exit_align align; /* but `same`: the exit face has an alignment of its own, and nothing is
                            checked */
} pp_exit_view_request;

/* The exit face against the side it was measured from: how well the exit readings lie on the bores
 * of the entry face (on the nominal places where those are missing) as the job says, and as each
 * other exit_view would have it. At least 20 readings; readings without a name go to the nearest
 * hole within half a pitch.
 *
 * out     open    another view fits as well: the pattern's symmetry leaves it open
 * errors  PP_EINPUT: another view fits clearly better (root mean square below a third) */
pp_status pp_exit_view_check(const pp_exit_view_request *request, bool *open, pp_error *error);

#endif

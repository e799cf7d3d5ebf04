/* Readings to bores: the latest round of each hole and face, its repeat readings combined. Still in
 * the measuring frame. */
#ifndef PP_HOLES_BORES_H
#define PP_HOLES_BORES_H

#include "holes/measures.h"

/* What the readings of each face are multiplied by before anything else: the way to 20 C, the view
 * of the exit face undone, the plate turned over. */
typedef struct pp_view {
    double x[2], y[2]; /* [pp_face] */
    double size;       /* diameters and ligaments */
} pp_view;

pp_view pp_view_of(const pp_job *job);

typedef struct pp_gathered {
    size_t bore_count, extra_first;
    pp_bore *bores; /* x, y and diameters filled; position, u_centre, smallest_ligament NaN */
    uint32_t *bore_of[2];
    size_t history_count;
    pp_reading_history *history;
    bool faces[2];
    bool all_bounded; /* every bore has a diameter_max: no gauge left it open */
} pp_gathered;

/* Combine the readings. key_of_row[row]: nominal index, or nominal count + number of the extra
 * (0 .. extras - 1, by first row); PP_NONE: a row left out. Results from `arena`. */
pp_status pp_gather(const pp_hole_files *files, const pp_view *view, const pp_hole_sizes *sizes,
                    const uint32_t *key_of_row, size_t extras, int threads, pp_arena *arena,
                    pp_arena *scratch, pp_gathered *gathered, pp_error *error);

#endif

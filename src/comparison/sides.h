/* One of the two sides of a comparison: what a report folder's tables say, or results just worked
 * out. */
#ifndef PP_COMPARISON_SIDES_H
#define PP_COMPARISON_SIDES_H

#include "answer/results.h"
#include "base/memory.h"

typedef struct pp_side_hole { /* of one face; lengths mm, NaN where nothing is told */
    const char *hole, *face;  /* face: "entry", "exit" */
    const char *position_class, *diameter_class; /* "" where it was not judged */
    double x, y;                                 /* nominal */
    double position, u_position;                 /* u: standard */
    double diameter_min, diameter_max;
} pp_side_hole;

typedef struct pp_side_pair {
    const char *a, *b, *face, *class_;
    double ligament;
} pp_side_pair;

typedef struct pp_side {
    size_t hole_count, pair_count, place_count;
    const pp_side_hole *holes;
    const pp_side_pair *pairs;
    const double *x, *y, *height;            /* [place_count], in rows of y, then x: the map */
    double u_diameter, u_ligament, u_height; /* standard; NaN: not stated */
} pp_side;

/* The tables of the report in `folder` (holes.csv, ligaments.csv, map.csv; those that are there),
 * and the uncertainties its results.json states.
 * errors   PP_EINPUT: a table without its columns; PP_EIO: a table that is there cannot be read;
 *          PP_ENOMEM */
pp_status pp_side_read(const char *folder, int threads, pp_memory *memory, pp_side *side,
                       pp_error *error);

/* The same of results, which must outlive it; no map. errors: PP_ENOMEM */
pp_status pp_side_of(const pp_results *results, pp_memory *memory, pp_side *side, pp_error *error);

#endif

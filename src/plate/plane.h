/* Reference planes of a point set: least squares (ISO 12781-1 LSPL) and minimum zone (MZPL).
 * Pure geometry: no units beyond "the same for all", no frame but the points' own.
 */
#ifndef PP_PLATE_PLANE_H
#define PP_PLATE_PLANE_H

#include <stddef.h>

#include "base/memory.h"

typedef struct pp_points { /* n points, structure of arrays, mm */
    size_t count;
    const double *x, *y, *z;
} pp_points;

typedef struct pp_plane {
    double point[3];  /* on the plane */
    double normal[3]; /* unit */
} pp_plane;

typedef struct pp_least_squares {
    pp_plane plane;         /* point: the centroid */
    double flatness;        /* FLTt(LS) = peak + valley */
    double peak, valley;    /* largest perpendicular deviation above and below, both >= 0 */
    double rms;             /* FLTq, over the points */
    size_t highest, lowest; /* index of the point; ties: the lowest index */
} pp_least_squares;

enum { PP_WITNESS_MAX = 4 };

typedef struct pp_witness {
    size_t index; /* of the point */
    int side;     /* +1 on the upper plane, -1 on the lower */
} pp_witness;

typedef struct pp_minimum_zone {
    pp_plane plane;    /* mid-plane of the zone */
    double flatness;   /* FLTt(MZ) */
    int witness_count; /* 3 + 1, 2 + 2; fewer only when the zone has width 0 */
    pp_witness witness[PP_WITNESS_MAX];
    int exact; /* 1: proven optimal by its witnesses over every orientation considered; 0: not
                  called exact */
} pp_minimum_zone;

/* `up` (unit) picks the sense of the normals: normal . up >= 0. */
pp_status pp_plane_least_squares(const pp_points *points, const double up[3], int threads,
                                 pp_memory *memory, pp_least_squares *result, pp_error *error);

pp_status pp_plane_minimum_zone(const pp_points *points, const pp_least_squares *start,
                                const double up[3], int threads, pp_memory *memory,
                                pp_minimum_zone *result, pp_error *error);

#endif

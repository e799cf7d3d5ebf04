/* Reference planes of a point set: least squares (ISO 12781-1 LSPL) and minimum zone (MZPL).
 * Pure geometry: no units beyond "the same for all", no frame but the points' own. Distances are
 * perpendicular to the plane, never along an axis, so any orientation and any offset will do.
 */
#ifndef PP_PLANES_PLANE_H
#define PP_PLANES_PLANE_H

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
    pp_plane plane;    /* mid-plane of the zone; point: the foot of the centroid on it */
    double flatness;   /* FLTt(MZ) */
    int witness_count; /* 4: 3 + 1 or 2 + 2, upper ones first; 3, all upper, when the zone has
                          width 0 (the points are flat to the rounding of their coordinates) */
    pp_witness witness[PP_WITNESS_MAX];
    int exact; /* 1: proven optimal over every orientation; 0: the search for a better orientation
                  was given up, so not called exact */
} pp_minimum_zone;

/* The plane that minimises the sum of squared perpendicular distances.
 *
 * Method: each chunk of points is centred and brought to triangular form by Householder
 * reflections; chunks are merged by the updating formula of Chan, Golub and LeVeque (The American
 * Statistician 37 (1983) 242) and the normal is the last right singular vector of the final
 * triangle. Cross products of the data are never formed, and coordinates are shifted to a central
 * point first, so neither steep planes nor large offsets lose digits. The same bits for any number
 * of threads.
 *
 * `up` (unit) picks the sense of the normal: normal . up >= 0; a plane within 1e-9 of parallel to
 * `up` has its largest normal component positive.
 *
 * errors   PP_EINPUT: fewer than 3 points, or all of them in one line (to the rounding of their
 * coordinates), or coordinates beyond 1e100; PP_ENUMERIC: no convergence of the decomposition;
 * PP_ENOMEM
 */
pp_status pp_plane_least_squares(const pp_points *points, const double up[3], int threads,
                                 pp_memory *memory, pp_least_squares *result, pp_error *error);

/* The two parallel planes closest together that enclose every point.
 *
 * `start` is the least-squares result of the same points. Method, and the proof that goes with
 * `exact`: planes/zone_solver.h. The points are read as often as needed (mostly two or three
 * times); all work happens on a working set, and a last pass over all points finds none outside the
 * zone. Flatness and normal are evaluated from the witness points in doubled precision, so that
 * they hold nearly all digits of a double for the coordinates as given.
 *
 * Errors: PP_ENOMEM; PP_ENUMERIC when the iteration does not settle (not known to happen).
 */
pp_status pp_plane_minimum_zone(const pp_points *points, const pp_least_squares *start,
                                const double up[3], int threads, pp_memory *memory,
                                pp_minimum_zone *result, pp_error *error);

#endif

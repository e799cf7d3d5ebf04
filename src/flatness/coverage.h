/* How much of the plate a survey has not seen. */
#ifndef PP_FLATNESS_COVERAGE_H
#define PP_FLATNESS_COVERAGE_H

#include <stdint.h>

#include "elements/mesh.h"

typedef struct pp_unseen {
    double share;          /* of the plate's area, farther than `reach` from any point */
    double far_share;      /* of the plate's area, farther than `far` */
    double x, y, distance; /* the place farthest from any point */
} pp_unseen;

/* `seen`: one word a cell, bit 8 b + a set when a survey point lies in its eighth a along x and b
 * along y. Distances are between middles of such eighths (exact Euclidean distance transform:
 * Felzenszwalb and Huttenlocher, Theory of Computing 8 (2012)), so a reach below two eighths is
 * taken as two eighths.
 * errors   PP_ENOMEM */
pp_status pp_unseen_find(const pp_mesh *mesh, const uint64_t *seen, double reach, double far,
                         pp_memory *memory, pp_unseen *unseen, pp_error *error);

#endif

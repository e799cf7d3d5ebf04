/* A regular pattern found in measured holes: for plates whose drawing is not at hand. It tells how
 * regular the holes lie, never whether they lie where they should. */
#ifndef PP_HOLES_DERIVE_H
#define PP_HOLES_DERIVE_H

#include <stdbool.h>

#include "base/memory.h"
#include "base/points.h"

typedef struct pp_derived {
    bool square;          /* layout: square, else triangular */
    double pitch;         /* mm */
    double angle_deg;     /* of a row of neighbours against x; in (-30, 30], square (-45, 45] */
    size_t blocks;        /* parts of the pattern that lanes of no whole number of rows part */
    double rms;           /* distance of the holes from the pattern, mm */
    double largest;       /* the same of the farthest */
    size_t farthest;      /* which one */
    pp_nominal_point *at; /* [count] the pattern's places, in the measuring frame */
} pp_derived;

/* Find it: the median of the distances to the nearest neighbour gives the pitch, the directions to
 * the neighbours (sum of the sixth or fourth powers, whichever is more of one mind) layout and
 * angle, steps from neighbour to neighbour the row and column of each hole, and least squares over
 * all of them one pitch, one angle and the place of every block. Holes of fewer than three in a
 * block of their own, and blocks that lie on the rows of the largest within a tenth of a pitch,
 * belong to the largest.
 *
 * given   count   holes, one reading each
 * memory  keep: at
 * errors  PP_EINPUT: fewer than 6 holes, or no regular pattern (root mean square above a tenth of a
 *         pitch); PP_ENOMEM */
pp_status pp_pattern_derive(size_t count, const pp_measured_point *holes, pp_memory *memory,
                            pp_derived *derived, pp_error *error);

#endif

/* Tool wear and tool changes from the diameters in drilling order:
 *
 *     diameter_k = level of the tool in use + slope k + noise
 *
 * Wild diameters (beyond 4.5 robust standard deviations of a running median of 9) give way to that
 * median. The runs come from optimal partitioning (Jackson et al., IEEE Signal Processing Letters
 * 12 (2005) 105): a level per run of at least 8 holes, a penalty of (3 ln n + 6) variances per
 * change, in turn with the common slope, from four starts. Beyond 5000 holes changes are sought at
 * every m-th hole first and then moved to the best hole near by. A change that fails its F test (4
 * n p > .0125, for all places it might have been at) is dropped. The noise and its correlation from
 * hole to hole come from differences, which level and slope hardly touch; a significant correlation
 * widens penalty, tests and standard error alike.
 */
#ifndef PP_CAUSES_WEAR_H
#define PP_CAUSES_WEAR_H

#include <stdbool.h>
#include <stdint.h>

#include "base/memory.h"

enum { PP_WEAR_HOLES_MIN = 30 };

typedef struct pp_wear {
    double slope, standard_error, p; /* mm of diameter per hole */
    double df;
    double scatter;     /* standard deviation about levels and slope, mm */
    double correlation; /* used: 0 where not significant */
    size_t change_count;
    uint32_t *changes;   /* first hole of each new tool, from 0; of `arena` */
    double change_p;     /* of the surest change, corrected for all places; 1: there is none */
    double longest_run;  /* holes */
    double largest_step; /* mm, with its sign: of the level at a change, the slope apart */
    size_t wild;         /* diameters set aside */
} pp_wear;

/* Analyse diameter[count] (mm, finite, drilling order), count >= PP_WEAR_HOLES_MIN. `arena`, which
 * keeps the changes, is another one than `scratch`, whose temporaries are released.
 * errors   PP_ENOMEM */
pp_status pp_wear_find(size_t count, const double *diameter, pp_arena *arena, pp_arena *scratch,
                       pp_wear *wear, pp_error *error);

/* The median of the nine diameters about y[at], reflected at the ends; count >= 4. */
double pp_wear_local_median(const double *y, size_t count, size_t at);

#endif

/* Centres that coincide. */
#ifndef PP_INPUT_LISTS_SPACING_H
#define PP_INPUT_LISTS_SPACING_H

#include <stdbool.h>
#include <stddef.h>

#include "base/memory.h"

#define PP_SPACING_REACH 1e9 /* mm: coordinates are within this, either way */
#define PP_SPACING_SAME 1e-3 /* mm: two centres within 1 um are one centre given twice */

typedef struct pp_spacing_pair {
    bool found;
    size_t first, second; /* first < second; the pair with the lowest `second`, then `first` */
} pp_spacing_pair;

/* Find two of the points x[count], y[count] within PP_SPACING_SAME of each other; count < 2^32 - 1.
 *
 * Method: a hash table of square cells of 0.025 mm. A point looks into its own cell and, when it is
 * within 1 um of a side, into the next; no cell holds more than about 700 points before two
 * of them are too close, so the time is proportional to the count whatever the pattern.
 * errors   PP_ENOMEM */
pp_status pp_spacing_find_close(const double *x, const double *y, size_t count, pp_arena *scratch,
                                pp_spacing_pair *pair, pp_error *error);

#endif

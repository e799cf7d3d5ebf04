/* What the nominal pattern says of itself: pitch, rows and columns, neighbours. */
#ifndef PP_HOLES_PITCH_H
#define PP_HOLES_PITCH_H

#include "holes/grid.h"
#include "holes/measures.h"

/* Neighbours: tube holes whose nominal centres are at most this many pitches apart. */
#define PP_NEIGHBOUR_PITCHES 1.25

typedef struct pp_neighbours {
    size_t count;
    uint32_t *b;   /* [pair] by a, then b; a < b */
    size_t *start; /* [nominal count + 1]: first pair of each a */
} pp_neighbours;

/* Rows (by y) and columns (by x) of the tube holes, numbered from 1; 0 for holes of kind other. A
 * step of more than a tenth of a pitch begins a new one. */
pp_status pp_labels_find(const pp_nominal *nominal, double pitch, pp_memory *memory,
                         const uint32_t **rows, const uint32_t **columns, pp_error *error);

/* Neighbour pairs, those of two plugged holes left out. `grid` holds all nominal holes. In scratch.
 * PP_EINPUT when there are so many that the pitch must be wrong.
 */
pp_status pp_neighbours_find(const pp_job *job, const pp_nominal *nominal, const pp_grid *grid,
                             double pitch, const bool *plugged, int threads, pp_memory *memory,
                             pp_neighbours *neighbours, pp_error *error);

#endif

/* What the nominal pattern says of itself: pitch, rows and columns, neighbours. */
#ifndef PP_HOLES_PITCH_H
#define PP_HOLES_PITCH_H

#include "base/grid.h"
#include "input/lists/holelist.h"

/* Neighbours: tube holes whose nominal centres are at most this many pitches apart. */
#define PP_NEIGHBOUR_PITCHES 1.25

/* The pitch in force: `given` (the job's) unless that is NaN, else found from the nominal tube
 * holes: their nearest-neighbour distances sorted, cut where the step exceeds 0.01 mm, the median
 * of the largest group (tie: the shorter). NaN with fewer than two tube holes.
 * errors   PP_ENOMEM */
pp_status pp_pitch_find(double given, const pp_nominal *nominal, int threads, pp_memory *memory,
                        double *pitch, pp_error *error);

typedef struct pp_neighbour_question {
    const pp_nominal *nominal;
    const pp_grid *grid; /* all nominal holes */
    double pitch;        /* NaN: no neighbours */
    const bool *plugged; /* [nominal]: pairs of two plugged holes are left out */
    const char *job_file;
    long pitch_line; /* where the job says the pitch, for messages */
} pp_neighbour_question;

typedef struct pp_neighbours {
    size_t count;
    uint32_t *b;   /* [pair] by a, then b; a < b */
    size_t *start; /* [nominal count + 1]: first pair of each a */
} pp_neighbours;

/* Rows (by y) and columns (by x) of the tube holes, numbered from 1; 0 for holes of kind other. A
 * step of more than a tenth of a pitch begins a new one.
 * errors   PP_ENOMEM */
pp_status pp_labels_find(const pp_nominal *nominal, double pitch, pp_memory *memory,
                         const uint32_t **rows, const uint32_t **columns, pp_error *error);

/* Neighbour pairs.
 * memory   scratch: the pairs
 * errors   PP_EINPUT when there are so many that the pitch must be wrong; PP_ENOMEM
 */
pp_status pp_neighbours_find(const pp_neighbour_question *question, int threads, pp_memory *memory,
                             pp_neighbours *neighbours, pp_error *error);

#endif

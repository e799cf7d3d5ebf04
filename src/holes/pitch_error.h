/* Pitch over several steps: the distance between two holes of a row, n pitches apart, against that
 * of their nominal centres. Knows no limits. */
#ifndef PP_HOLES_PITCH_ERROR_H
#define PP_HOLES_PITCH_ERROR_H

#include "base/grid.h"
#include "holes/centre_error.h"
#include "holes/measures.h"

typedef struct pp_pitch_request {
    const pp_nominal *nominal;
    const pp_grid *grid;         /* all nominal holes */
    const bool *plugged;         /* [nominal index] */
    const pp_gathered *gathered; /* distances need no alignment */
    const pp_centre_errors *errors;
    double pitch; /* mm; NaN: nothing is found */
    size_t steps; /* how many pitches apart, from 1 */
    int threads;
} pp_pitch_request;

/* Every two tube holes that lie `steps` steps apart along a row of the nominal pattern, in any
 * direction in which a hole has a neighbour (the last may be off by a tenth of the pitch), both
 * measured on a face and neither plugged. Value: |measured distance - nominal distance|, mm.
 * Standard uncertainty: the two readings', and that of the scale times the distance; a shift or
 * turn of the alignment leaves distances alone.
 *
 * given   keep     for the list, by first hole, second hole, entry before exit
 * errors  PP_ENOMEM
 *
 * The same list for any number of threads. Method: docs/theory/holes.md, "Pitch over n steps". */
pp_status pp_pitch_errors_find(const pp_pitch_request *request, pp_memory *memory,
                               pp_pair_list *list, pp_error *error);

#endif

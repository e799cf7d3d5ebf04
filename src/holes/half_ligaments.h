/* What one hole leaves of the metal to its neighbours, whatever they are: of holes that were drawn
 * at random, pairs are not, and yet this tells of every pair. */
#ifndef PP_HOLES_HALF_LIGAMENTS_H
#define PP_HOLES_HALF_LIGAMENTS_H

#include "holes/ligaments.h"

/* Of one bore. From its edge to half way between its nominal place and a neighbour's, along the
 * line through both; the least over the neighbours. Two neighbours have at least the sum of theirs
 * between them: the distance of their centres is no shorter than its projection on that line. */
typedef struct pp_half_ligament {
    double
        value; /* mm; NaN for an extra hole, without neighbours, or where no diameter is proven */
    double u;  /* standard uncertainty; NaN where none was given */
} pp_half_ligament;

typedef struct pp_half_ligaments {
    const pp_half_ligament *of; /* [bore] */
    size_t neighbours_most;     /* of any hole */
} pp_half_ligaments;

/* memory->keep; PP_ENOMEM */
pp_status pp_half_ligaments_take(const pp_ligament_question *question, pp_memory *memory,
                                 pp_half_ligaments *halves, pp_error *error);

#endif

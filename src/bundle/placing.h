/* Placement: where to put the plates within their play so that the tubes pass.
 *
 * The margin of a tube is concave in the moves, so that the programme of a few tubes bounds what
 * any placement reaches, and a pass over all tubes at its moves says what is reached: equal, it is
 * proven. Tubes are taken into the programme as they turn out to be in the way. */
#ifndef PP_BUNDLE_PLACING_H
#define PP_BUNDLE_PLACING_H

#include <stdbool.h>

#include "base/memory.h"
#include "bundle/discs.h"

typedef struct pp_placing_request {
    const pp_discs *discs;
    const pp_play *play; /* [plates], of which one at least has some */
    size_t plates;
    const bool *take;     /* [tubes]: those that take part; with fewer than 4 discs none must */
    const double *radius; /* [tubes]: what passes each as set out (pp_passage_find) */
    double wanted;        /* radius that every tube should have */
    int threads;
} pp_placing_request;

typedef struct pp_decisive { /* one edge of one hole that decides the best placement */
    uint32_t tube;
    size_t disc; /* index in pp_discs */
    double share;
} pp_decisive;

typedef struct pp_placed {
    size_t beyond_count; /* tubes that no placement repairs */
    const uint32_t *beyond;
    bool none_left; /* all are: nothing below is set */

    double radius, bound; /* of the tube that is worst at the best placement of the others */
    uint32_t worst;       /* the tube with the largest share */
    size_t decisive_count;
    const pp_decisive *decisive; /* shares of 1e-6 and more */
    const pp_move *least;        /* [plates]: the smallest moves within 1 um of the best */

    /* Where not all can pass: the fewest that fail, as far as found. */
    bool some_fail;
    size_t fail_count, at_least; /* those beyond placement counted in */
    const uint32_t *fail;
    const pp_move *fewest; /* [plates] */
} pp_placed;

/* Find the placement of the plates.
 *
 * out     placed  memory from memory->keep
 * errors  PP_ENUMERIC: it did not settle, or not to its accuracy; PP_ENOMEM */
pp_status pp_placing_find(const pp_placing_request *request, pp_memory *memory, pp_placed *placed,
                          pp_error *error);

#endif

/* Which tubes are in the way of a placement: a pass over all that solves few of them. */
#ifndef PP_BUNDLE_PRICING_H
#define PP_BUNDLE_PRICING_H

#include <stdbool.h>

#include "base/memory.h"
#include "bundle/discs.h"

enum { PP_PRICED_MAX = 12 }; /* violators reported by one pass */

typedef struct pp_ranked {
    double low;
    uint32_t tube;
} pp_ranked;

typedef struct pp_pricing {
    const pp_discs *discs;
    const pp_play *play;
    size_t plates;
    const bool *take; /* [tubes] */
    int threads;
    double *low;      /* [tubes] room of the caller: a lower bound of the radius */
    double *exact;    /* [tubes] room of the caller */
    pp_ranked *queue; /* [tubes] room of the caller */
} pp_pricing;

typedef struct pp_priced {
    double least;  /* smallest radius found */
    bool complete; /* that is the smallest of all tubes taken */
    size_t count;
    uint32_t tube[PP_PRICED_MAX]; /* the worst violators, worst first */
} pp_priced;

/* Find the tubes that `moves` leave a radius below `floor`, by more than `tolerance`.
 *
 * Method: the least-squares line gives a lower bound of every tube's radius; only tubes whose bound
 * is below the floor are solved, the lowest first, and the pass ends with the first batch that
 * holds a violator. */
pp_status pp_pricing_pass(const pp_pricing *pricing, const pp_move *moves, double floor,
                          double tolerance, pp_priced *priced, pp_error *error);

#endif

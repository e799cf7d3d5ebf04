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
    double *low;   /* [tubes] a lower bound of the radius at the last pass; -INFINITY before it */
    double *exact; /* [tubes] room of the caller */
    pp_ranked *queue;          /* [tubes] room of the caller */
    pp_move at[PP_PLATES_MAX]; /* the moves of the last pass; zero before it */
} pp_pricing;

typedef struct pp_priced {
    double least;  /* no tube that was looked at has less; exact below the floor */
    bool complete; /* all tubes taken were looked at */
    size_t count;
    uint32_t tube[PP_PRICED_MAX]; /* the worst violators, worst first */
} pp_priced;

/* Find the tubes that `moves` leave a radius below `floor`, by more than `tolerance`.
 *
 * Method: a radius falls by no more than the farthest that a hole is moved, so that what was known
 * at the last pass gives a lower bound. Where that is below the floor the least-squares line gives
 * another; only tubes still below are solved, the lowest first, and the pass ends with the first
 * batch that holds a violator.
 * errors   those of pp_parallel */
pp_status pp_pricing_pass(pp_pricing *pricing, const pp_move *moves, double floor, double tolerance,
                          pp_priced *priced, pp_error *error);

#endif

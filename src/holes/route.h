/* A short way past many places, for somebody who walks it with a tool in hand. */
#ifndef PP_HOLES_ROUTE_H
#define PP_HOLES_ROUTE_H

#include <stdint.h>

#include "base/memory.h"

/* Order places into an open path that begins in the lowest lane, at its left.
 *
 * given    x, y [count]  finite, mm
 * returns  order [count]: index of the place to visit first, second, ...
 *          length: of the path, mm
 * errors   PP_ENOMEM
 *
 * Method: lanes along x, walked to and fro (about sqrt(n/3) of them: Daganzo, Transportation
 * Research B 18, 1984, from memory), then stretches of the path are turned round wherever that
 * makes it shorter (2-opt: Croes, Operations Research 6, 1958), looking ahead no further than keeps
 * the work of a round bounded. No claim to be the shortest. The same order for the same places. */
pp_status pp_route_find(size_t count, const double *x, const double *y, pp_arena *scratch,
                        uint32_t *order, double *length, pp_error *error);

#endif

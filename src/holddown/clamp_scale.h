/* The forces a clamp is set to. A gauge is read to about a twentieth of what it shows: steps of
 * 50 N up to 2 kN, 100 N up to 4 kN, 200 N up to 10 kN and 500 N beyond, so that from 1 kN on no
 * step is more than 5 % (common practice, no source). A force on the scale is its place, counted
 * from 0 N. */
#ifndef PP_HOLDDOWN_CLAMP_SCALE_H
#define PP_HOLDDOWN_CLAMP_SCALE_H

#include <stddef.h>

/* The force at a place of the scale, N. */
double pp_clamp_force_at(size_t place);

/* The first place whose force is no less than `force` (N, 0 or more, at most 1e9). */
size_t pp_clamp_place_of(double force);

#endif

/* Whether residuals are noise point by point and neighbourhood by neighbourhood. */
#ifndef PP_FLATNESS_NEIGHBOUR_MEANS_H
#define PP_FLATNESS_NEIGHBOUR_MEANS_H

#include "base/memory.h"
#include "plateproof/error.h"

/* The largest of |r|, and of sqrt(k) |mean of r over the k nearest points, itself included| for k =
 * 4 and 8: of independent noise each is one draw of its standard deviation. `area` is that over
 * which the points lie, mm2; more than 8 points. Memory: scratch.
 * errors   PP_ENOMEM */
pp_status pp_neighbour_means_largest(size_t count, const double *x, const double *y,
                                     const double *residual, double area, pp_memory *memory,
                                     double *largest, pp_error *error);

#endif

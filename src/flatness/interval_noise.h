/* What noise of the readings makes of the zone of the fitted surface, by drawing it. */
#ifndef PP_FLATNESS_INTERVAL_NOISE_H
#define PP_FLATNESS_INTERVAL_NOISE_H

#include "flatness/surface_system.h"

/* The 95 % quantile of the zone of the surface fitted to nothing but noise of standard deviation u,
 * over points x, y [count]: the 95th of 99 draws, which one more exceeds with a chance of 5 %.
 * factor: of A + mu K. Noise is drawn at every point where these are all there are, else as the
 * right-hand side it makes; NaN where A has no factor for that. */
pp_status pp_noise_surface_quantile(const pp_surface_system *system, const double *factor, double u,
                                    size_t count, const double *x, const double *y,
                                    bool least_squares, int threads, pp_memory *memory,
                                    double *quantile, pp_error *error);

/* Mean over `draws` of what noise of standard deviation u at every point adds to the zone of the
 * points, which is `width` without. */
pp_status pp_noise_zone_bias(size_t count, const double *x, const double *y, const double *height,
                             double width, double u, size_t draws, bool least_squares, int threads,
                             double *bias, pp_error *error);

#endif

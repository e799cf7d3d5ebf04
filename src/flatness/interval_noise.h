/* What noise of the readings makes of the zone of the fitted surface, by drawing it. */
#ifndef PP_FLATNESS_INTERVAL_NOISE_H
#define PP_FLATNESS_INTERVAL_NOISE_H

#include "flatness/surface_system.h"

typedef struct pp_noise_request {
    size_t count; /* of points that the zone is taken over */
    const double *x, *y;
    double u;           /* standard deviation of the noise, mm */
    bool least_squares; /* the zone's, else the smallest there is */
    int threads;
} pp_noise_request;

/* The 95 % quantile of the zone of the surface fitted to nothing but noise, over the points asked:
 * the 95th of 99 draws, which one more exceeds with a chance of 5 %. factor: of A + mu K. Noise is
 * drawn at every point where these are all there are, else as the right-hand side it makes; NaN
 * where A has no factor for that. errors: PP_ENUMERIC: a draw's surface or zone cannot be found;
 * PP_ENOMEM */
pp_status pp_noise_surface_quantile(const pp_surface_system *system, const double *factor,
                                    const pp_noise_request *request, pp_memory *memory,
                                    double *quantile, pp_error *error);

/* Mean over `draws` of what noise at every point adds to the zone of the points with their
 * height[count], which is `width` without. errors: PP_EINPUT, PP_ENUMERIC: a draw's zone cannot be
 * found; PP_ENOMEM */
pp_status pp_noise_zone_bias(const pp_noise_request *request, const double *height, double width,
                             size_t draws, double *bias, pp_error *error);

#endif

/* The zone of a set of points, and how it hangs on the few that decide it. */
#ifndef PP_FLATNESS_FIELD_ZONE_H
#define PP_FLATNESS_FIELD_ZONE_H

#include <stdbool.h>

#include "planes/plane.h"

typedef struct pp_zone_weights {
    double width;
    pp_plane plane;
    int count;
    size_t index[PP_WITNESS_MAX];
    double
        weight[PP_WITNESS_MAX]; /* of the points' heights in the width: above 1, below -1 in all */
} pp_zone_weights;

/* Of points whose planes are known. */
pp_zone_weights pp_zone_weights_of(const pp_points *points, const pp_least_squares *least_squares,
                                   const pp_minimum_zone *minimum_zone, bool by_least_squares);

/* sqrt(sum weight^2): how the noise of one height enters the width. */
double pp_zone_spread(const pp_zone_weights *zone);

/* The same of points with heights along z, in two steps: the least-squares plane, and the zone,
 * which is no wider than the plane's flatness. errors: as pp_zone_find */
pp_status pp_zone_fit(const pp_points *points, int threads, pp_memory *memory,
                      pp_least_squares *fit, pp_error *error);
pp_status pp_zone_of_fit(const pp_points *points, const pp_least_squares *fit,
                         bool by_least_squares, int threads, pp_memory *memory,
                         pp_zone_weights *zone, pp_error *error);
/* Both. errors: PP_EINPUT, PP_ENUMERIC as pp_plane_least_squares
 * and pp_plane_minimum_zone; PP_ENOMEM */
pp_status pp_zone_find(const pp_points *points, bool by_least_squares, int threads,
                       pp_memory *memory, pp_zone_weights *zone, pp_error *error);

#endif

/* Thickness of the plate and parallelism of its faces, from surveys of both in one frame. */
#ifndef PP_FLATNESS_THICKNESS_H
#define PP_FLATNESS_THICKNESS_H

#include "flatness/surface.h"
#include "planes/plane.h"

typedef struct pp_thickness_map { /* with a second survey of the underside */
    bool valid;
    double mean, smallest, largest, variation; /* mm */
    double smallest_x, smallest_y, largest_x, largest_y;
    double parallelism; /* of the underside to the top's least-squares plane (ISO 1101 zone) */
} pp_thickness_map;

/* Fill the thickness figures from both surfaces, fitted on one mesh: their difference measured
 * along `normal` (unit, plate frame, of the top's least-squares plane). The mean is over the
 * plate's area; smallest and largest are sought over all of it.
 *
 * memory   scratch only
 * errors   PP_ENOMEM
 */
pp_status pp_thickness_measure(const pp_surface *top, const pp_surface *underside,
                               const double normal[3], pp_memory *memory, pp_thickness_map *result,
                               pp_error *error);

/* Distance of the two planes parallel to `datum` that enclose every point of the survey
 * (parallelism of a surface to a datum plane, ISO 1101). `datum` in the survey's own frame.
 * errors   PP_ENOMEM */
pp_status pp_parallelism_measure(const pp_survey *survey, const pp_plane *datum, int threads,
                                 pp_memory *memory, double *parallelism, pp_error *error);

#endif

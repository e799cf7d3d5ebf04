/* The surface that lies on the supports, and the gap beneath it on the grid of the map. mm */
#ifndef PP_HOLDDOWN_LAID_SHAPE_H
#define PP_HOLDDOWN_LAID_SHAPE_H

#include "flatness/flatness.h"
#include "holddown/thickness_readings.h"

/* The surface that lies on the supports: the underside where it was surveyed, else the top less
 * the thickness where that was read place by place, else the top. Of the thickness only what
 * differs from its mean is taken off, so that support_height keeps its meaning.
 * memory->keep: shape[dofs]. errors: PP_ENOMEM */
pp_status pp_laid_shape(const pp_flatness *flatness, const pp_thickness_readings *readings,
                        pp_memory *memory, const double **shape, bool *underside, pp_error *error);

/* field[dofs] above the supports at the points of flatness->map, on a table not below it; NULL
 * without a map. memory->keep
 * errors   PP_ENOMEM */
pp_status pp_gap_sample(const pp_flatness *flatness, const double *field, bool table,
                        pp_memory *memory, const double **gap, pp_error *error);

#endif

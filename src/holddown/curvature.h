/* What bending a plate flat would take: stress, and whether it would have to stretch too. */
#ifndef PP_HOLDDOWN_CURVATURE_H
#define PP_HOLDDOWN_CURVATURE_H

#include "elements/mesh.h"
#include "holddown/setup.h"

typedef struct pp_curvature {
    /* E t / (2 (1 - nu^2)) max |k1 + nu k2| over both principal curvatures, MPa */
    double flattening_stress;
    /* height of the dome over the shorter side that has the plate's mean Gaussian curvature, mm:
     * sqrt |mean k1 k2| R^2 / 2, R half the shorter side. A cylinder has none: it flattens without
     * stretching. */
    double double_height;
} pp_curvature;

/* Curvature of the shape[dofs] of a solid plate, at the centres of uncut cells at least a tenth of
 * the shorter side from the edge: nearer to it, it is mostly noise. */
pp_curvature pp_curvature_of(const pp_plate_spec *plate, const pp_mesh *mesh, const double *shape);

#endif

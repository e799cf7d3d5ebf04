/* What bending a plate flat would take: stress, and whether it would have to stretch too. */
#ifndef PP_HOLDDOWN_CURVATURE_H
#define PP_HOLDDOWN_CURVATURE_H

#include "elements/mesh.h"
#include "holddown/setup.h"

typedef struct pp_curvature {
    /* E t / (2 (1 - nu^2)) max |k1 + nu k2| over both principal curvatures, MPa: what noise adds
     * taken off, and the range that the noise leaves it */
    double flattening_stress, stress_low, stress_high;
    double as_fitted; /* the same figure of the shape as it is, noise and all */
    /* height of the dome over the shorter side (a ring's outer diameter) that has the plate's mean
     * Gaussian curvature, mm: sqrt |mean k1 k2| R^2 / 2, R half that side. A cylinder has none: it
     * flattens without stretching. */
    double double_height;
    /* how much more force than the linear plate's it takes to flatten that dome, A high on a plate
     * t thick: 1 + c (A/t)^2, one term of von Karman's equations, edges free to move in the plane.
     * Disc: c = 0.262 (nu = 0.3; Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells,
     * from memory). Rectangle a x b: c = 3/4 (1 - nu^2) (a^-4 + b^-4) / (a^-2 + b^-2)^2, by
     * Galerkin's method with w = A sin sin and no mean membrane stress. Ring: ring_stretch.h. NaN
     * for other outlines. The force follows the dome as it goes down: where `a` of A is left it is
     * 1 + c (A + a) a/t^2 of the linear plate's, twice as much above it at the first push, nothing
     * when flat. */
    double stiffening;
} pp_curvature;

/* By how much the force that flattens a dome or saddle of `height` (mm) exceeds that of the linear
 * plate, as a factor of at least 1; NaN where the outline is none that the estimate knows. */
double pp_curvature_stiffening(const pp_plate_spec *plate, const pp_mesh *mesh, double height);

/* From such a factor: the force over the linear plate's where `left` of the dome, 1 to 0, is left;
 * and the highest force on the way over that which keeps it flat, at least 1. */
double pp_curvature_on_the_way(double stiffening, double left);
double pp_curvature_peak(double stiffening);

/* Curvature of the shape field[dofs], at the centres of uncut cells at least a tenth of the shorter
 * side from the edge: nearer to it, it is mostly noise.
 *
 * given    redraw[redraws * dofs]  what fresh noise adds to the shape (flatness/redraw.h); 0: none
 *
 * The largest of many noisy values is too large, and by several times where the shape is gentle. So
 * the figure is the largest of the curvatures averaged over the smallest window in which noise
 * alone reaches at most a tenth of them (the pilot), or, where a sharp place shows through the
 * noise, what is left of the largest there after the most that noise added to the pilot in any
 * redraw. Range: the pilot and what noise still reaches in it, and the largest less the least that
 * noise added. The Gaussian curvature is the pilot's.
 * errors   PP_ENOMEM */
pp_status pp_curvature_of(const pp_plate_spec *plate, const pp_mesh *mesh, const double *shape,
                          size_t redraws, const double *redraw, pp_memory *memory,
                          pp_curvature *curvature, pp_error *error);

/* Bending stress of a change of shape, MPa: the same formula over all uncut cells. */
double pp_curvature_stress(const pp_plate_spec *plate, const pp_mesh *mesh, const double *change);

#endif

/* How much a ring that is flattened stretches. */
#ifndef PP_HOLDDOWN_RING_STRETCH_H
#define PP_HOLDDOWN_RING_STRETCH_H

/* c of 1 + c (A/t)^2, the factor by which stretching raises the force that bends a ring, A the
 * height of its whole dome (a spherical cap over the outer diameter), t its thickness; one term of
 * von Karman's equations, edges free to move in the plane.
 *
 * given    bore           inner over outer diameter, 0 to below 1; 0: a disc (0.2627 at nu = 0.3)
 *          poisson_ratio
 *
 * The term is the deflection under even pressure of a ring held up along its outer edge (Timoshenko
 * and Woinowsky-Krieger, Theory of Plates and Shells, art. 17); with its slope th(r), stresses are
 * those of the free ring heated by g(r), g' = -th^2/(2r) (Timoshenko and Goodier, Theory of
 * Elasticity, thermal stress in a ring), whose energy is E t/2 times the area and the variance of g
 * over it. Both from memory. */
double pp_ring_stretch(double bore, double poisson_ratio);

#endif

/* Bending: how a tube that does not pass straight bends through its holes, and what that takes.
 *
 *     minimise  EI / 2 * integral |w''|^2 ds   subject to  |w(s_i) - c_i| <= g_i at every edge,
 *
 * g_i the play, hole radius less the largest tube radius; frictionless and one-sided. Convex, the
 * forces are unique: they are the multipliers. Euler-Bernoulli beam, cubic Hermite elements between
 * the edges (exact, for there is no load between them); loads at the edges only. */
#ifndef PP_BUNDLE_BENDING_H
#define PP_BUNDLE_BENDING_H

#include <stdbool.h>

#include "bundle/passage.h"

typedef struct pp_tube_beam {
    double stiffness;      /* EI, N mm2 */
    double section;        /* I / (OD / 2), mm3 */
    double largest_radius; /* of the tube, mm */
} pp_tube_beam;

typedef struct pp_edge_force {
    double fx, fy; /* N, of the hole on the tube */
    double moment; /* N mm, of the tube there */
    double wx, wy; /* mm, where the tube's axis passes */
    bool touches;  /* the force is more than what accuracy leaves of none */
} pp_edge_force;

typedef struct pp_bent {
    bool solved;
    double energy;  /* N mm */
    double stress;  /* MPa, largest */
    double forces;  /* N, sum of |F|: times the friction it is the push */
    double contact; /* N, largest |F| */
} pp_bent;

/* A tube of nominal outer diameter and wall, both mm; modulus in MPa. */
pp_tube_beam pp_tube_beam_of(double diameter, double wall, double modulus, double largest_diameter);

/* The tube in the first `count` edges, 2 <= count. No hole may be smaller than the tube.
 * edge: [count], or NULL. `solved` is false where the accuracy was not reached. */
void pp_bending_find(const pp_disc *discs, size_t count, const pp_tube_beam *beam, pp_bent *bent,
                     pp_edge_force *edge);

/* The largest stress and forces of every stage of going in: the tube in the first 3, 4 ... count
 * edges. */
void pp_bending_going_in(const pp_disc *discs, size_t count, const pp_tube_beam *beam,
                         pp_bent *worst);

#endif

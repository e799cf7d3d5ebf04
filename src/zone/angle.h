/* The smallest zone of a few holes over every angle: the outer problem, solved to proven global
 * optimality.
 *
 * Hole i has its measured centre m_i, its error e_i = m_i - n_i and its allowance r_i. Turned by
 * theta and shifted by t it lies |e_i + (R(theta) - 1) m_i + t| from nominal, so with
 * p_i = -(e_i + (R - 1) m_i) the best shift is the smallest circle with allowances of the p_i
 * (zone_circle.h), and the weights that prove it at one angle give a lower bound at *every* angle:
 *
 *     G(theta) >= D + A (cos theta - 1) + B sin theta
 *     A = sum v.m, B = sum v.Jm, D = sum v.e - sum lambda r
 *
 * The shift cancels because sum v = 0, and the rotation enters exactly: nothing is linearised.
 * The upper envelope of these sinusoids is minimised over the full circle; the circle is solved
 * there, which adds a sinusoid; the end comes when the best value found meets the envelope.
 *
 * Two holes bound every angle by their distance alone, too: (| |m_1 - m_2| - |n_1 - n_2| | - r_1 -
 * r_2) / 2. For the two faces of one hole, whose nominal places coincide, this is all there is:
 * their value is the same at every angle, and sinusoids would have to fill the circle.
 */
#ifndef PP_ZONE_ANGLE_H
#define PP_ZONE_ANGLE_H

#include <stddef.h>

#include "zone/circle.h"

enum { PP_ZONE_CUTS_MAX = 160 };

typedef struct pp_zone_hole {
    double mx, my; /* measured, about a near centre */
    double ex, ey; /* measured - nominal */
    double allowance;
} pp_zone_hole;

typedef struct pp_zone_cut {
    double a, b, d;
    int count; /* the holes that carry it */
    size_t item[3];
} pp_zone_cut;

typedef struct pp_zone_turn { /* an angle with cos - 1 and sin to full relative accuracy */
    double angle, cosine_less_1, sine;
} pp_zone_turn;

typedef struct pp_zone_workspace {
    size_t cuts, turns;
    double floor; /* the best bound from a distance alone, and its two holes */
    size_t floor_item[2];
    pp_zone_cut cut[PP_ZONE_CUTS_MAX];
    /* where the envelope may have its minimum: the minimum of each cut, both crossings of any two
     */
    pp_zone_turn turn[PP_ZONE_CUTS_MAX * PP_ZONE_CUTS_MAX];
    double height[PP_ZONE_CUTS_MAX * PP_ZONE_CUTS_MAX]; /* of the envelope there */
} pp_zone_workspace;

typedef struct pp_zone_optimum {
    double value; /* reached */
    double bound; /* proven: no angle and no shift gives less */
    pp_zone_turn turn;
    double x, y;             /* shift after the turn */
    pp_zone_turn bound_turn; /* where the bound, the envelope's minimum, lies */
    int evaluations;
} pp_zone_optimum;

/* Solve for `count` >= 1 holes; points[count] and *workspace are the caller's. Stops when value -
 * bound <= tolerance, or after PP_ZONE_CUTS_MAX evaluations: the two tell. */
void pp_zone_angle_solve(size_t count, const pp_zone_hole *holes, double tolerance,
                         pp_zone_point *points, pp_zone_workspace *workspace,
                         pp_zone_optimum *optimum);

/* The holes that carry the bound just found: of every cut within `slack` of it where it lies.
 * items[3 * PP_ZONE_CUTS_MAX], ascending, each once; returns how many. */
size_t pp_zone_angle_support(const pp_zone_workspace *workspace, const pp_zone_optimum *optimum,
                             double slack, size_t *items);

/* The rotation by an angle, radians. */
pp_zone_turn pp_zone_turn_of(double angle);

#endif

/* Straight passage: the largest straight cylinder that passes through a tube's holes.
 *
 *     rho = max over lines a + b s of the smallest of r_i - |a + b s_i - c_i|
 *
 * Any v_i in the plane and l_i >= |v_i| with sum v = 0, sum s v = 0, sum l = 1 prove that
 * rho <= sum l_i r_i - sum v_i . c_i (weak duality), so that every answer carries its proof: l_i
 * are the shares of the discs that decide, v_i the direction in which each pushes. At most five
 * decide (Helly's theorem in four dimensions, the number of unknowns of a line). The ellipse that
 * an inclined cylinder cuts is taken as a circle: 5e-7 of its radius at 1 mrad.
 */
#ifndef PP_BUNDLE_PASSAGE_H
#define PP_BUNDLE_PASSAGE_H

#include <stddef.h>

enum { PP_EDGES_MAX = 60 }; /* 30 plates, two edges each */

/* One edge of one hole. Lengths mm. */
typedef struct pp_disc {
    double s;    /* along the tubes, growing to the rear */
    double x, y; /* centre, seen from the front */
    double r;    /* radius */
} pp_disc;

typedef struct pp_share {
    double l;      /* of the decision; all add up to 1 */
    double vx, vy; /* |v| <= l */
} pp_share;

typedef struct pp_passage {
    double radius;         /* of the cylinder, reached by the line */
    double bound;          /* no line reaches more; >= radius, equal within the accuracy */
    double ax, ay, bx, by; /* the line: (ax + bx s, ay + by s) */
} pp_passage;

/* Solve for discs[count], 3 <= count <= PP_EDGES_MAX, at two stations at least, in order of s.
 * `share`: [count], or NULL. Needs no memory; any number of calls may run side by side. */
void pp_passage_find(const pp_disc *discs, size_t count, pp_passage *passage, pp_share *share);

/* What the least-squares line alone reaches: a lower bound of the radius, and fast. */
double pp_passage_at_least(const pp_disc *discs, size_t count);

/* What `line` leaves at one disc: r - |line(s) - c|. */
double pp_passage_slack(const pp_passage *line, const pp_disc *disc);

#endif

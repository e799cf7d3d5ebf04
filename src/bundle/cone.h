/* The round cone of three numbers, and its scaling.
 *
 * (t, x, y) lies in the cone when t >= hypot(x, y): a point at distance hypot(x, y) from a hole's
 * centre stays within t. The scaling of two inner points s and z is the one of Nesterov and Todd
 * (SIAM J. Optim. 8 (1998) 324): the symmetric W with W z = W^-1 s = lambda. Notation as in
 * Vandenberghe, "The CVXOPT linear and quadratic cone program solvers" (2010), section 4 (from
 * memory). */
#ifndef PP_BUNDLE_CONE_H
#define PP_BUNDLE_CONE_H

#include <math.h>
#include <stdbool.h>

typedef struct pp_cone {
    double t, x, y;
} pp_cone;

/* Symmetric 3 x 3 matrix W^-2. */
typedef struct pp_cone_weight {
    double tt, tx, ty, xx, xy, yy;
} pp_cone_weight;

typedef struct pp_cone_scaling {
    double eta;     /* W = eta * (hyperbolic reflection along (w, u, v)) */
    double w, u, v; /* w^2 - u^2 - v^2 = 1 */
    pp_cone lambda;
} pp_cone_scaling;

/* Inner product of two vectors (t, x, y). */
static inline double pp_cone_dot(pp_cone a, pp_cone b) { return a.t * b.t + a.x * b.x + a.y * b.y; }

/* a + step d */
static inline pp_cone pp_cone_plus(pp_cone a, double step, pp_cone d)
{
    return (pp_cone){a.t + step * d.t, a.x + step * d.x, a.y + step * d.y};
}

/* t^2 - x^2 - y^2 without cancelling near the surface; positive inside. */
static inline double pp_cone_depth(pp_cone a)
{
    double radius = sqrt(a.x * a.x + a.y * a.y);
    return (a.t - radius) * (a.t + radius);
}

/* Strictly within the cone t > |(x, y)|; false for anything that is no number. */
static inline bool pp_cone_inside(pp_cone a)
{
    return a.t > 0 && a.t * a.t > a.x * a.x + a.y * a.y;
}

static inline pp_cone pp_cone_scale(const pp_cone_scaling *c, pp_cone p) /* W p */
{
    double along = c->u * p.x + c->v * p.y, side = p.t + along / (1 + c->w);
    return (pp_cone){c->eta * (c->w * p.t + along), c->eta * (p.x + c->u * side),
                     c->eta * (p.y + c->v * side)};
}

static inline pp_cone pp_cone_unscale(const pp_cone_scaling *c, pp_cone p) /* W^-1 p */
{
    double along = c->u * p.x + c->v * p.y, side = along / (1 + c->w) - p.t;
    return (pp_cone){(c->w * p.t - along) / c->eta, (p.x + c->u * side) / c->eta,
                     (p.y + c->v * side) / c->eta};
}

static inline pp_cone pp_cone_weigh(const pp_cone_weight *m, pp_cone p) /* W^-2 p */
{
    return (pp_cone){m->tt * p.t + m->tx * p.x + m->ty * p.y,
                     m->tx * p.t + m->xx * p.x + m->xy * p.y,
                     m->ty * p.t + m->xy * p.x + m->yy * p.y};
}

/* a o b = (a.b, a.t (b.x, b.y) + b.t (a.x, a.y)) */
static inline pp_cone pp_cone_product(pp_cone a, pp_cone b)
{
    return (pp_cone){pp_cone_dot(a, b), a.t * b.x + b.t * a.x, a.t * b.y + b.t * a.y};
}

/* The p with lambda o p = d. */
static inline pp_cone pp_cone_divide(pp_cone lambda, pp_cone d)
{
    double t = (lambda.t * d.t - lambda.x * d.x - lambda.y * d.y) / pp_cone_depth(lambda);
    return (pp_cone){t, (d.x - t * lambda.x) / lambda.t, (d.y - t * lambda.y) / lambda.t};
}

/* Scaling of s and z, both inside, and W^-2. False when rounding has put one outside. */
bool pp_cone_scaling_of(pp_cone s, pp_cone z, pp_cone_scaling *scaling, pp_cone_weight *weight);

/* The largest step <= 2 for which p + step d stays in the cone; p is inside. */
double pp_cone_step(pp_cone p, pp_cone d);

#endif

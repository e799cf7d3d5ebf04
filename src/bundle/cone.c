#include "bundle/cone.h"

bool pp_cone_scaling_of(pp_cone s, pp_cone z, pp_cone_scaling *scaling, pp_cone_weight *weight)
{
    if (!pp_cone_inside(s) || !pp_cone_inside(z)) return false;
    double size_s = sqrt(pp_cone_depth(s)), size_z = sqrt(pp_cone_depth(z));
    if (!(size_s > 0) || !(size_z > 0)) return false; /* NaN too */
    pp_cone a = {s.t / size_s, s.x / size_s, s.y / size_s};
    pp_cone b = {z.t / size_z, z.x / size_z, z.y / size_z};
    double gamma = sqrt((1 + pp_cone_dot(a, b)) / 2);
    double u = (a.x - b.x) / (2 * gamma), v = (a.y - b.y) / (2 * gamma);
    double w = sqrt(1 + u * u + v * v), eta = sqrt(size_s / size_z);
    if (!(eta > 0) || !isfinite(eta) || !isfinite(w)) return false;
    *scaling = (pp_cone_scaling){.eta = eta, .w = w, .u = u, .v = v};
    scaling->lambda = pp_cone_scale(scaling, z);
    double k = 1 / (eta * eta); /* W^-2 = (2 (Jw)(Jw)' - J) / eta^2, J = diag(1, -1, -1) */
    *weight = (pp_cone_weight){.tt = k * (2 * w * w - 1),
                               .tx = -k * 2 * w * u,
                               .ty = -k * 2 * w * v,
                               .xx = k * (2 * u * u + 1),
                               .xy = k * 2 * u * v,
                               .yy = k * (2 * v * v + 1)};
    return pp_cone_inside(scaling->lambda);
}

/* |p + step d| meets the surface where a step^2 + 2 b step + c = 0, c > 0. */
double pp_cone_step(pp_cone p, pp_cone d)
{
    const double most = 2.0, rounding = -1e-10;
    double a = d.t * d.t - d.x * d.x - d.y * d.y;
    double b = p.t * d.t - p.x * d.x - p.y * d.y;
    double c = pp_cone_depth(p);
    double discriminant = b * b - a * c;
    if (discriminant < rounding * b * b) return most;
    double divisor = sqrt(discriminant > 0 ? discriminant : 0) - b;
    double step = divisor > 0 && c < most * divisor ? c / divisor : most;
    /* rounding must not walk out of the cone */
    while (step > 1e-30 && !pp_cone_inside(pp_cone_plus(p, 0.999999 * step, d))) step *= 0.5;
    return step;
}

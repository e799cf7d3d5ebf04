/* Positions: a two-dimensional normal distribution within a circle. */
#include <math.h>

#include "base/constants.h"
#include "base/quantiles.h"
#include "base/stats.h"
#include "process/capability.h"

enum { DIRECTIONS_MIN = 256, DIRECTIONS_PER_RATIO = 64, PLATES_FOR_INTERVAL = 4, BISECTIONS = 100 };
static const double RATIO_MOST = 1e3; /* of the axes: a thinner cloud counts as one so thin */
static const double SHARE_MEDIAN = 0.5, SHARE_HIGH = 0.99865;
static const double INTERVAL_UPPER = 0.95; /* of the two-sided 90 % */

typedef struct cloud { /* in its principal frame */
    double m1, m2, l1, l2;
} cloud;

static cloud principal(double mx, double my, double vx, double vy, double cov)
{
    double angle = 0.5 * atan2(2 * cov, vx - vy), c = cos(angle), s = sin(angle);
    double middle = 0.5 * (vx + vy), half = hypot(0.5 * (vx - vy), cov);
    double l1 = middle + half, least = l1 / (RATIO_MOST * RATIO_MOST);
    return (cloud){c * mx + s * my, c * my - s * mx, l1, fmax(middle - half, least)};
}

/* Phi(b1) - Phi(b0) without losing the tails. */
static double between(double b0, double b1)
{
    if (b0 > 0) return pp_normal_upper(b0) - pp_normal_upper(b1);
    return pp_normal_upper(-b1) - pp_normal_upper(-b0);
}

/* The mass on the ray in direction (u1, u2), up to r. */
static double on_ray(const cloud *k, double u1, double u2, double r)
{
    double a = u1 * u1 / k->l1 + u2 * u2 / k->l2;
    double b = u1 * k->m1 / k->l1 + u2 * k->m2 / k->l2, x0 = b / a, root = sqrt(a);
    double b0 = -x0 * root, b1 = (r - x0) * root;
    double height = exp(-0.5 * (k->m1 * k->m1 / k->l1 + k->m2 * k->m2 / k->l2 - b * b / a)) /
                    (PP_TURN * sqrt(k->l1 * k->l2));
    double rise = (exp(-0.5 * b0 * b0) - exp(-0.5 * b1 * b1)) / a;
    return height * (rise + x0 * sqrt(PP_TURN / a) * between(b0, b1)) * PP_TURN;
}

double pp_normal_disc(double r, double mean_x, double mean_y, double var_x, double var_y,
                      double cov)
{
    cloud k = principal(mean_x, mean_y, var_x, var_y, cov);
    if (!(k.l1 > 0)) return hypot(mean_x, mean_y) <= r;
    int count = (int)fmax(DIRECTIONS_MIN, DIRECTIONS_PER_RATIO * sqrt(k.l1 / k.l2));
    double sum = 0;
    for (int i = 0; i < count; i++) {
        double t = PP_TURN * i / count;
        sum += on_ray(&k, cos(t), sin(t), r);
    }
    return fmin(1, sum / count);
}

double pp_normal_disc_radius(double share, double mean_x, double mean_y, double var_x, double var_y,
                             double cov)
{
    double low = 0, high = hypot(mean_x, mean_y) + 10 * sqrt(var_x + var_y);
    for (int i = 0; i < BISECTIONS; i++) {
        double r = 0.5 * (low + high);
        if (r <= low || r >= high) break;
        if (pp_normal_disc(r, mean_x, mean_y, var_x, var_y, cov) < share)
            low = r;
        else
            high = r;
    }
    return 0.5 * (low + high);
}

/* One distribution of all plates but `without` (count: none left out). */
static void pool(const pp_plate_moments *p, size_t count, size_t without, pp_position_capability *f)
{
    double holes = 0, plates = 0;
    *f = (pp_position_capability){0};
    for (size_t i = 0; i < count; i++) {
        if (i == without || p[i].holes < 2) continue;
        plates++, holes += p[i].holes;
        f->mean_x += p[i].mean_dx, f->mean_y += p[i].mean_dy;
    }
    f->plates = (size_t)plates, f->holes = holes;
    if (!(plates > 0)) return;
    f->mean_x /= plates, f->mean_y /= plates;
    for (size_t i = 0; i < count; i++) {
        if (i == without || p[i].holes < 2) continue;
        double dx = p[i].mean_dx - f->mean_x, dy = p[i].mean_dy - f->mean_y, w = p[i].holes / holes;
        f->var_x += w * (p[i].var_dx + dx * dx);
        f->var_y += w * (p[i].var_dy + dy * dy);
        f->cov += w * (p[i].cov_dxdy + dx * dy);
    }
}

/* Percentiles about the limit: (R - r50) / (r99.865 - r50), radii. */
static double find_index(pp_position_capability *f, double limit)
{
    f->median =
        2 * pp_normal_disc_radius(SHARE_MEDIAN, f->mean_x, f->mean_y, f->var_x, f->var_y, f->cov);
    f->q99865 =
        2 * pp_normal_disc_radius(SHARE_HIGH, f->mean_x, f->mean_y, f->var_x, f->var_y, f->cov);
    return (limit - f->median) / (f->q99865 - f->median);
}

/* Leave out one plate at a time; on the logarithm, which is why the index must be above zero. */
static void bound(const pp_plate_moments *p, size_t count, double limit, pp_position_capability *f)
{
    double n = (double)f->plates, sum = 0, square = 0;
    f->ppk_low = f->ppk_high = NAN;
    if (f->plates < PLATES_FOR_INTERVAL || !(f->ppk > 0)) return;
    for (size_t i = 0; i < count; i++) {
        pp_position_capability one;
        if (p[i].holes < 2) continue;
        pool(p, count, i, &one);
        double index = find_index(&one, limit);
        if (!(index > 0)) return;
        sum += log(index), square += log(index) * log(index);
    }
    double variance = fmax(0, square - sum * sum / n) * (n - 1) / n;
    double half = pp_student_quantile(INTERVAL_UPPER, n - 1) * sqrt(variance);
    f->ppk_low = f->ppk * exp(-half), f->ppk_high = f->ppk * exp(half);
}

pp_status pp_position_capability_find(const pp_plate_moments *plates, size_t count, double limit,
                                      pp_position_capability *found, pp_error *error)
{
    if (!(limit > 0))
        return pp_fail(error, PP_EINPUT,
                       "capability of positions needs the diametral limit; give --limit");
    pp_position_capability f;
    pool(plates, count, count, &f);
    if (f.plates == 0)
        return pp_fail(error, PP_ENOTHING,
                       "no report with these conditions has positions hole by hole (holes.csv "
                       "beside results.json)");
    if (!(f.var_x + f.var_y > 0))
        return pp_fail(error, PP_ENOTHING,
                       "all holes lie equally far off; a capability needs measured positions");
    f.ppk = find_index(&f, limit);
    f.share_outside =
        fmax(0, 1 - pp_normal_disc(0.5 * limit, f.mean_x, f.mean_y, f.var_x, f.var_y, f.cov));
    f.index = f.share_outside > 0 ? -pp_normal_quantile(f.share_outside) / 3 : INFINITY;
    bound(plates, count, limit, &f);
    *found = f;
    return PP_OK;
}

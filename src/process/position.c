/* Positions: a two-dimensional normal distribution within a circle. */
#include <math.h>

#include "base/constants.h"
#include "base/quantiles.h"
#include "base/stats.h"
#include "process/capability.h"

enum { DIRECTIONS_MIN = 256, DIRECTIONS_PER_RATIO = 64, PLATES_FOR_INTERVAL = 4, STEPS = 100 };
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

/* -log of the mass beyond r: of a round cloud it is r^2 / 2 s^2, and near that of any. */
static double log_beyond(double r, const cloud *k)
{
    static const double LEAST = 1e-16;
    return -log(fmax(LEAST, 1 - pp_normal_disc(r, k->m1, k->m2, k->l1, k->l2, 0)));
}

/* False position in r^2, Illinois: of an end that stays twice, half of its height counts. */
double pp_normal_disc_radius(double share, double mean_x, double mean_y, double var_x, double var_y,
                             double cov)
{
    static const double CLOSE = 1e-13;
    cloud k = principal(mean_x, mean_y, var_x, var_y, cov);
    double far = hypot(mean_x, mean_y), want = -log1p(-share);
    if (!(k.l1 > 0)) return far;
    double high = pow(far + sqrt(2 * k.l1 * want), 2) * (1 + CLOSE), low = 0, r2 = high;
    double above = log_beyond(sqrt(high), &k) - want, below = -want;
    for (int i = 0, side = 0; i < STEPS && high - low > CLOSE * high; i++) {
        r2 = (low * above - high * below) / (above - below);
        double miss = log_beyond(sqrt(r2), &k) - want;
        if (miss == 0) break;
        if (miss > 0) {
            high = r2, above = miss;
            if (side > 0) below *= 0.5;
        } else {
            low = r2, below = miss;
            if (side < 0) above *= 0.5;
        }
        side = miss > 0 ? 1 : -1;
        if (fabs(miss) < CLOSE * want) break;
    }
    return sqrt(r2);
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

/* ---- the interval of the index ---- */

/* The index of a round, centred cloud of standard deviation s is R / (c s) less this: its logarithm
 * with this added is that of s, whose bounds are known best. */
static const double ROUND_OFFSET = 0.47904;

static double log_size(double index)
{
    static const double LEAST = 1e-9;
    return log(fmax(index + ROUND_OFFSET, LEAST));
}

typedef struct parts {        /* of the variance of positions */
    double within[3];         /* x, y, xy: of one plate's holes */
    double between[3], df;    /* of the plates' means */
    double ux, uy, offset, u; /* direction and size of the middle's offset, its uncertainty */
    double log_within;        /* uncertainty of the logarithm of `within` */
} parts;

static double log_size_of(const parts *k, double limit, double offset, double within,
                          double between)
{
    pp_position_capability f = {.mean_x = k->ux * offset,
                                .mean_y = k->uy * offset,
                                .var_x = within * k->within[0] + between * k->between[0],
                                .var_y = within * k->within[1] + between * k->between[1],
                                .cov = within * k->within[2] + between * k->between[2]};
    return log_size(find_index(&f, limit));
}

static parts take_apart(const pp_plate_moments *p, size_t count, const pp_position_capability *f)
{
    parts k = {0};
    double n = (double)f->plates, sum = 0, square = 0;
    for (size_t i = 0; i < count; i++) {
        if (p[i].holes < 2) continue;
        double dx = p[i].mean_dx - f->mean_x, dy = p[i].mean_dy - f->mean_y,
               w = p[i].holes / f->holes;
        double size = log(p[i].var_dx + p[i].var_dy);
        k.within[0] += w * p[i].var_dx, k.within[1] += w * p[i].var_dy;
        k.within[2] += w * p[i].cov_dxdy;
        k.between[0] += dx * dx / (n - 1), k.between[1] += dy * dy / (n - 1);
        k.between[2] += dx * dy / (n - 1);
        sum += size, square += size * size;
    }
    const double *b = k.between;
    double trace = b[0] + b[1], squares = b[0] * b[0] + b[1] * b[1] + 2 * b[2] * b[2];
    k.df = squares > 0 ? (n - 1) * trace * trace / squares : n - 1; /* Satterthwaite */
    k.log_within = sqrt(fmax(0, square - sum * sum / n) / (n - 1) / n);
    double r = hypot(f->mean_x, f->mean_y);
    k.ux = r > 0 ? f->mean_x / r : 1, k.uy = r > 0 ? f->mean_y / r : 0;
    k.offset = sqrt(fmax(0, r * r - trace / n)); /* a mean of plates is off by their spread alone */
    k.u = sqrt(fmax(0, k.ux * k.ux * b[0] + k.uy * k.uy * b[1] + 2 * k.ux * k.uy * b[2]) / n);
    return k;
}

/* Middle, spread between plates and spread within, each at its own bound, put together by variance
 * recovery. upper: of the index. */
static double bound_by_parts(const parts *k, double limit, double n, bool upper)
{
    double t = pp_student_quantile(INTERVAL_UPPER, n - 1), sign = upper ? -1 : 1;
    double chi2 = upper ? pp_chi2_quantile(INTERVAL_UPPER, 1 - INTERVAL_UPPER, k->df)
                        : pp_chi2_quantile(1 - INTERVAL_UPPER, INTERVAL_UPPER, k->df);
    double middle = log_size_of(k, limit, k->offset, 1, 1);
    double apart[3] = {middle - log_size_of(k, limit, fmax(0, k->offset + sign * t * k->u), 1, 1),
                       middle - log_size_of(k, limit, k->offset, exp(sign * t * k->log_within), 1),
                       middle - log_size_of(k, limit, k->offset, 1, k->df / chi2)};
    double far = sqrt(apart[0] * apart[0] + apart[1] * apart[1] + apart[2] * apart[2]);
    return exp(middle - sign * far) - ROUND_OFFSET;
}

/* Half of the interval of log index, by leaving out one plate at a time; NaN where an index falls
 * to nought. */
static double half_by_leaving_out(const pp_plate_moments *p, size_t count, double limit,
                                  const pp_position_capability *f)
{
    double n = (double)f->plates, sum = 0, square = 0;
    for (size_t i = 0; i < count; i++) {
        pp_position_capability one;
        if (p[i].holes < 2) continue;
        pool(p, count, i, &one);
        double index = find_index(&one, limit);
        if (!(index > 0)) return NAN;
        sum += log(index), square += log(index) * log(index);
    }
    double variance = fmax(0, square - sum * sum / n) * (n - 1) / n;
    return pp_student_quantile(INTERVAL_UPPER, n - 1) * sqrt(variance);
}

/* Two ways, and of each end the one further out: leaving out plates is blind to the skewness of a
 * spread from few plates and its lower end is too high, the upper end of the parts too low. On
 * logarithms, which is why the index must be above zero. */
static void bound(const pp_plate_moments *p, size_t count, double limit, pp_position_capability *f)
{
    f->ppk_low = f->ppk_high = NAN;
    if (f->plates < PLATES_FOR_INTERVAL || !(f->ppk > 0)) return;
    double half = half_by_leaving_out(p, count, limit, f);
    if (isnan(half)) return;
    parts k = take_apart(p, count, f);
    double n = (double)f->plates;
    f->ppk_low = fmin(f->ppk * exp(-half), bound_by_parts(&k, limit, n, false));
    f->ppk_high = fmax(f->ppk * exp(half), bound_by_parts(&k, limit, n, true));
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

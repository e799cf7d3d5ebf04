#include "bundle/passage.h"

#include <string.h>

#include "base/constants.h"
#include "bundle/cone_program.h"

enum {
    LINE = 5,        /* unknowns: ax, ay, bx, by, t = -rho */
    ALL_AT_ONCE = 8, /* so few discs are solved together */
    DIRECTIONS = 6,  /* the first discs tried: the worst in each */
    ROUNDS_MAX = 40
};
static const double PROVEN = 1e-10;  /* mm between value and bound: good enough */
static const double EXACTLY = 1e-11; /* of one solution */
static const double ROUGHLY = 1e-5;  /* enough to see which discs are missing */
static const double AT_START = 0.05; /* mm of slack at the first line */

/* The discs that are in force, centred, the stations scaled to -1 .. 1, and the smallest radius
 * taken off (keeps four digits near the end). */
typedef struct line_problem {
    size_t count;
    double s[PP_EDGES_MAX], x[PP_EDGES_MAX], y[PP_EDGES_MAX], r[PP_EDGES_MAX];
    double factor[LINE][LINE]; /* lower triangle */
} line_problem;

/* How the scaled problem lies in the bundle. */
typedef struct line_frame {
    double s0, length, x0, y0, r0;
} line_frame;

/* ---- the cone programme of a line ---- */

static void line_move(const void *context, const double *d, pp_cone *out)
{
    const line_problem *p = context;
    for (size_t i = 0; i < p->count; i++)
        out[i] = (pp_cone){d[4], d[0] + d[2] * p->s[i], d[1] + d[3] * p->s[i]};
}

static void line_slacks(const void *context, const double *x, pp_cone *out)
{
    const line_problem *p = context;
    line_move(p, x, out);
    for (size_t i = 0; i < p->count; i++) {
        out[i].t += p->r[i];
        out[i].x -= p->x[i];
        out[i].y -= p->y[i];
    }
}

static void line_gather(const void *context, const pp_cone *z, double *out)
{
    const line_problem *p = context;
    for (int k = 0; k < LINE; k++) out[k] = 0;
    for (size_t i = 0; i < p->count; i++) {
        out[0] += z[i].x;
        out[1] += z[i].y;
        out[2] += p->s[i] * z[i].x;
        out[3] += p->s[i] * z[i].y;
        out[4] += z[i].t;
    }
}

static bool cholesky(double m[LINE][LINE])
{
    for (int i = 0; i < LINE; i++)
        for (int j = 0; j <= i; j++) {
            double sum = m[i][j];
            for (int k = 0; k < j; k++) sum -= m[i][k] * m[j][k];
            if (i == j && !(sum > 0)) return false;
            m[i][j] = i == j ? sqrt(sum) : sum / m[j][j];
        }
    return true;
}

static bool line_factor(void *context, const pp_cone_weight *weight)
{
    line_problem *p = context;
    double(*m)[LINE] = p->factor;
    memset(p->factor, 0, sizeof p->factor);
    for (size_t i = 0; i < p->count; i++) {
        const pp_cone_weight *w = &weight[i];
        double s = p->s[i];
        m[0][0] += w->xx;
        m[1][0] += w->xy;
        m[1][1] += w->yy;
        m[2][0] += s * w->xx;
        m[2][1] += s * w->xy;
        m[2][2] += s * s * w->xx;
        m[3][1] += s * w->yy;
        m[3][2] += s * s * w->xy;
        m[3][3] += s * s * w->yy;
        m[4][0] += w->tx;
        m[4][1] += w->ty;
        m[4][2] += s * w->tx;
        m[4][3] += s * w->ty;
        m[4][4] += w->tt;
    }
    m[3][0] = m[2][1];
    return cholesky(m);
}

static void line_solve(const void *context, double *b)
{
    const line_problem *p = context;
    const double(*m)[LINE] = p->factor;
    for (int i = 0; i < LINE; i++) {
        for (int k = 0; k < i; k++) b[i] -= m[i][k] * b[k];
        b[i] /= m[i][i];
    }
    for (int i = LINE - 1; i >= 0; i--) {
        for (int k = i + 1; k < LINE; k++) b[i] -= m[k][i] * b[k];
        b[i] /= m[i][i];
    }
}

/* ---- a first line ---- */

/* Least squares through the centres, as (a, b) about the mean station. */
static void fit_line(size_t count, const double *s, const double *x, const double *y,
                     double line[4])
{
    double n = (double)count, sm = 0, xm = 0, ym = 0, ss = 0, sx = 0, sy = 0;
    for (size_t i = 0; i < count; i++) sm += s[i], xm += x[i], ym += y[i];
    sm /= n, xm /= n, ym /= n;
    for (size_t i = 0; i < count; i++) {
        ss += (s[i] - sm) * (s[i] - sm);
        sx += (s[i] - sm) * (x[i] - xm);
        sy += (s[i] - sm) * (y[i] - ym);
    }
    line[2] = ss > 0 ? sx / ss : 0;
    line[3] = ss > 0 ? sy / ss : 0;
    line[0] = xm - line[2] * sm;
    line[1] = ym - line[3] * sm;
}

/* Strictly feasible lines and multipliers are at hand without work. */
static void begin_line(const line_problem *p, double x[LINE], pp_cone z[PP_EDGES_MAX])
{
    fit_line(p->count, p->s, p->x, p->y, x);
    x[4] = -INFINITY;
    for (size_t i = 0; i < p->count; i++) {
        double ex = x[0] + x[2] * p->s[i] - p->x[i], ey = x[1] + x[3] * p->s[i] - p->y[i];
        x[4] = fmax(x[4], sqrt(ex * ex + ey * ey) - p->r[i] + AT_START);
        z[i] = (pp_cone){1 / (double)p->count, 0, 0};
    }
}

/* Go on until value and bound are within `gap`. x: the line and -rho; z: multipliers; what they
 * are worth is read off afterwards. */
static void solve_line(line_problem *p, double gap, double x[LINE], pp_cone z[PP_EDGES_MAX])
{
    static const double cost[LINE] = {0, 0, 0, 0, 1};
    pp_cone_work work[PP_EDGES_MAX];
    pp_cone_weight weight[PP_EDGES_MAX];
    pp_cone buffer[PP_EDGES_MAX];
    double right[LINE], residual[LINE];
    pp_cone_room room = {work, weight, buffer, right, residual};
    pp_cone_program program = {.unknowns = LINE,
                               .cones = p->count,
                               .cost = cost,
                               .slacks = line_slacks,
                               .move = line_move,
                               .gather = line_gather,
                               .factor = line_factor,
                               .solve = line_solve,
                               .context = p,
                               .gap_wanted = gap,
                               .residual_wanted = 1e-11};
    pp_cone_end end;
    (void)pp_cone_program_solve(&program, &room, x, z, &end); /* value and bound tell */
}

/* The proof that multipliers make: put right what rounding left of sum v = sum s v = 0, raise each
 * l to |v|, scale to sum l = 1. */
static double prove(const line_problem *p, const pp_cone *z, pp_share *share)
{
    double m0 = 0, m1 = 0, m2 = 0, fx0 = 0, fx1 = 0, fy0 = 0, fy1 = 0, total = 0, bound = 0;
    for (size_t i = 0; i < p->count; i++) {
        m0 += z[i].t, m1 += z[i].t * p->s[i], m2 += z[i].t * p->s[i] * p->s[i];
        fx0 += z[i].x, fx1 += z[i].x * p->s[i];
        fy0 += z[i].y, fy1 += z[i].y * p->s[i];
    }
    double d = m0 * m2 - m1 * m1;
    if (!(d > 0)) d = INFINITY;
    for (size_t i = 0; i < p->count; i++) {
        double w = z[i].t, s = p->s[i];
        double vx = z[i].x - w * ((m2 * fx0 - m1 * fx1) + s * (m0 * fx1 - m1 * fx0)) / d;
        double vy = z[i].y - w * ((m2 * fy0 - m1 * fy1) + s * (m0 * fy1 - m1 * fy0)) / d;
        double l = fmax(w, sqrt(vx * vx + vy * vy));
        share[i] = (pp_share){l, vx, vy};
        total += l;
        bound += l * p->r[i] - vx * p->x[i] - vy * p->y[i];
    }
    for (size_t i = 0; i < p->count; i++)
        share[i] = (pp_share){share[i].l / total, share[i].vx / total, share[i].vy / total};
    return bound / total;
}

/* ---- the working set ---- */

typedef struct line_search {
    const line_problem *all;
    line_problem set;
    size_t member[PP_EDGES_MAX];
    bool taken[PP_EDGES_MAX];
} line_search;

static void take(line_search *f, size_t i)
{
    if (f->taken[i]) return;
    f->taken[i] = true;
    size_t k = f->set.count++;
    f->member[k] = i;
    f->set.s[k] = f->all->s[i];
    f->set.x[k] = f->all->x[i];
    f->set.y[k] = f->all->y[i];
    f->set.r[k] = f->all->r[i];
}

/* Of the discs that `line` leaves less than `floor`, the worst in each direction. */
static void take_worst(line_search *f, const double line[LINE], int directions, double floor)
{
    const line_problem *p = f->all;
    for (int k = 0; k < directions; k++) {
        double ux = cos(PP_TURN * k / directions), uy = sin(PP_TURN * k / directions);
        double most = -INFINITY;
        size_t worst = p->count;
        for (size_t i = 0; i < p->count; i++) {
            double ex = line[0] + line[2] * p->s[i] - p->x[i];
            double ey = line[1] + line[3] * p->s[i] - p->y[i];
            double reach = ux * ex + uy * ey - p->r[i];
            if (reach <= most || p->r[i] - sqrt(ex * ex + ey * ey) >= floor) continue;
            most = reach;
            worst = i;
        }
        if (worst < p->count) take(f, worst);
    }
}

static double reached(const line_problem *p, const double line[LINE])
{
    double least = INFINITY;
    for (size_t i = 0; i < p->count; i++) {
        double ex = line[0] + line[2] * p->s[i] - p->x[i];
        double ey = line[1] + line[3] * p->s[i] - p->y[i];
        least = fmin(least, p->r[i] - sqrt(ex * ex + ey * ey));
    }
    return least;
}

static void begin_search(line_search *f)
{
    double line[LINE];
    size_t count = f->all->count;
    if (count <= ALL_AT_ONCE) {
        for (size_t i = 0; i < count; i++) take(f, i);
        return;
    }
    fit_line(count, f->all->s, f->all->x, f->all->y, line);
    take(f, 0);
    take(f, count - 1); /* two stations determine a line, whatever else is in force */
    take_worst(f, line, DIRECTIONS, INFINITY);
}

static void search(line_search *f, double line[LINE], double *radius, double *bound,
                   pp_share *share)
{
    pp_cone z[PP_EDGES_MAX];
    pp_share part[PP_EDGES_MAX];
    double found[LINE];
    begin_search(f);
    fit_line(f->all->count, f->all->s, f->all->x, f->all->y, line);
    *radius = reached(f->all, line);
    *bound = INFINITY;
    for (int round = 0; round < ROUNDS_MAX; round++) {
        size_t before = f->set.count;
        begin_line(&f->set, found, z);
        solve_line(&f->set, ROUGHLY, found, z);
        take_worst(f, found, 4, -found[4] - ROUGHLY);
        if (f->set.count > before) continue;
        solve_line(&f->set, EXACTLY, found, z);
        double proof = prove(&f->set, z, part), value = reached(f->all, found);
        if (value > *radius) *radius = value, memcpy(line, found, sizeof found);
        if (proof < *bound) {
            *bound = proof;
            memset(share, 0, f->all->count * sizeof *share);
            for (size_t k = 0; k < f->set.count; k++) share[f->member[k]] = part[k];
        }
        if (*bound - *radius > PROVEN) take_worst(f, found, 4, -found[4] - PROVEN / 2);
        if (f->set.count == before) return;
    }
}

/* ---- from the bundle and back ---- */

static line_frame scale(const pp_disc *discs, size_t count, line_problem *p)
{
    line_frame f = {.r0 = INFINITY};
    double low = discs[0].s, high = discs[0].s;
    for (size_t i = 0; i < count; i++) {
        low = fmin(low, discs[i].s);
        high = fmax(high, discs[i].s);
        f.x0 += discs[i].x / (double)count;
        f.y0 += discs[i].y / (double)count;
        f.r0 = fmin(f.r0, discs[i].r);
    }
    f.s0 = (low + high) / 2;
    f.length = (high - low) / 2;
    p->count = count;
    for (size_t i = 0; i < count; i++) {
        p->s[i] = (discs[i].s - f.s0) / f.length;
        p->x[i] = discs[i].x - f.x0;
        p->y[i] = discs[i].y - f.y0;
        p->r[i] = discs[i].r - f.r0;
    }
    return f;
}

void pp_passage_find(const pp_disc *discs, size_t count, pp_passage *passage, pp_share *share)
{
    line_problem all;
    line_search f = {.all = &all};
    pp_share own[PP_EDGES_MAX];
    double line[LINE], radius, bound;
    line_frame at = scale(discs, count, &all);
    search(&f, line, &radius, &bound, share ? share : own);
    double bx = line[2] / at.length, by = line[3] / at.length;
    *passage = (pp_passage){.radius = radius + at.r0,
                            .bound = fmax(bound, radius) + at.r0,
                            .ax = line[0] + at.x0 - bx * at.s0,
                            .ay = line[1] + at.y0 - by * at.s0,
                            .bx = bx,
                            .by = by};
}

double pp_passage_at_least(const pp_disc *discs, size_t count)
{
    line_problem all;
    double line[LINE];
    line_frame at = scale(discs, count, &all);
    fit_line(count, all.s, all.x, all.y, line);
    return reached(&all, line) + at.r0;
}

double pp_passage_slack(const pp_passage *line, const pp_disc *disc)
{
    double ex = line->ax + line->bx * disc->s - disc->x;
    double ey = line->ay + line->by * disc->s - disc->y;
    return disc->r - sqrt(ex * ex + ey * ey);
}

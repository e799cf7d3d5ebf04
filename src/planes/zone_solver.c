/* Descent to a locally narrowest zone; see zone_solver.h for the method. */
#include "planes/zone_solver.h"

#include <stdlib.h>
#include <string.h>

#include "linalg/linalg.h"
#include "planes/plane_pass.h"

enum {
    BASIS = 4,          /* contacts of a basic solution: 2 mass and 2 foot equations */
    PIVOTS_MAX = 20000, /* a run takes 10 to 30 */
    PATIENCE = 40,      /* pivots without progress before Bland's rule, which cannot cycle */
    TURNS_MAX = 200     /* a run takes 2 to 4 */
};

/* ---- frames ---- */

typedef struct frame {
    double e1[3], e2[3], e3[3];
} frame;

/* Right-handed orthonormal frame about e3 (Duff et al., J. Computer Graphics Techniques 6 (2017)
 * 1): no division near zero whatever the direction. */
static frame frame_about(const double normal[3])
{
    double x = normal[0], y = normal[1], z = normal[2];
    double sign = copysign(1, z), a = -1 / (sign + z), b = x * y * a;
    return (frame){
        {1 + sign * x * x * a, sign * b, -sign * x}, {b, sign + y * y * a, -y}, {x, y, z}};
}

static void project(const pp_zone_cloud *cloud, const frame *f, pp_zone_work *work)
{
    const double *x = cloud->x, *y = cloud->y, *z = cloud->z;
    double *u = work->u, *v = work->v, *h = work->h;
    for (size_t i = 0; i < cloud->count; i++) {
        u[i] = f->e1[0] * x[i] + f->e1[1] * y[i] + f->e1[2] * z[i];
        v[i] = f->e2[0] * x[i] + f->e2[1] * y[i] + f->e2[2] * z[i];
        h[i] = f->e3[0] * x[i] + f->e3[1] * y[i] + f->e3[2] * z[i];
    }
}

static void tilt(const frame *f, double a, double b, double normal[3])
{
    double length = sqrt(1 + a * a + b * b);
    for (int k = 0; k < 3; k++) normal[k] = (f->e3[k] - a * f->e1[k] - b * f->e2[k]) / length;
    double again = sqrt(normal[0] * normal[0] + normal[1] * normal[1] + normal[2] * normal[2]);
    for (int k = 0; k < 3; k++) normal[k] /= again;
}

/* ---- the exchange ---- */

typedef struct exchange {
    const pp_zone_cloud *cloud;
    const pp_zone_work *work;
    pp_witness basis[BASIS];
    double factor[BASIS * BASIS];
    int pivots[BASIS];
    double weight[BASIS];     /* of the basis: >= 0 */
    double top, bottom, a, b; /* planes h = a u + b v + top, and - bottom below */
} exchange;

/* Constraint column of a point on a side: masses above and below, feet in units of the radius. */
static void column_of(const exchange *s, pp_witness w, double column[BASIS])
{
    double scale = w.side / s->cloud->radius;
    column[0] = w.side > 0;
    column[1] = w.side < 0;
    column[2] = s->work->u[w.index] * scale;
    column[3] = s->work->v[w.index] * scale;
}

/* Weights and planes of the basis. */
static pp_status solve_basis(exchange *s, pp_error *error)
{
    double transposed[BASIS * BASIS], price[BASIS], weight[BASIS] = {1, 1, 0, 0};
    int transposed_pivots[BASIS];
    for (int k = 0; k < BASIS; k++) {
        column_of(s, s->basis[k], s->factor + BASIS * k);
        for (int i = 0; i < BASIS; i++) transposed[BASIS * i + k] = s->factor[BASIS * k + i];
        price[k] = s->basis[k].side * s->work->h[s->basis[k].index];
    }
    PP_TRY(pp_lu_factor(BASIS, s->factor, BASIS, s->pivots, error));
    PP_TRY(pp_lu_solve(BASIS, s->factor, BASIS, s->pivots, 1, weight, BASIS, error));
    PP_TRY(pp_lu_factor(BASIS, transposed, BASIS, transposed_pivots, error));
    PP_TRY(pp_lu_solve(BASIS, transposed, BASIS, transposed_pivots, 1, price, BASIS, error));
    memcpy(s->weight, weight, sizeof weight);
    s->top = price[0], s->bottom = price[1];
    s->a = price[2] / s->cloud->radius, s->b = price[3] / s->cloud->radius;
    return PP_OK;
}

static void residuals(const exchange *s, size_t begin, size_t count, double *r)
{
    const double *u = s->work->u + begin, *v = s->work->v + begin, *h = s->work->h + begin;
    const double a = s->a, b = s->b;
    for (size_t i = 0; i < count; i++) r[i] = h[i] - (a * u[i] + b * v[i]);
}

/* The point farthest outside the planes, above or below; *beyond: by how much. */
static pp_witness farthest_outside(const exchange *s, double *beyond)
{
    _Alignas(64) double r[PP_PASS_BLOCK];
    pp_witness found = {0, 1};
    *beyond = -INFINITY;
    for (size_t begin = 0; begin < s->cloud->count; begin += PP_PASS_BLOCK) {
        size_t rest = s->cloud->count - begin;
        size_t count = rest < PP_PASS_BLOCK ? rest : PP_PASS_BLOCK;
        residuals(s, begin, count, r);
        pp_pass_extremes e = pp_pass_block_extremes(r, count);
        if (e.highest - s->top > *beyond) {
            *beyond = e.highest - s->top;
            found = (pp_witness){begin + pp_pass_find(r, e.highest), 1};
        }
        if (-e.lowest - s->bottom > *beyond) {
            *beyond = -e.lowest - s->bottom;
            found = (pp_witness){begin + pp_pass_find(r, e.lowest), -1};
        }
    }
    return found;
}

/* Bland's entering rule: the first point outside, upper side first. */
static pp_witness first_outside(const exchange *s, double *beyond)
{
    for (int side = 1; side >= -1; side -= 2)
        for (size_t i = 0; i < s->cloud->count; i++) {
            double r;
            residuals(s, i, 1, &r);
            *beyond = side > 0 ? r - s->top : -r - s->bottom;
            if (*beyond > s->cloud->noise) return (pp_witness){i, side};
        }
    *beyond = 0;
    return (pp_witness){0, 1};
}

static bool earlier(pp_witness p, pp_witness q)
{
    return p.side > q.side || (p.side == q.side && p.index < q.index);
}

/* Which of the basis the entering point drives out: the first weight to reach 0. Of several, the
 * one with the largest pivot (or the first in order, under Bland's rule). -1: none. */
static int leaving(const exchange *s, const double step[BASIS], bool bland)
{
    const double least_pivot = 1e-11, tie = 1e-13; /* weights and columns are of order 1 */
    double smallest = INFINITY;
    for (int k = 0; k < BASIS; k++)
        if (step[k] > least_pivot) smallest = fmin(smallest, fmax(s->weight[k], 0) / step[k]);
    int out = -1;
    for (int k = 0; k < BASIS; k++) {
        if (step[k] <= least_pivot || fmax(s->weight[k], 0) / step[k] > smallest + tie) continue;
        if (out < 0 || (bland ? earlier(s->basis[k], s->basis[out]) : step[k] > step[out])) out = k;
    }
    return out;
}

static pp_status not_settled(pp_error *error)
{
    return pp_fail(error, PP_ENUMERIC,
                   "the minimum zone did not settle; please report the survey, and judge on the "
                   "least-squares plane meanwhile");
}

/* Exchange points until none lies outside the planes of the basis. */
static pp_status run_exchange(exchange *s, pp_error *error)
{
    double width = -INFINITY;
    int idle = 0;
    for (int pivot = 0; pivot < PIVOTS_MAX; pivot++) {
        PP_TRY(solve_basis(s, error));
        idle = s->top + s->bottom > width ? 0 : idle + 1;
        width = fmax(width, s->top + s->bottom);
        bool bland = idle > PATIENCE;
        double beyond, step[BASIS];
        pp_witness entering = bland ? first_outside(s, &beyond) : farthest_outside(s, &beyond);
        if (beyond <= s->cloud->noise) return PP_OK;
        column_of(s, entering, step);
        PP_TRY(pp_lu_solve(BASIS, s->factor, BASIS, s->pivots, 1, step, BASIS, error));
        int out = leaving(s, step, bland);
        if (out < 0) return not_settled(error);
        s->basis[out] = entering;
    }
    return not_settled(error);
}

static double cross(double ux, double uy, double vx, double vy) { return ux * vy - uy * vx; }

/* A wide triangle of feet: the farthest from the origin, the farthest from it, the farthest from
 * their line. False when there is none. */
static bool wide_triangle(const pp_zone_cloud *cloud, const pp_zone_work *work, size_t corner[3])
{
    const double *u = work->u, *v = work->v;
    double best = -1;
    for (size_t i = 0; i < cloud->count; i++) {
        double d = u[i] * u[i] + v[i] * v[i];
        if (d > best) best = d, corner[0] = i;
    }
    const double u0 = u[corner[0]], v0 = v[corner[0]];
    best = -1;
    for (size_t i = 0; i < cloud->count; i++) {
        double du = u[i] - u0, dv = v[i] - v0, d = du * du + dv * dv;
        if (d > best) best = d, corner[1] = i;
    }
    double length = sqrt(best);
    const double u1 = u[corner[1]] - u0, v1 = v[corner[1]] - v0;
    best = -1;
    for (size_t i = 0; i < cloud->count; i++) {
        double d = fabs(cross(u1, v1, u[i] - u0, v[i] - v0));
        if (d > best) best = d, corner[2] = i;
    }
    return best > 2 * cloud->noise * length;
}

/* Begin with width 0: one corner of the triangle on both sides, the others without weight. */
static void start_basis(exchange *s, const size_t corner[3])
{
    s->basis[0] = (pp_witness){corner[0], 1};
    s->basis[1] = (pp_witness){corner[0], -1};
    s->basis[2] = (pp_witness){corner[1], 1};
    s->basis[3] = (pp_witness){corner[2], 1};
}

/* ---- contacts and their guard ---- */

static int compare_feet(const void *left, const void *right)
{
    const pp_zone_foot *p = left, *q = right;
    if (p->u != q->u) return p->u < q->u ? -1 : 1;
    return (p->v > q->v) - (p->v < q->v);
}

static double turn(pp_zone_foot a, pp_zone_foot b, pp_zone_foot c)
{
    return cross(b.u - a.u, b.v - a.v, c.u - a.u, c.v - a.v);
}

/* One chain of the convex hull (Andrew's monotone chain) of sorted feet, appended to hull. */
static size_t hull_chain(const pp_zone_foot *feet, size_t count, bool backwards, pp_zone_foot *hull)
{
    size_t n = 0;
    for (size_t k = 0; k < count; k++) {
        pp_zone_foot p = feet[backwards ? count - 1 - k : k];
        while (n >= 2 && turn(hull[n - 2], hull[n - 1], p) <= 0) n--;
        hull[n++] = p;
    }
    return n;
}

/* Largest reach of V over U in direction d. */
static double reach(const pp_zone_foot *u, size_t nu, const pp_zone_foot *v, size_t nv, double du,
                    double dv)
{
    double far_v = -INFINITY, near_u = INFINITY;
    for (size_t i = 0; i < nv; i++) far_v = fmax(far_v, du * v[i].u + dv * v[i].v);
    for (size_t i = 0; i < nu; i++) near_u = fmin(near_u, du * u[i].u + dv * u[i].v);
    return far_v - near_u;
}

/* Least support of hull{q_j - q_i} so far, and its direction. */
typedef struct support {
    double least, du, dv;
} support;

/* Supports square to the edges of one hull, either way. */
static void edge_supports(const pp_zone_foot *edges, size_t n, const pp_zone_foot *u, size_t nu,
                          const pp_zone_foot *v, size_t nv, support *s)
{
    for (size_t i = 0; n > 1 && i < n; i++) {
        pp_zone_foot p = edges[i], q = edges[(i + 1) % n];
        double length = hypot(q.u - p.u, q.v - p.v);
        if (length == 0) continue;
        for (int sense = 1; sense >= -1; sense -= 2) {
            double du = sense * (q.v - p.v) / length, dv = sense * (p.u - q.u) / length;
            double least = reach(u, nu, v, nv, du, dv);
            if (least < s->least) *s = (support){least, du, dv};
        }
    }
}

/* Sorted feet of the points within reach of a side's plane; returns how many. */
static size_t gather_contacts(const pp_zone_cloud *cloud, const pp_zone_work *work, double level,
                              pp_zone_foot *feet)
{
    size_t n = 0;
    for (size_t i = 0; i < cloud->count; i++)
        if (fabs(work->h[i] - level) <= cloud->blur)
            feet[n++] = (pp_zone_foot){work->u[i], work->v[i]};
    qsort(feet, n, sizeof *feet, compare_feet);
    return n;
}

/* Hull of sorted feet, put behind them (room for 3n); *n becomes its size. */
static const pp_zone_foot *hull_of(pp_zone_foot *feet, size_t *n)
{
    pp_zone_foot *hull = feet + *n;
    size_t lower = hull_chain(feet, *n, false, hull);
    size_t upper = hull_chain(feet, *n, true, hull + lower - 1);
    *n = *n == 1 ? 1 : lower + upper - 2;
    return hull;
}

/* The guard of zone_solver.h and the direction it is found in: the smallest support of
 * hull{q_j - q_i} is square to one of its edges, and those are edges of the upper or of the lower
 * contacts' hull. One contact above another: no edges, and every direction is level. */
static support guard_of(const pp_zone_cloud *cloud, pp_zone_work *work)
{
    pp_pass_extremes e = {INFINITY, -INFINITY};
    for (size_t i = 0; i < cloud->count; i++) {
        e.lowest = fmin(e.lowest, work->h[i]);
        e.highest = fmax(e.highest, work->h[i]);
    }
    size_t nu = gather_contacts(cloud, work, e.highest, work->upper);
    size_t nv = gather_contacts(cloud, work, e.lowest, work->lower);
    const pp_zone_foot *u = hull_of(work->upper, &nu), *v = hull_of(work->lower, &nv);
    support s = {INFINITY, 1, 0};
    edge_supports(u, nu, u, nu, v, nv, &s);
    edge_supports(v, nv, u, nu, v, nv, &s);
    s.least = isfinite(s.least) ? fmax(s.least, 0) : 0;
    return s;
}

/* ---- descent ---- */

pp_status pp_zone_work_take(size_t room, pp_arena *arena, pp_zone_work *work, pp_error *error)
{
    pp_zone_work w = {.room = room};
    PP_TAKE(w.u, arena, room);
    PP_TAKE(w.v, arena, room);
    PP_TAKE(w.h, arena, room);
    PP_TAKE(w.upper, arena, 3 * room + 2);
    PP_TAKE(w.lower, arena, 3 * room + 2);
    PP_TAKE(w.order[0], arena, room);
    PP_TAKE(w.order[1], arena, room);
    *work = w;
    return PP_OK;
}

static int compare_witness(const void *left, const void *right)
{
    const pp_witness *p = left, *q = right;
    return earlier(*q, *p) - earlier(*p, *q);
}

static void flat_fit(const size_t corner[3], pp_zone_fit *fit)
{
    fit->flat = true;
    fit->width = 0;
    fit->witness_count = 3;
    for (int k = 0; k < 3; k++) fit->witness[k] = (pp_witness){corner[k], 1};
    qsort(fit->witness, 3, sizeof *fit->witness, compare_witness);
}

static bool same_basis(const pp_witness *p, const pp_witness *q)
{
    for (int k = 0; k < BASIS; k++)
        if (p[k].index != q[k].index || p[k].side != q[k].side) return false;
    return true;
}

/* Flatness and guard of the plane reached, seen in its own frame; and the direction to nudge to. */
static void finish(const pp_zone_cloud *cloud, const size_t corner[3], pp_zone_work *work,
                   pp_zone_fit *fit, double nudged[3])
{
    const double nudge = 1e-6; /* rad: any small turn does */
    frame f = frame_about(fit->normal);
    project(cloud, &f, work);
    if (fit->width <= 4 * cloud->noise) {
        flat_fit(corner, fit);
        return;
    }
    support s = guard_of(cloud, work);
    fit->guard = s.least;
    tilt(&f, nudge * s.du, nudge * s.dv, nudged);
}

/* Solve and turn until the contacts stay. */
static pp_status turn_until_still(const pp_zone_cloud *cloud, const double normal[3],
                                  pp_zone_work *work, pp_zone_fit *fit, double nudged[3],
                                  pp_error *error)
{
    const double still = 1e-13, settled = 1e-6; /* slopes; the second with the same contacts */
    exchange s = {.cloud = cloud, .work = work};
    pp_zone_fit done = {.witness_count = BASIS};
    memcpy(done.normal, normal, sizeof done.normal);
    for (int round = 0; round < TURNS_MAX; round++) {
        frame f = frame_about(done.normal);
        project(cloud, &f, work);
        size_t corner[3] = {0};
        if (!wide_triangle(cloud, work, corner)) {
            fit->seen_as_line = true;
            return PP_OK;
        }
        start_basis(&s, corner);
        PP_TRY(run_exchange(&s, error));
        qsort(s.basis, BASIS, sizeof *s.basis, compare_witness);
        bool same = round > 0 && same_basis(s.basis, done.witness);
        memcpy(done.witness, s.basis, sizeof s.basis);
        double slope = hypot(s.a, s.b);
        done.width = (s.top + s.bottom) / sqrt(1 + slope * slope);
        tilt(&f, s.a, s.b, done.normal);
        if (slope > still && !(same && slope < settled)) continue;
        finish(cloud, corner, work, &done, nudged);
        *fit = done;
        return PP_OK;
    }
    return not_settled(error);
}

pp_status pp_zone_descend(const pp_zone_cloud *cloud, const double normal[3], pp_zone_work *work,
                          pp_zone_fit *fit, pp_error *error)
{
    const double level = 1e-9; /* of the radius: a smaller guard is none */
    pp_zone_fit found = {0};
    double nudged[3];
    PP_TRY(turn_until_still(cloud, normal, work, &found, nudged, error));
    while (!found.seen_as_line && !found.flat && found.guard <= level * cloud->radius) {
        pp_zone_fit next = {0};
        PP_TRY(turn_until_still(cloud, nudged, work, &next, nudged, error));
        if (next.seen_as_line || !(next.width < found.width - cloud->noise)) break;
        found = next;
    }
    *fit = found;
    return PP_OK;
}

#include "stack/bench.h"

#include <math.h>
#include <string.h>

#include "linalg/linalg.h"

enum { POINT, FOOT, SLOPE_X, SLOPE_Y, PROBES };
static const double SNAP = 1e-3; /* of a cell: a hole so near a contact point is that point */

size_t pp_bench_bytes(const pp_stack_pile *pile)
{
    size_t n = pile->count + pile->layers, columns = pile->layers + 1 + PP_BENCH_SLOPES;
    return sizeof(double) * (2 * n * n + 3 * n * columns * PP_BENCH_BLOCK);
}

/* The base at rest with room for the hole's places behind the others, which stay untouching. */
static pp_status extend_base(const pp_contact_base *from, size_t more, pp_arena *arena,
                             pp_contact_base *to, pp_error *error)
{
    size_t n = from->count, m = n + more;
    pp_contact_base b = *from;
    b.count = m;
    PP_TAKE(b.order, arena, m);
    PP_TAKE(b.p, arena, m * m);
    PP_TAKE(b.v, arena, m);
    memcpy(b.order, from->order, n * sizeof *b.order);
    memcpy(b.v, from->v, n * sizeof *b.v);
    for (size_t j = 0; j < n; j++) memcpy(b.p + j * m, from->p + j * n, n * sizeof *b.p);
    for (size_t k = n; k < m; k++) b.order[k] = (uint32_t)k;
    *to = b;
    return PP_OK;
}

/* Room for the columns of a block of holes */
static pp_status take_columns(pp_bench *b, pp_arena *arena, pp_error *error)
{
    size_t n = b->pile->count, rigid = 3 * b->pile->layers, all = b->columns * PP_BENCH_BLOCK;
    PP_TAKE(b->g, arena, n * all);
    PP_TAKE(b->rigid, arena, rigid * all);
    PP_TAKE(b->d, arena, n * all);
    PP_TAKE(b->motion, arena, rigid * all);
    PP_TAKE(b->columns_work, arena, b->rest->base.active * PP_BENCH_BLOCK);
    PP_TAKE(b->influence, arena, b->pile->ground->points.count * PROBES);
    return PP_OK;
}

/* Which of the base's touching places are of which interface: they stand in the points' order. */
static void part_touching(const pp_contact_base *base, const pp_stack_pile *pile, size_t *touching)
{
    size_t j = 0;
    for (size_t k = 0; k <= pile->layers; k++) {
        while (j < base->active && base->order[j] < pile->begin[k]) j++;
        touching[k] = j;
    }
}

pp_status pp_bench_take(const pp_stack_pile *pile, const pp_stack_rest *rest, pp_arena *arena,
                        pp_bench *bench, pp_error *error)
{
    size_t n = pile->count, layers = pile->layers;
    pp_bench b = {.pile = pile, .rest = rest, .columns = layers + 1 + PP_BENCH_SLOPES};
    PP_TRY(take_columns(&b, arena, error));
    PP_TAKE(b.d_foot, arena, n + layers);
    PP_TAKE(b.d_place, arena, (n + layers) * layers);
    PP_TAKE(b.d_slope, arena, (n + layers) * PP_BENCH_SLOPES);
    for (size_t s = 0; s < PP_BENCH_STARTS; s++) PP_TAKE_ZERO(b.start[s], arena, n + layers);
    PP_TRY(extend_base(&rest->base, layers, arena, &b.base, error));
    PP_TRY(pp_contact_work_take(n + layers, arena, &b.work, error));
    part_touching(&rest->base, pile, b.touching);
    *bench = b;
    return PP_OK;
}

/* Columns ------------------------------------------------------------------------------ */

/* Put scale times a place's influence on the points of interface k into a column. */
static void put(const pp_stack_pile *p, size_t k, double scale, const double *influence,
                double *column)
{
    const double *from = influence + p->first_point[k];
    double *to = column + p->begin[k];
    for (size_t i = 0; i < p->begin[k + 1] - p->begin[k]; i++) to[i] = scale * from[i];
}

/* A force or probe on the top layer: it moves against every rigid motion below it. */
static void put_on_top(const pp_stack_pile *p, const pp_probe *probe, const double *influence,
                       double *column, double *rigid)
{
    size_t top = p->layers - 1;
    put(p, top, 1 / p->rigidity[top], influence, column);
    for (size_t k = 0; k < p->layers; k++) memcpy(rigid + 3 * k, probe->rigid, 3 * sizeof *rigid);
}

static void put_pair(const pp_stack_pile *p, size_t k, const pp_probe *probe,
                     const double *influence, double *column, double *rigid)
{
    size_t first = k ? k - 1 : 0, last = k + 1 < p->layers ? k + 1 : k;
    for (size_t l = first; l <= last; l++) put(p, l, pp_stack_coupling(p, l, k), influence, column);
    memcpy(rigid + 3 * k, probe->rigid, 3 * sizeof *rigid);
}

/* What one column of every hole of a block touches: a pair's force three interfaces and the rigid
 * motion of its own, one on the top layer that layer's interface and all motions. */
typedef struct column_reach {
    size_t first, rows;     /* of the base's touching places */
    size_t motion, motions; /* of the rigid motions */
} column_reach;

static column_reach reach_of(const pp_bench *b, size_t c)
{
    size_t layers = b->pile->layers, k = c < layers ? c : layers - 1;
    size_t lowest = c < layers && k ? k - 1 : k, highest = k + 1 < layers ? k + 1 : k;
    column_reach r = {.first = b->touching[lowest], .motions = 3 * layers};
    r.rows = b->touching[highest + 1] - r.first;
    if (c < layers) r.motion = 3 * k, r.motions = 3;
    return r;
}

/* pp_contact_columns for column c of each hole of the block, without all that is nought there. */
static void bring_column(pp_bench *b, size_t c, size_t count)
{
    const pp_contact_base *base = &b->rest->base;
    size_t m = base->count, rigid = base->rigid, apart = m * b->columns, far = rigid * b->columns;
    const column_reach r = reach_of(b, c);
    double *g_a = b->columns_work, *d = b->d + m * c, *motion = b->motion + rigid * c;
    const double *rows = b->rigid + rigid * c + r.motion;
    for (size_t h = 0; h < count; h++) {
        const double *from = b->g + m * c + apart * h;
        double *to = d + apart * h;
        for (size_t j = 0; j < base->active; j++) to[j] = -base->eps * from[base->order[j]];
        for (size_t j = base->active; j < m; j++) to[j] = -from[base->order[j]];
        for (size_t j = 0; j < r.rows; j++) g_a[h * r.rows + j] = from[base->order[r.first + j]];
    }
    pp_matrix_multiply(0, 0, m, count, r.rows, 1, base->p + m * r.first, m, g_a, r.rows, 1, d,
                       apart);
    pp_matrix_multiply(0, 0, m, count, r.motions, 1, base->zv + m * r.motion, m, rows, far, 1, d,
                       apart);
    pp_matrix_multiply(1, 0, rigid, count, r.rows, 1, base->zv + r.first, m, g_a, r.rows, 0, motion,
                       far);
    pp_matrix_multiply(0, 0, rigid, count, r.motions, -1, base->q + rigid * r.motion, rigid, rows,
                       far, 1, motion, far);
}

void pp_bench_look(pp_bench *b, size_t count, const double *x, const double *y, pp_probe *probes)
{
    const pp_stack_pile *p = b->pile;
    const pp_stack_ground *g = p->ground;
    size_t n = p->count, layers = p->layers, rigid = 3 * layers, points = g->points.count;
    memset(b->g, 0, n * b->columns * count * sizeof *b->g);
    memset(b->rigid, 0, rigid * b->columns * count * sizeof *b->rigid);
    for (size_t h = 0; h < count; h++) {
        pp_probe *of = probes + PROBES * h;
        pp_probe_point(&g->compliance, x[h], y[h], 0, 0, &of[POINT]);
        pp_probe_ring(&g->compliance, x[h], y[h], g->spec.foot_radius, &of[FOOT]);
        pp_probe_point(&g->compliance, x[h], y[h], 1, 0, &of[SLOPE_X]);
        pp_probe_point(&g->compliance, x[h], y[h], 0, 1, &of[SLOPE_Y]);
        for (int l = 0; l < PROBES; l++)
            pp_influence_probe(&g->influence, &of[l], b->influence + (size_t)l * points);
        double *column = b->g + n * b->columns * h, *r = b->rigid + rigid * b->columns * h;
        for (size_t k = 0; k < layers; k++)
            put_pair(p, k, &of[POINT], b->influence, column + n * k, r + rigid * k);
        for (size_t l = 0; l < 3; l++)
            put_on_top(p, &of[FOOT + l], b->influence + (FOOT + l) * points,
                       column + n * (layers + l), r + rigid * (layers + l));
    }
    for (size_t c = 0; c < b->columns; c++) bring_column(b, c, count);
}

/* One hole ------------------------------------------------------------------------------ */

/* Is there a contact point of interface k just there? */
static bool on_point(const pp_stack_pile *p, size_t k, double x, double y)
{
    const pp_supports *points = &p->ground->points;
    double near = SNAP * fmin(p->ground->mesh->hx, p->ground->mesh->hy);
    size_t first = p->first_point[k], count = p->begin[k + 1] - p->begin[k];
    for (size_t i = first; i < first + count; i++)
        if (fabs(points->x[i] - x) < near && fabs(points->y[i] - y) < near) return true;
    return false;
}

typedef struct entering {
    pp_bench *b;
    const double *g, *rigid, *d, *motion; /* of this hole's columns */
} entering;

/* -(compliance) between column i as a probe and column j as a force, contact as in the base */
static double flexibility(const entering *e, size_t i, size_t j, double direct)
{
    const pp_stack_pile *p = e->b->pile;
    size_t n = p->count, rigid = 3 * p->layers;
    return pp_contact_flexibility(&e->b->rest->base, direct, e->g + n * i, e->rigid + rigid * i,
                                  e->d + n * j, e->motion + rigid * j);
}

/* Rows and columns N.. of P: of places that are contacts; else of such that never are. */
static void put_places(pp_bench *b)
{
    pp_contact_base *base = &b->base;
    size_t m = base->count, n = b->pile->count, layers = b->pile->layers;
    const double *d = b->d_place;
    for (size_t k = 0; k < layers; k++) {
        double *column = base->p + (n + k) * m;
        bool contact = b->contact[k];
        for (size_t j = 0; j < n; j++) column[j] = contact ? -d[m * k + j] : 0;
        for (size_t l = 0; l < layers; l++)
            column[n + l] = contact && b->contact[l] ? -d[m * k + n + l] : 0;
        if (!contact) column[n + k] = 1;
        base->v[n + k] = contact ? b->at_rest[k] : 1;
    }
    for (size_t j = 0; j < n; j++) { /* their rows, column by column: they lie side by side there */
        double *row = base->p + j * m + n;
        for (size_t k = 0; k < layers; k++)
            row[k] = !b->contact[k] ? 0 : j < base->active ? d[m * k + j] : -d[m * k + j];
    }
}

static double base_gap(const entering *e, size_t k, double free_gap)
{
    const pp_contact_base *base = &e->b->rest->base;
    size_t n = e->b->pile->count, rigid = 3 * e->b->pile->layers;
    const double *g = e->g + n * k, *r = e->rigid + rigid * k;
    for (size_t j = 0; j < base->active; j++) free_gap += g[base->order[j]] * base->v[j];
    for (size_t l = 0; l < rigid; l++) free_gap += r[l] * base->motion[l];
    return free_gap;
}

void pp_bench_enter(pp_bench *b, size_t h, double x, double y, const pp_probe *probes)
{
    const pp_stack_pile *p = b->pile;
    const pp_compliance *c = &p->ground->compliance;
    size_t n = p->count, layers = p->layers, m = n + layers, rigid = 3 * layers, foot = layers;
    const pp_probe *of = probes + PROBES * h;
    size_t first = b->columns * h;
    entering e = {b, b->g + n * first, b->rigid + rigid * first, b->d + n * first,
                  b->motion + rigid * first};
    double own = pp_probe_between(c, &of[POINT], &of[POINT]), top = 1 / p->rigidity[layers - 1];
    double to_foot = pp_probe_between(c, &of[POINT], &of[FOOT]) * top;
    memcpy(b->d_foot, e.d + n * foot, n * sizeof *b->d_foot);
    for (size_t k = 0; k < layers; k++) {
        double *d = b->d_place + m * k;
        memcpy(d, e.d + n * k, n * sizeof *d);
        for (size_t l = 0; l < layers; l++)
            d[n + l] = flexibility(&e, l, k, own * pp_stack_coupling(p, l, k));
        b->contact[k] = (k > 0 || p->ground->table) && !on_point(p, k, x, y);
        b->at_rest[k] = base_gap(&e, k, pp_stack_free_gap(p, k, x, y));
        b->give[k] = flexibility(&e, k, foot, k + 1 == layers ? to_foot : 0);
        b->d_foot[n + k] = b->contact[k] ? b->give[k] : 0;
    }
    for (size_t s = 0; s < PP_BENCH_SLOPES; s++) {
        double *d = b->d_slope + m * s;
        const pp_probe *slope = &of[SLOPE_X + s];
        double direct = pp_probe_between(c, slope, &of[POINT]) * top;
        memcpy(d, e.d + n * (foot + 1 + s), n * sizeof *d);
        for (size_t k = 0; k < layers; k++)
            d[n + k] = flexibility(&e, foot + 1 + s, k, k + 1 == layers ? direct : 0);
        b->slope_give[s] =
            flexibility(&e, foot + 1 + s, foot, pp_probe_between(c, slope, &of[FOOT]) * top);
    }
    put_places(b);
    pp_contact_factor_begin(&b->work.factor); /* its rows of P are new */
}

/* Solving ------------------------------------------------------------------------------ */

void pp_bench_begin(pp_bench *b, double force)
{
    for (size_t s = 0; s < PP_BENCH_STARTS; s++)
        memset(b->start[s], 0, b->base.count * sizeof *b->start[s]);
    b->close_force[0] = b->close_force[1] = force;
}

void pp_bench_start_like(pp_bench *b, pp_bench_start start, pp_bench_start like)
{
    memcpy(b->start[start], b->start[like], b->base.count * sizeof *b->start[start]);
}

pp_status pp_bench_solve(pp_bench *b, double force, pp_bench_start from, pp_error *error)
{
    size_t n = b->pile->count, size = b->base.count * sizeof(bool);
    bool found, *start = b->start[from];
    double larger = 1 + force / b->pile->total_weight; /* what is idle grows with the forces */
    b->base.tiny_force = b->rest->base.tiny_force * larger;
    b->base.tiny_gap = b->rest->base.tiny_gap * larger;
    memcpy(b->work.changed, start, size);
    for (size_t k = 0; k < b->pile->layers; k++)
        if (!b->contact[k]) b->work.changed[n + k] = false;
    PP_TRY(pp_contact_try(&b->base, b->d_foot, force, &b->work, &found, error));
    if (!found) { /* from a base with negative places there is no path */
        b->fallbacks++;
        PP_TRY(pp_contact_pivot(&b->base, b->d_foot, force, &b->work, error));
    }
    memcpy(start, b->work.changed, size);
    return PP_OK;
}

double pp_bench_gap(const pp_bench *b, size_t k, double force)
{
    const double *d = b->d_place + b->base.count * k;
    return b->at_rest[k] + force * b->give[k] + pp_contact_probe(&b->base, &b->work, d);
}

double pp_bench_slope(const pp_bench *b, int axis, double force)
{
    const double *d = b->d_slope + b->base.count * (size_t)axis;
    return force * b->slope_give[axis] + pp_contact_probe(&b->base, &b->work, d);
}

pp_status pp_bench_line(pp_bench *b, size_t k, pp_contact_straight *line, pp_error *error)
{
    const pp_contact_probed probe = {b->d_place + b->base.count * k, b->at_rest[k], b->give[k]};
    return pp_contact_line(&b->base, b->d_foot, &probe, &b->work, line, error);
}

#include "zone/smallest.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <string.h>

#include "base/constants.h"
#include "base/parallel.h"
#include "zone/angle.h"

enum {
    HOLES_PER_PART = 16384, /* a part's arrays fit the cache */
    STRIP = 256,            /* holes whose values are computed together */
    SECTORS = 8,
    WORST_PER_SECTOR = 3,
    WORST = SECTORS * WORST_PER_SECTOR,
    WORKING_SET_MAX = 4096, /* a few dozen are usual */
    PASSES_MAX = WORKING_SET_MAX
};
static const double EXTENT_OF_GAP = 1e4; /* mm: coordinates up to here keep the gap as stated */

/* The frame in which all is computed: both lists about their centroids, the measured one turned by
 * the least-squares angle, so that what is left is small. */
typedef struct frame {
    double mx, my, nx, ny;
    double cosine, sine;
} frame;

typedef struct worst_list { /* by sector, falling value, lower index first among equals */
    int count[SECTORS];
    size_t item[SECTORS][WORST_PER_SECTOR];
    double value[SECTORS][WORST_PER_SECTOR];
} worst_list;

typedef struct part_sums {
    double m[2], n[2];         /* about the first hole */
    double dot, cross, extent; /* sums of m.n and m x n; largest coordinate about it */
} part_sums;

typedef struct part_result {
    part_sums sums;
    worst_list worst;
    double largest, moved;
} part_result;

typedef struct passes {
    const pp_zone_problem *problem;
    size_t parts;
    part_result *result; /* [parts] */
    frame frame;
    pp_zone_turn turn; /* placement looked at, on top of the frame */
    double x, y;
    double above; /* only holes beyond this value are listed */
} passes;

/* --- the least-squares frame -------------------------------------------------------------- */

static pp_status sum_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    passes *p = context;
    const pp_zone_problem *q = p->problem;
    part_sums s = {0};
    size_t end = pp_part_begin(q->count, p->parts, part + 1);
    for (size_t i = pp_part_begin(q->count, p->parts, part); i < end; i++) {
        double mx = q->mx[i] - q->mx[0], my = q->my[i] - q->my[0];
        double nx = q->nx[i] - q->nx[0], ny = q->ny[i] - q->ny[0];
        s.m[0] += mx, s.m[1] += my, s.n[0] += nx, s.n[1] += ny;
        s.dot += mx * nx + my * ny;
        s.cross += mx * ny - my * nx;
        s.extent = fmax(s.extent, fmax(fmax(fabs(mx), fabs(my)), fmax(fabs(nx), fabs(ny))));
    }
    p->result[part].sums = s;
    return PP_OK;
}

static pp_status find_frame(passes *p, int threads, double *extent, pp_error *error)
{
    PP_TRY(pp_parallel(threads, p->parts, sum_part, p, error));
    part_sums s = {0};
    for (size_t k = 0; k < p->parts; k++) {
        const part_sums *t = &p->result[k].sums;
        for (int c = 0; c < 2; c++) s.m[c] += t->m[c], s.n[c] += t->n[c];
        s.dot += t->dot, s.cross += t->cross;
        s.extent = fmax(s.extent, t->extent);
    }
    const pp_zone_problem *q = p->problem;
    double count = (double)q->count;
    double mx = s.m[0] / count, my = s.m[1] / count, nx = s.n[0] / count, ny = s.n[1] / count;
    double dot = s.dot - count * (mx * nx + my * ny);
    double cross = s.cross - count * (mx * ny - my * nx);
    double length = hypot(dot, cross);
    /* moments that are only rounding (one hole, or all in one place) tell no angle */
    bool turns = length > 1e-14 * count * s.extent * s.extent;
    p->frame = (frame){q->mx[0] + mx,
                       q->my[0] + my,
                       q->nx[0] + nx,
                       q->ny[0] + ny,
                       turns ? dot / length : 1,
                       turns ? cross / length : 0};
    *extent = s.extent;
    return PP_OK;
}

static pp_zone_hole in_frame(const passes *p, size_t i)
{
    const pp_zone_problem *q = p->problem;
    const frame *f = &p->frame;
    double x = q->mx[i] - f->mx, y = q->my[i] - f->my;
    double mx = f->cosine * x - f->sine * y, my = f->sine * x + f->cosine * y;
    return (pp_zone_hole){mx, my, mx - (q->nx[i] - f->nx), my - (q->ny[i] - f->ny),
                          q->allowance ? q->allowance[i] : 0};
}

/* --- a pass over all holes at one placement ----------------------------------------------- */

static void keep_worst(worst_list *list, int sector, size_t item, double value)
{
    int at = list->count[sector];
    while (at > 0 && list->value[sector][at - 1] < value) at--;
    if (at == WORST_PER_SECTOR) return;
    if (list->count[sector] < WORST_PER_SECTOR) list->count[sector]++;
    for (int k = list->count[sector] - 1; k > at; k--) {
        list->value[sector][k] = list->value[sector][k - 1];
        list->item[sector][k] = list->item[sector][k - 1];
    }
    list->value[sector][at] = value;
    list->item[sector][at] = item;
}

static int sector_of(double x, double y)
{
    return (x < 0) | (y < 0) << 1 | (fabs(x) < fabs(y)) << 2;
}

/* What a hole must exceed to get onto the list, whatever its sector. */
static double entry_value(const worst_list *list, double above)
{
    double least = INFINITY;
    for (int k = 0; k < SECTORS; k++) {
        if (list->count[k] < WORST_PER_SECTOR) return above;
        least = fmin(least, list->value[k][WORST_PER_SECTOR - 1]);
    }
    return fmax(above, least);
}

typedef struct strip_values {
    double dx[STRIP], dy[STRIP], value[STRIP];
    double largest, moved; /* moved squared */
} strip_values;

/* Residual, value and movement of holes first .. first + count. */
static void look_at_strip(const passes *p, size_t first, size_t count, strip_values *s)
{
    const pp_zone_problem *q = p->problem;
    const frame f = p->frame;
    const double *mx = q->mx + first, *my = q->my + first, *nx = q->nx + first, *ny = q->ny + first;
    const double c1 = p->turn.cosine_less_1, s1 = p->turn.sine, tx = p->x, ty = p->y;
    double moved = 0, largest = -INFINITY;
    for (size_t i = 0; i < count; i++) {
        double x = mx[i] - f.mx, y = my[i] - f.my;
        double ux = f.cosine * x - f.sine * y, uy = f.sine * x + f.cosine * y;
        double vx = ux + (c1 * ux - s1 * uy) + tx, vy = uy + (s1 * ux + c1 * uy) + ty;
        double dx = vx - (nx[i] - f.nx), dy = vy - (ny[i] - f.ny);
        double gx = vx + f.nx - mx[i], gy = vy + f.ny - my[i];
        double far = gx * gx + gy * gy;
        moved = far > moved ? far : moved;
        s->dx[i] = dx, s->dy[i] = dy;
        s->value[i] = sqrt(dx * dx + dy * dy);
    }
    if (q->allowance)
        for (size_t i = 0; i < count; i++) s->value[i] -= q->allowance[first + i];
    for (size_t i = 0; i < count; i++) largest = s->value[i] > largest ? s->value[i] : largest;
    s->largest = largest, s->moved = moved;
}

static pp_status look_at_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    passes *p = context;
    part_result *r = &p->result[part];
    size_t begin = pp_part_begin(p->problem->count, p->parts, part);
    size_t end = pp_part_begin(p->problem->count, p->parts, part + 1);
    r->largest = -INFINITY, r->moved = 0;
    memset(r->worst.count, 0, sizeof r->worst.count);
    strip_values s;
    for (size_t first = begin; first < end; first += STRIP) {
        size_t count = end - first < STRIP ? end - first : STRIP;
        look_at_strip(p, first, count, &s);
        r->largest = fmax(r->largest, s.largest);
        r->moved = fmax(r->moved, s.moved);
        double entry = entry_value(&r->worst, p->above);
        if (!(s.largest > entry)) continue;
        for (size_t i = 0; i < count; i++)
            if (s.value[i] > entry) {
                keep_worst(&r->worst, sector_of(s.dx[i], s.dy[i]), first + i, s.value[i]);
                entry = entry_value(&r->worst, p->above);
            }
    }
    return PP_OK;
}

/* All parts together: the worst holes beyond p->above into *worst. */
static pp_status look(passes *p, int threads, worst_list *worst, double *largest, double *moved,
                      pp_error *error)
{
    PP_TRY(pp_parallel(threads, p->parts, look_at_part, p, error));
    memset(worst, 0, sizeof *worst);
    *largest = -INFINITY;
    double moved_squared = 0;
    for (size_t k = 0; k < p->parts; k++) {
        const part_result *r = &p->result[k];
        *largest = fmax(*largest, r->largest);
        moved_squared = fmax(moved_squared, r->moved);
        for (int c = 0; c < SECTORS; c++)
            for (int i = 0; i < r->worst.count[c]; i++)
                keep_worst(worst, c, r->worst.item[c][i], r->worst.value[c][i]);
    }
    *moved = sqrt(moved_squared);
    return PP_OK;
}

/* --- the working set ---------------------------------------------------------------------- */

typedef struct working_set {
    size_t count;
    size_t item[WORKING_SET_MAX];
    pp_zone_hole hole[WORKING_SET_MAX];
    pp_zone_point point[WORKING_SET_MAX];
    pp_zone_workspace angle;
} working_set;

/* Add those listed that are not in it yet; how many were new. */
static size_t add_worst(working_set *w, const passes *p, const worst_list *worst)
{
    size_t before = w->count;
    for (int c = 0; c < SECTORS; c++)
        for (int k = 0; k < worst->count[c] && w->count < WORKING_SET_MAX; k++) {
            size_t item = worst->item[c][k];
            bool known = false;
            for (size_t i = 0; i < before && !known; i++) known = w->item[i] == item;
            if (known) continue;
            w->item[w->count] = item;
            w->hole[w->count++] = in_frame(p, item);
        }
    return w->count - before;
}

/* --- witnesses ---------------------------------------------------------------------------- */

typedef struct suspects { /* ascending */
    size_t count;
    size_t item[WORKING_SET_MAX];
    pp_zone_hole hole[WORKING_SET_MAX];
} suspects;

static void remove_suspect(suspects *s, size_t at)
{
    s->count--;
    memmove(&s->item[at], &s->item[at + 1], (s->count - at) * sizeof s->item[0]);
    memmove(&s->hole[at], &s->hole[at + 1], (s->count - at) * sizeof s->hole[0]);
}

static void insert_suspect(suspects *s, size_t at, size_t item, const pp_zone_hole *hole)
{
    memmove(&s->item[at + 1], &s->item[at], (s->count - at) * sizeof s->item[0]);
    memmove(&s->hole[at + 1], &s->hole[at], (s->count - at) * sizeof s->hole[0]);
    s->item[at] = item;
    s->hole[at] = *hole;
    s->count++;
}

static void add_suspect(suspects *s, const working_set *w, size_t k)
{
    size_t at = s->count;
    while (at > 0 && s->item[at - 1] > w->item[k]) at--;
    insert_suspect(s, at, w->item[k], &w->hole[k]);
}

/* Do the suspects alone force `bound`? */
static bool suspects_force(const suspects *s, working_set *w, double bound)
{
    pp_zone_optimum alone;
    pp_zone_angle_solve(s->count, s->hole, PP_ZONE_GAP_WANTED, w->point, &w->angle, &alone);
    return alone.bound >= bound;
}

/* Start from the holes that carry the bound (they settle it near its angle), or from the whole
 * working set where other angles need more; leave out one after another, the last in nominal order
 * first, as long as the others alone force the same zone. Three unknowns (a turn, two shifts) leave
 * at most four, unless far angles are in play: a pattern that nearly fits turned otherwise. */
static void find_witnesses(working_set *w, suspects *s, const pp_zone_optimum *best, double slack,
                           pp_smallest_zone *zone)
{
    size_t carrying[3 * PP_ZONE_CUTS_MAX];
    size_t count = pp_zone_angle_support(&w->angle, best, slack, carrying);
    double bound = best->bound - slack;
    s->count = 0;
    for (size_t k = 0; k < count; k++) add_suspect(s, w, carrying[k]);
    if (!suspects_force(s, w, bound)) {
        s->count = 0;
        for (size_t k = 0; k < w->count; k++) add_suspect(s, w, k);
    }
    for (size_t at = s->count; at-- > 0 && s->count > 1;) {
        size_t item = s->item[at];
        pp_zone_hole hole = s->hole[at];
        remove_suspect(s, at);
        if (!suspects_force(s, w, bound)) insert_suspect(s, at, item, &hole);
    }
    zone->witnesses_suffice = s->count <= PP_ZONE_WITNESSES_MAX;
    zone->witness_count = s->count < PP_ZONE_WITNESSES_MAX ? (int)s->count : PP_ZONE_WITNESSES_MAX;
    for (int k = 0; k < zone->witness_count; k++) zone->witness[k] = s->item[k];
}

/* --- the whole ---------------------------------------------------------------------------- */

/* The placement in the frame, as one for the caller's coordinates. */
static void write_placement(const passes *p, pp_smallest_zone *zone)
{
    const frame *f = &p->frame;
    double c1 = p->turn.cosine_less_1, s1 = p->turn.sine;
    double cosine = f->cosine + (c1 * f->cosine - s1 * f->sine);
    double sine = f->sine + (s1 * f->cosine + c1 * f->sine);
    zone->angle = atan2(sine, cosine);
    if (zone->angle <= -PP_PI) zone->angle = PP_PI;
    zone->dx = f->nx + p->x - (cosine * f->mx - sine * f->my);
    zone->dy = f->ny + p->y - (sine * f->mx + cosine * f->my);
}

static pp_status solve(passes *p, int threads, double extent, working_set *w, suspects *s,
                       pp_smallest_zone *zone, pp_error *error)
{
    double scale = fmax(1, extent / EXTENT_OF_GAP);
    double wanted = scale * PP_ZONE_GAP_WANTED, accepted = scale * PP_ZONE_GAP_ACCEPTED;
    worst_list worst;
    pp_zone_optimum best = {.bound = -INFINITY};
    double largest, moved;
    p->turn = pp_zone_turn_of(0);
    p->above = -INFINITY;
    PP_TRY(look(p, threads, &worst, &largest, &moved, error));
    pp_smallest_zone z = {.least_squares_worst = largest, .passes = 1};
    while (add_worst(w, p, &worst) > 0 && z.passes < PASSES_MAX) {
        pp_zone_angle_solve(w->count, w->hole, wanted, w->point, &w->angle, &best);
        z.evaluations += best.evaluations;
        p->turn = best.turn;
        p->x = best.x, p->y = best.y;
        p->above = best.value;
        PP_TRY(look(p, threads, &worst, &largest, &moved, error));
        z.passes++;
    }
    if (!(largest - best.bound <= accepted))
        return pp_fail(error, PP_ENUMERIC,
                       "the smallest zone was found to %.3g mm only, %.3g mm is wanted; are the "
                       "coordinates in millimetre?",
                       largest - best.bound, accepted);
    z.radius = largest;
    z.lower_bound = fmin(best.bound, largest);
    z.moved = moved;
    z.working_set = w->count;
    write_placement(p, &z);
    find_witnesses(w, s, &best, accepted, &z);
    *zone = z;
    return PP_OK;
}

pp_status pp_smallest_zone_solve(const pp_zone_problem *problem, int threads, pp_arena *scratch,
                                 pp_smallest_zone *zone, pp_error *error)
{
    if (problem->count == 0)
        return pp_fail(error, PP_ENOTHING, "no hole to place; give measured holes");
    pp_mark mark = pp_arena_mark(scratch);
    passes p = {.problem = problem, .parts = problem->count / HOLES_PER_PART + 1};
    working_set *w;
    suspects *s;
    PP_TAKE(p.result, scratch, p.parts);
    PP_TAKE(w, scratch, 1);
    PP_TAKE(s, scratch, 1);
    w->count = 0;
    double extent;
    pp_status status = find_frame(&p, threads, &extent, error);
    if (status == PP_OK) status = solve(&p, threads, extent, w, s, zone, error);
    pp_arena_release(scratch, mark);
    return status;
}

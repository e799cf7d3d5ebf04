/* Minimum-zone planes of all points: solve a working set, look at every point, add those outside,
 * until none is. The zone of a subset is no wider than that of the whole; once it holds every point
 * it is the zone of the whole. */
#include <float.h>
#include <stdint.h>
#include <string.h>

#include "base/parallel.h"
#include "planes/doubled.h"
#include "planes/plane_pass.h"
#include "planes/zone_solver.h"

enum {
    SAMPLE_GROUPS = 1024,         /* first working set: this many groups ... */
    SAMPLE_GROUP = PP_PASS_LANES, /* ... of points in a row, a cache line each */
    SAMPLE = SAMPLE_GROUPS * SAMPLE_GROUP,
    ROUNDS_MAX = 1000,                             /* a run takes 2 to 4 */
    OUTSIDE_MAX = 2 * PP_PASS_PART / PP_PASS_BLOCK /* points a part can name: 2 a block */
};

/* Looks at a point that the search over all orientations may take, some seconds; only clouds much
 * like a ball with tens of thousands of points on their surface need more. */
static const double SEARCH_VISITS = 1e9;

/* The working set: points about the origin, with their index in the survey. */
typedef struct working_set {
    const pp_points *points;
    double origin[3];
    size_t count, room;
    size_t *index;
    double *x, *y, *z;
    double radius;  /* largest distance from the origin */
    double largest; /* coordinate as given */
    pp_zone_work work;
} working_set;

static pp_status make_room(working_set *set, size_t room, pp_arena *arena, pp_error *error)
{
    if (room <= set->room) return PP_OK;
    working_set old = *set;
    set->room = room > 2 * old.room ? room : 2 * old.room;
    PP_TAKE(set->index, arena, set->room);
    PP_TAKE(set->x, arena, set->room);
    PP_TAKE(set->y, arena, set->room);
    PP_TAKE(set->z, arena, set->room);
    if (old.count > 0) {
        memcpy(set->index, old.index, old.count * sizeof *set->index);
        memcpy(set->x, old.x, old.count * sizeof *set->x);
        memcpy(set->y, old.y, old.count * sizeof *set->y);
        memcpy(set->z, old.z, old.count * sizeof *set->z);
    }
    return pp_zone_work_take(set->room, arena, &set->work, error);
}

/* Room must have been made. */
static void add_point(working_set *set, size_t index)
{
    size_t k = set->count++;
    set->index[k] = index;
    double x = set->x[k] = set->points->x[index] - set->origin[0];
    double y = set->y[k] = set->points->y[index] - set->origin[1];
    double z = set->z[k] = set->points->z[index] - set->origin[2];
    set->radius = fmax(set->radius, sqrt(x * x + y * y + z * z));
    set->largest =
        fmax(set->largest, fmax(fmax(fabs(set->points->x[index]), fabs(set->points->y[index])),
                                fabs(set->points->z[index])));
}

static pp_status take_everything(working_set *set, pp_arena *arena, pp_error *error)
{
    PP_TRY(make_room(set, set->points->count, arena, error));
    set->count = 0;
    for (size_t i = 0; i < set->points->count; i++) add_point(set, i);
    return PP_OK;
}

/* Groups of neighbouring rows spread over the survey, each shifted within its share of the rows by
 * a fixed pseudo-random step, so that a gridded survey is not always met in the same column. */
static pp_status take_sample(working_set *set, pp_arena *arena, pp_error *error)
{
    if (set->points->count <= 2 * SAMPLE) return take_everything(set, arena, error);
    PP_TRY(make_room(set, 2 * SAMPLE, arena, error));
    uint32_t state = 1;
    for (size_t g = 0; g < SAMPLE_GROUPS; g++) {
        size_t begin = pp_part_begin(set->points->count, SAMPLE_GROUPS, g);
        size_t end = pp_part_begin(set->points->count, SAMPLE_GROUPS, g + 1);
        state = state * 1664525u + 1013904223u; /* Knuth, Seminumerical Algorithms, 3.3.4 */
        begin += (size_t)(((uint64_t)state * (end - begin - SAMPLE_GROUP + 1)) >> 32);
        for (size_t i = 0; i < SAMPLE_GROUP; i++) add_point(set, begin + i);
    }
    return PP_OK;
}

static pp_zone_cloud cloud_of(const working_set *set)
{
    /* a height is three products and two sums of numbers up to the radius */
    double noise = 4 * DBL_EPSILON * set->radius;
    return (pp_zone_cloud){
        .count = set->count,
        .x = set->x,
        .y = set->y,
        .z = set->z,
        .radius = set->radius,
        .noise = noise,
        .blur = 4 * noise + 2 * DBL_EPSILON * set->largest,
    };
}

/* ---- the pass over all points ---- */

typedef struct outside_pass {
    const pp_points *points;
    pp_pass_plane plane;
    double bottom, top;
    size_t *found; /* OUTSIDE_MAX a part */
    size_t *counts;
} outside_pass;

/* Name the highest and the lowest point of each block if they lie outside. */
static pp_status outside_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    outside_pass *pass = context;
    _Alignas(64) double height[PP_PASS_BLOCK];
    size_t *found = pass->found + part * OUTSIDE_MAX, n = 0;
    size_t blocks = pp_pass_blocks(pass->points->count, part);
    for (size_t b = 0; b < blocks; b++) {
        pp_pass_block block = pp_pass_block_of(pass->points->count, part, b);
        pp_pass_heights(pass->points, &pass->plane, block, height);
        pp_pass_extremes e = pp_pass_block_extremes(height, block.count);
        if (e.highest > pass->top) found[n++] = block.begin + pp_pass_find(height, e.highest);
        if (e.lowest < pass->bottom) found[n++] = block.begin + pp_pass_find(height, e.lowest);
    }
    pass->counts[part] = n;
    return PP_OK;
}

/* Heights of the zone's planes over the origin. */
static void planes_of(const working_set *set, const pp_zone_fit *fit, double *bottom, double *top)
{
    *bottom = INFINITY, *top = -INFINITY;
    for (int k = 0; k < fit->witness_count; k++) {
        size_t i = fit->witness[k].index;
        double h =
            fit->normal[0] * set->x[i] + fit->normal[1] * set->y[i] + fit->normal[2] * set->z[i];
        *bottom = fmin(*bottom, h), *top = fmax(*top, h);
    }
}

/* Add the points outside the zone to the working set; *added: how many. */
static pp_status add_outside(working_set *set, const pp_zone_fit *fit, int threads,
                             pp_memory *memory, size_t *added, pp_error *error)
{
    size_t parts = pp_pass_parts(set->points->count);
    outside_pass pass = {.points = set->points};
    memcpy(pass.plane.shift, set->origin, sizeof set->origin);
    memcpy(pass.plane.normal, fit->normal, sizeof fit->normal);
    planes_of(set, fit, &pass.bottom, &pass.top);
    double rounding = 4 * cloud_of(set).noise; /* more than the descent leaves outside */
    pass.bottom -= rounding, pass.top += rounding;
    PP_TAKE(pass.found, &memory->scratch, parts * OUTSIDE_MAX);
    PP_TAKE(pass.counts, &memory->scratch, parts);
    PP_TRY(pp_parallel(threads, parts, outside_part, &pass, error));
    *added = 0;
    for (size_t p = 0; p < parts; p++) *added += pass.counts[p];
    PP_TRY(make_room(set, set->count + *added, &memory->scratch, error));
    for (size_t p = 0; p < parts; p++)
        for (size_t k = 0; k < pass.counts[p]; k++) add_point(set, pass.found[p * OUTSIDE_MAX + k]);
    return PP_OK;
}

/* ---- local, then global ---- */

static pp_status not_settled(pp_error *error)
{
    return pp_fail(error, PP_ENUMERIC,
                   "the minimum zone did not settle on the survey; please report the survey, and "
                   "judge on the least-squares plane meanwhile");
}

static pp_status descend_set(working_set *set, const double normal[3], pp_memory *memory,
                             pp_zone_fit *fit, pp_error *error)
{
    pp_zone_cloud cloud = cloud_of(set);
    pp_zone_fit found = {0};
    PP_TRY(pp_zone_descend(&cloud, normal, &set->work, &found, error));
    if (!found.seen_as_line) {
        *fit = found;
        return PP_OK;
    }
    if (set->count < set->points->count) { /* an unlucky sample, all in one line */
        PP_TRY(take_everything(set, &memory->scratch, error));
        return descend_set(set, normal, memory, fit, error);
    }
    return pp_fail(error, PP_EINPUT,
                   "all survey points lie in one line; a plane needs points spread over the plate");
}

/* The local minimum below the least-squares plane, of all points. */
static pp_status solve_locally(working_set *set, const double normal[3], int threads,
                               pp_memory *memory, pp_zone_fit *fit, pp_error *error)
{
    for (int round = 0; round < ROUNDS_MAX; round++) {
        size_t added;
        PP_TRY(descend_set(set, normal, memory, fit, error));
        PP_TRY(add_outside(set, fit, threads, memory, &added, error));
        if (added == 0) return PP_OK;
    }
    return not_settled(error);
}

/* The best over all orientations, of all points. */
static pp_status solve_globally(working_set *set, int threads, pp_memory *memory, pp_zone_fit *fit,
                                bool *proven, pp_error *error)
{
    double budget = SEARCH_VISITS;
    for (int round = 0; round < ROUNDS_MAX; round++) {
        size_t added;
        pp_zone_cloud cloud = cloud_of(set);
        PP_TRY(pp_zone_search(&cloud, &set->work, fit, &budget, proven, error));
        PP_TRY(add_outside(set, fit, threads, memory, &added, error));
        if (added == 0) return PP_OK;
        /* what was best holds no longer: descend again with the new points */
        PP_TRY(descend_set(set, fit->normal, memory, fit, error));
    }
    return not_settled(error);
}

/* ---- the answer, from the witness points as given ---- */

static void coordinates(const pp_points *points, size_t i, double p[3])
{
    p[0] = points->x[i], p[1] = points->y[i], p[2] = points->z[i];
}

/* Normal and width from four witness points in doubled precision: the plane through three and the
 * distance of the fourth, or the common perpendicular of two segments. */
static void evaluate_witness(const pp_points *points, pp_minimum_zone *zone)
{
    double p[PP_WITNESS_MAX][3];
    int upper = 0;
    for (int k = 0; k < PP_WITNESS_MAX; k++) {
        coordinates(points, zone->witness[k].index, p[k]);
        upper += zone->witness[k].side > 0;
    }
    const int three = upper == 1 ? 1 : 0; /* where the three begin */
    pp_doubled_vector first = pp_doubled_between(p[three], p[three + 1]);
    pp_doubled_vector second =
        upper == 2 ? pp_doubled_between(p[2], p[3]) : pp_doubled_between(p[three], p[three + 2]);
    pp_doubled_vector square = pp_doubled_cross(first, second);
    double along = 0, length;
    for (int k = 0; k < 3; k++) along += pp_doubled_value(square.c[k]) * zone->plane.normal[k];
    if (along < 0)
        for (int k = 0; k < 3; k++) square.c[k] = pp_doubled_negate(square.c[k]);
    length = sqrt(pp_doubled_value(pp_doubled_dot(square, square)));
    pp_doubled_vector across = pp_doubled_between(p[3], p[0]); /* from below to above */
    zone->flatness = pp_doubled_value(pp_doubled_dot(square, across)) / length;
    for (int k = 0; k < 3; k++) zone->plane.normal[k] = pp_doubled_value(square.c[k]) / length;
}

static void fill(const working_set *set, const pp_zone_fit *fit, bool proven, pp_minimum_zone *zone)
{
    memcpy(zone->plane.normal, fit->normal, sizeof fit->normal);
    zone->witness_count = fit->witness_count;
    for (int k = 0; k < fit->witness_count; k++)
        zone->witness[k] = (pp_witness){set->index[fit->witness[k].index], fit->witness[k].side};
    if (!fit->flat) evaluate_witness(set->points, zone);
    zone->exact = proven;

    double bottom, top;
    planes_of(set, fit, &bottom, &top);
    for (int k = 0; k < 3; k++)
        zone->plane.point[k] = set->origin[k] + (bottom + top) / 2 * zone->plane.normal[k];
}

/* The normals' sense decides what is upper: turn the witness with it, upper ones first and in the
 * order of their rows. */
static void orient(pp_minimum_zone *zone, const double up[3])
{
    double before[3];
    memcpy(before, zone->plane.normal, sizeof before);
    pp_plane_orient(zone->plane.normal, up);
    const double *after = zone->plane.normal;
    bool turned = before[0] * after[0] + before[1] * after[1] + before[2] * after[2] < 0;
    for (int k = 0; turned && zone->flatness > 0 && k < zone->witness_count; k++)
        zone->witness[k].side = -zone->witness[k].side;
    for (int i = 1; i < zone->witness_count; i++)
        for (int k = i; k > 0; k--) {
            pp_witness *a = &zone->witness[k - 1], *b = &zone->witness[k], held = *a;
            if (a->side > b->side || (a->side == b->side && a->index < b->index)) break;
            *a = *b, *b = held;
        }
}

static pp_status solve(working_set *set, const pp_least_squares *start, const double up[3],
                       int threads, pp_memory *memory, pp_minimum_zone *result, pp_error *error)
{
    pp_zone_fit fit;
    bool proven = true;
    PP_TRY(take_sample(set, &memory->scratch, error));
    PP_TRY(solve_locally(set, start->plane.normal, threads, memory, &fit, error));
    if (!fit.flat && fit.guard < fit.width)
        PP_TRY(solve_globally(set, threads, memory, &fit, &proven, error));
    pp_minimum_zone zone = {0};
    fill(set, &fit, proven, &zone);
    orient(&zone, up);
    *result = zone;
    return PP_OK;
}

pp_status pp_plane_minimum_zone(const pp_points *points, const pp_least_squares *start,
                                const double up[3], int threads, pp_memory *memory,
                                pp_minimum_zone *result, pp_error *error)
{
    working_set set = {.points = points};
    memcpy(set.origin, start->plane.point, sizeof set.origin);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = solve(&set, start, up, threads, memory, result, error);
    pp_arena_release(&memory->scratch, mark);
    return status;
}

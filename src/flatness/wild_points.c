#include "flatness/wild_points.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/constants.h"
#include "base/parallel.h"

enum {
    NEIGHBOURS = 14,
    TERMS = 6, /* of a quadric: 1, u, v, uu, uv, vv */
    REWEIGHTINGS = 12,
    WAVES_MAX = 30,
    PART_POINTS = 256
};
static const double wild_from = 8; /* typical errors of a forecast */
static const double median_of_normal = 0.6745, upper_quartile_of_normal = 1.1503;
static const double scale_least = 1e-6;    /* mm: round-off */
static const double scale_share = 2e-4;    /* of the rms height */
static const double beyond_bend = 1.5;     /* of the upper quartile of the neighbours */
static const double blunt = 0.3;           /* of the median residual */
static const double ridge = 1e-9;          /* of a unit: neighbours in one line fix no quadric */
static const double near_pitches = 1.7;    /* one neighbourhood */
static const double rim_turn = 2.9;        /* radian without neighbours: the survey ends there */
static const double corner_turn = 3.9;     /* and this: in a corner */
static const double share_most = 1.0 / 20; /* wild points of all */

typedef struct points {
    size_t count;
    double *x, *y, *z; /* plate frame, by x */
    uint32_t *index;   /* of the survey */
    double pitch;
} points;

typedef struct forecast {
    double off;  /* above what the neighbours foretell, mm */
    double t;    /* the same over the root of its variance factor */
    double rank; /* |t| over the scale in force */
    bool beyond; /* farther off the neighbours' plane than the plate bends there */
} forecast;

typedef struct search {
    const points *points;
    const bool *wild; /* [count], by x */
    forecast *out;
    uint32_t *near; /* [count * NEIGHBOURS] */
    uint8_t *near_count;
} search;

/* ---- neighbours ---- */

typedef struct keyed {
    double x;
    uint32_t index;
} keyed;

static int by_x(const void *a, const void *b)
{
    const keyed *p = a, *q = b;
    if (p->x != q->x) return p->x < q->x ? -1 : 1;
    return p->index < q->index ? -1 : 1;
}

static pp_status sort_points(const pp_survey *survey, pp_arena *arena, points *p, pp_error *error)
{
    size_t n = survey->count;
    keyed *keys;
    *p = (points){.count = n};
    PP_TAKE(keys, arena, n);
    PP_TAKE(p->x, arena, n);
    PP_TAKE(p->y, arena, n);
    PP_TAKE(p->z, arena, n);
    PP_TAKE(p->index, arena, n);
    double x, y, z, low[2] = {INFINITY, INFINITY}, high[2] = {-INFINITY, -INFINITY};
    for (size_t k = 0; k < n; k++) {
        pp_survey_to_plate(&survey->frame, survey->x[k], survey->y[k], survey->z[k], &x, &y, &z);
        keys[k] = (keyed){x, (uint32_t)k};
        low[0] = fmin(low[0], x), high[0] = fmax(high[0], x);
        low[1] = fmin(low[1], y), high[1] = fmax(high[1], y);
    }
    qsort(keys, n, sizeof *keys, by_x);
    for (size_t k = 0; k < n; k++) {
        size_t i = p->index[k] = keys[k].index;
        pp_survey_to_plate(&survey->frame, survey->x[i], survey->y[i], survey->z[i], &p->x[k],
                           &p->y[k], &p->z[k]);
    }
    p->pitch = sqrt((high[0] - low[0]) * (high[1] - low[1]) / (double)n);
    return PP_OK;
}

/* Put point j among the nearest so far, nearest first. */
static void keep_near(uint32_t j, double square, size_t *count, uint32_t *near, double *squares)
{
    size_t at = *count;
    if (at == NEIGHBOURS && square >= squares[at - 1]) return;
    if (at < NEIGHBOURS)
        (*count)++;
    else
        at--;
    for (; at > 0 && squares[at - 1] > square; at--) {
        squares[at] = squares[at - 1];
        near[at] = near[at - 1];
    }
    squares[at] = square;
    near[at] = j;
}

/* The nearest points not wild, outwards from k in the order of x. */
static size_t find_near(const search *s, size_t k, uint32_t near[NEIGHBOURS])
{
    const points *p = s->points;
    double squares[NEIGHBOURS];
    size_t count = 0, left = k, right = k + 1;
    bool go_left = true, go_right = true;
    while (go_left || go_right) {
        double most = count == NEIGHBOURS ? squares[NEIGHBOURS - 1] : INFINITY;
        go_left = left > 0 && (p->x[k] - p->x[left - 1]) * (p->x[k] - p->x[left - 1]) < most;
        go_right = right < p->count && (p->x[right] - p->x[k]) * (p->x[right] - p->x[k]) < most;
        for (int side = 0; side < 2; side++) {
            if (!(side ? go_right : go_left)) continue;
            size_t j = side ? right++ : --left;
            if (s->wild[j]) continue;
            double dx = p->x[j] - p->x[k], dy = p->y[j] - p->y[k];
            keep_near((uint32_t)j, dx * dx + dy * dy, &count, near, squares);
        }
    }
    return count;
}

/* ---- forecasts ---- */

static int by_value(const void *a, const void *b)
{
    double p = *(const double *)a, q = *(const double *)b;
    return (p > q) - (p < q);
}

/* Cholesky factor of a, in place; a is positive by its ridge. */
static void factor(double a[TERMS][TERMS])
{
    for (int i = 0; i < TERMS; i++)
        for (int j = 0; j <= i; j++) {
            double sum = a[i][j];
            for (int k = 0; k < j; k++) sum -= a[i][k] * a[j][k];
            a[i][j] = i == j ? sqrt(fmax(sum, 1e-12)) : sum / a[j][j];
        }
}

static void substitute(double a[TERMS][TERMS], double b[TERMS])
{
    for (int i = 0; i < TERMS; i++) {
        for (int k = 0; k < i; k++) b[i] -= a[i][k] * b[k];
        b[i] /= a[i][i];
    }
    for (int i = TERMS - 1; i >= 0; i--) {
        for (int k = i + 1; k < TERMS; k++) b[i] -= a[k][i] * b[k];
        b[i] /= a[i][i];
    }
}

typedef struct neighbourhood {
    size_t count;
    double row[NEIGHBOURS][TERMS], z[NEIGHBOURS], weight[NEIGHBOURS];
} neighbourhood;

/* Of the first `terms` terms; the others come out as 0. */
static void normal_matrix(const neighbourhood *n, int terms, double a[TERMS][TERMS],
                          double b[TERMS])
{
    memset(a, 0, sizeof(double[TERMS][TERMS]));
    memset(b, 0, TERMS * sizeof *b);
    double total = 0;
    for (size_t k = 0; k < n->count; k++) {
        total += n->weight[k];
        for (int i = 0; i < terms; i++) {
            for (int j = 0; j <= i; j++) a[i][j] += n->weight[k] * n->row[k][i] * n->row[k][j];
            b[i] += n->weight[k] * n->row[k][i] * n->z[k];
        }
    }
    for (int i = 1; i < TERMS; i++) a[i][i] += i < terms ? ridge * total : total;
    a[0][0] += 1e-12 * total;
}

/* Height at the middle of the quadric, or of the plane (3 terms), of least absolute residuals;
 * size[count]: the neighbours' own, ascending. */
static double foretell(neighbourhood *n, int terms, double *variance, double size[NEIGHBOURS])
{
    double a[TERMS][TERMS], b[TERMS] = {0}, unit[TERMS] = {1};
    for (size_t k = 0; k < n->count; k++) n->weight[k] = 1;
    for (int round = 0; round < REWEIGHTINGS; round++) {
        normal_matrix(n, terms, a, b);
        factor(a);
        substitute(a, b);
        if (round == 0) {
            substitute(a, unit);
            *variance = 1 + unit[0];
        }
        for (size_t k = 0; k < n->count; k++) {
            double e = n->z[k];
            for (int i = 0; i < TERMS; i++) e -= n->row[k][i] * b[i];
            size[k] = n->weight[k] = fabs(e);
        }
        qsort(size, n->count, sizeof *size, by_value);
        double least = fmax(blunt * size[n->count / 2], 1e-12); /* a smooth |e| about 0 */
        for (size_t k = 0; k < n->count; k++) n->weight[k] = least / fmax(n->weight[k], least);
    }
    return b[0];
}

static void foretell_point(const search *s, size_t k)
{
    const points *p = s->points;
    uint32_t *near = s->near + k * NEIGHBOURS;
    neighbourhood n = {.count = find_near(s, k, near)};
    double reach = 0;
    for (size_t i = 0; i < n.count; i++)
        reach = fmax(reach, hypot(p->x[near[i]] - p->x[k], p->y[near[i]] - p->y[k]));
    for (size_t i = 0; i < n.count; i++) {
        double u = (p->x[near[i]] - p->x[k]) / fmax(reach, 1e-9);
        double v = (p->y[near[i]] - p->y[k]) / fmax(reach, 1e-9);
        double row[TERMS] = {1, u, v, u * u, u * v, v * v};
        memcpy(n.row[i], row, sizeof row);
        n.z[i] = p->z[near[i]] - p->z[k];
    }
    double variance = 1, ignored, size[NEIGHBOURS] = {0};
    double from_plane = fabs(foretell(&n, 3, &ignored, size)), bend = 0;
    if (n.count) bend = beyond_bend * size[3 * n.count / 4];
    double off = -foretell(&n, TERMS, &variance, size);
    s->near_count[k] = (uint8_t)n.count;
    s->out[k] =
        (forecast){.off = off, .t = off / sqrt(variance), .beyond = n.count && from_plane > bend};
}

static pp_status foretell_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    const search *s = context;
    size_t end = (part + 1) * PART_POINTS;
    if (end > s->points->count) end = s->points->count;
    for (size_t k = part * PART_POINTS; k < end; k++) foretell_point(s, k);
    return PP_OK;
}

/* ---- scales ---- */

static double scale_of_survey(const search *s, double floor, double *work)
{
    size_t n = 0;
    for (size_t k = 0; k < s->points->count; k++)
        if (!s->wild[k]) work[n++] = fabs(s->out[k].t);
    qsort(work, n, sizeof *work, by_value);
    return fmax(n ? work[n / 2] / median_of_normal : 0, floor);
}

/* The upper quartile: a bend that a few points show is theirs all the same. */
static double scale_of_neighbours(const search *s, size_t k)
{
    double t[NEIGHBOURS];
    size_t n = s->near_count[k];
    for (size_t i = 0; i < n; i++) t[i] = fabs(s->out[s->near[k * NEIGHBOURS + i]].t);
    qsort(t, n, sizeof *t, by_value);
    return n ? t[3 * n / 4] / upper_quartile_of_normal : 0;
}

static void rank_points(const search *s, double survey_scale)
{
    for (size_t k = 0; k < s->points->count; k++)
        s->out[k].rank = fabs(s->out[k].t) / fmax(survey_scale, scale_of_neighbours(s, k));
}

static bool worst_of_its_neighbours(const search *s, size_t k)
{
    for (size_t i = 0; i < s->near_count[k]; i++)
        if (s->out[s->near[k * NEIGHBOURS + i]].rank > s->out[k].rank) return false;
    return true;
}

/* ---- the search ---- */

static double rms_height(const points *p)
{
    double mean = 0, squares = 0;
    for (size_t k = 0; k < p->count; k++) mean += p->z[k] / (double)p->count;
    for (size_t k = 0; k < p->count; k++) squares += (p->z[k] - mean) * (p->z[k] - mean);
    return sqrt(squares / (double)p->count);
}

/* Mark what is wild after this wave; false when nothing new is. */
static bool mark_wave(const search *s, bool *wild)
{
    bool any = false;
    for (size_t k = 0; k < s->points->count; k++)
        if (!wild[k] && s->out[k].beyond && s->out[k].rank > wild_from &&
            worst_of_its_neighbours(s, k))
            wild[k] = any = true;
    return any;
}

pp_status pp_wild_points_find(const pp_survey *survey, int threads, pp_memory *memory, bool *wild,
                              double *off, pp_error *error)
{
    size_t n = survey->count;
    memset(wild, 0, n * sizeof *wild);
    memset(off, 0, n * sizeof *off);
    if (n < PP_WILD_POINTS_LEAST || n > PP_WILD_POINTS_MOST) return PP_OK;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    points p;
    bool *marked;
    double *work;
    PP_TRY(sort_points(survey, &memory->scratch, &p, error));
    search s = {.points = &p};
    PP_TAKE_ZERO(marked, &memory->scratch, n);
    PP_TAKE(work, &memory->scratch, n);
    PP_TAKE(s.out, &memory->scratch, n);
    PP_TAKE(s.near, &memory->scratch, n * NEIGHBOURS);
    PP_TAKE(s.near_count, &memory->scratch, n);
    s.wild = marked;
    double floor = fmax(scale_least, scale_share * rms_height(&p));
    size_t parts = (n + PART_POINTS - 1) / PART_POINTS;
    for (int wave = 0; wave < WAVES_MAX; wave++) {
        PP_TRY(pp_parallel(threads, parts, foretell_part, &s, error));
        rank_points(&s, scale_of_survey(&s, floor, work));
        if (!mark_wave(&s, marked)) break;
    }
    for (size_t k = 0; k < n; k++) { /* what its neighbours had hidden or feigned is not */
        wild[p.index[k]] = marked[k] && s.out[k].rank > wild_from;
        off[p.index[k]] = s.out[k].off;
    }
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

/* ---- alone or not ---- */

/* The widest turn about point k without a neighbour in it, radian */
static double widest_turn(const search *s, size_t k)
{
    const points *p = s->points;
    double angle[NEIGHBOURS], widest = 0;
    size_t n = s->near_count[k];
    for (size_t i = 0; i < n; i++) {
        size_t j = s->near[k * NEIGHBOURS + i];
        angle[i] = atan2(p->y[j] - p->y[k], p->x[j] - p->x[k]);
    }
    qsort(angle, n, sizeof *angle, by_value);
    for (size_t i = 1; i < n; i++) widest = fmax(widest, angle[i] - angle[i - 1]);
    return n ? fmax(widest, angle[0] + 2 * PP_PI - angle[n - 1]) : 0;
}

/* Wild points on the same side, each near the next, beginning with `first` */
static size_t gather(const points *p, const bool *wild, const double *off, size_t first,
                     uint32_t *group, bool *taken)
{
    size_t count = 0;
    group[count++] = (uint32_t)first;
    taken[first] = true;
    for (size_t g = 0; g < count; g++)
        for (size_t j = 0; j < p->count; j++) {
            size_t k = group[g];
            if (!wild[j] || taken[j] || (off[j] > 0) != (off[k] > 0)) continue;
            if (hypot(p->x[j] - p->x[k], p->y[j] - p->y[k]) > near_pitches * p->pitch) continue;
            group[count++] = (uint32_t)j;
            taken[j] = true;
        }
    return count;
}

static bool group_stands_alone(const search *s, size_t count, const uint32_t *group)
{
    bool rim = false, corner = false;
    for (size_t g = 0; g < count; g++) {
        s->near_count[group[g]] = (uint8_t)find_near(s, group[g], s->near + group[g] * NEIGHBOURS);
        double turn = widest_turn(s, group[g]);
        rim |= turn > rim_turn;
        corner |= turn > corner_turn;
    }
    return !corner && count < (rim ? 2 : 3);
}

pp_status pp_wild_points_alone(const pp_survey *survey, const bool *wild, const double *off,
                               pp_memory *memory, bool *alone, pp_error *error)
{
    size_t n = survey->count, total = 0;
    memset(alone, 0, n * sizeof *alone);
    for (size_t k = 0; k < n; k++) total += wild[k];
    if (total == 0 || (double)total > fmax(2, share_most * (double)n)) return PP_OK;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    points p;
    bool *marked, *taken;
    double *side;
    uint32_t *group;
    PP_TRY(sort_points(survey, &memory->scratch, &p, error));
    search s = {.points = &p};
    PP_TAKE(marked, &memory->scratch, n);
    PP_TAKE(side, &memory->scratch, n);
    PP_TAKE_ZERO(taken, &memory->scratch, n);
    PP_TAKE(group, &memory->scratch, total);
    PP_TAKE(s.near, &memory->scratch, n * NEIGHBOURS);
    PP_TAKE(s.near_count, &memory->scratch, n);
    for (size_t k = 0; k < n; k++) marked[k] = wild[p.index[k]], side[k] = off[p.index[k]];
    s.wild = marked;
    for (size_t k = 0; k < n; k++) {
        if (!marked[k] || taken[k]) continue;
        size_t count = gather(&p, marked, side, k, group, taken);
        bool single = group_stands_alone(&s, count, group);
        for (size_t g = 0; g < count; g++) alone[p.index[group[g]]] = single;
    }
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

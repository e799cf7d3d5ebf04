#include "holddown/contact.h"

#include <math.h>
#include <string.h>

#include "base/clones.h"
#include "linalg/linalg.h"

enum {
    SETS_MAX = 60,       /* sets tried before the exact path is followed; 5 to 10 are usual */
    JOIN_MOST = 8,       /* points that come to touch at once, where more have gone astray */
    GROWTH = 64,         /* beyond twice the set begun with: a set so large has gone astray */
    PATH_FIRST = 16,     /* changes followed on the path instead, at first */
    PATH_SHORT = 100,    /* and where joining few points at a time does not settle either */
    PATH_PER_POINT = 20, /* changes followed on it, far more than any plate was seen to need */
    PATH_MORE = 1000
};

pp_status pp_contact_work_take(size_t m, pp_arena *arena, pp_contact_work *work, pp_error *error)
{
    pp_contact_work w = {.count = m};
    PP_TAKE_ZERO(w.changed, arena, m);
    PP_TAKE(w.next, arena, m);
    PP_TAKE(w.list, arena, m);
    PP_TAKE(w.raise, arena, m);
    PP_TAKE(w.x, arena, 2 * m);
    PP_TAKE(w.q, arena, 2 * m);
    PP_TRY(pp_contact_factor_take(m, arena, &w.factor, error));
    *work = w;
    return PP_OK;
}

static void begin_at_rest(pp_contact_work *work)
{
    if (work->rest)
        memcpy(work->changed, work->rest, work->count * sizeof *work->changed);
    else
        memset(work->changed, 0, work->count * sizeof *work->changed);
}

void pp_contact_work_begin(pp_contact_work *work)
{
    begin_at_rest(work);
    pp_contact_factor_begin(&work->factor);
}

/* Contact at one force ------------------------------------------------------------------ */

/* The places in a set, ascending. Few are: they are looked for eight at a time. */
static size_t list_set(size_t count, const bool *set, uint32_t *list)
{
    size_t found = 0;
    for (size_t j = 0; j < count;) {
        uint64_t eight;
        if (j + sizeof eight <= count) {
            memcpy(&eight, set + j, sizeof eight);
            if (eight == 0) {
                j += sizeof eight;
                continue;
            }
        }
        for (size_t end = j + sizeof eight; j < end && j < count; j++)
            if (set[j]) list[found++] = (uint32_t)j;
    }
    return found;
}

void pp_contact_list(pp_contact_work *work)
{
    work->changed_count = list_set(work->count, work->changed, work->list);
}

/* q += P_:C x, four columns at a time (the columns of C are scattered: no BLAS call takes them) */
PP_VECTOR_CLONES static void add_columns(const pp_contact_base *base, const uint32_t *list,
                                         size_t k, const double *x, double *restrict q)
{
    size_t m = base->count, c = 0;
    for (; c + 4 <= k; c += 4) {
        const double *restrict p0 = base->p + list[c] * m, *restrict p1 = base->p + list[c + 1] * m;
        const double *restrict p2 = base->p + list[c + 2] * m;
        const double *restrict p3 = base->p + list[c + 3] * m;
        double x0 = x[c], x1 = x[c + 1], x2 = x[c + 2], x3 = x[c + 3];
        for (size_t i = 0; i < m; i++)
            q[i] += (p0[i] * x0 + p1[i] * x1) + (p2[i] * x2 + p3[i] * x3);
    }
    for (; c < k; c++) {
        const double *restrict p0 = base->p + list[c] * m;
        double x0 = x[c];
        for (size_t i = 0; i < m; i++) q[i] += p0[i] * x0;
    }
}

/* x_C of P_CC x_C = -rhs_C for `count` (1 or 2) right-hand sides rhs[count][m], in places */
static pp_status solve_changed(const pp_contact_base *base, size_t count, const double *const rhs[],
                               pp_contact_work *work, pp_error *error)
{
    size_t k = work->changed_count;
    for (size_t c = 0; c < count; c++)
        for (size_t j = 0; j < k; j++) work->x[c * k + j] = -rhs[c][work->list[j]];
    const pp_contact_matrix matrix = {base->p, base->active};
    return pp_contact_factor_solve(&work->factor, &matrix, k, work->list, count, work->x, error);
}

/* q = v + F d */
PP_VECTOR_CLONES static void add_force(const pp_contact_base *base, const double *d, double force,
                                       double *restrict q)
{
    const double *v = base->v;
    for (size_t i = 0; i < base->count; i++) q[i] = v[i] + force * d[i];
}

/* x and q of the set in work->changed, which is listed, at this force */
static pp_status evaluate(const pp_contact_base *base, const double *d, double force,
                          pp_contact_work *work, pp_error *error)
{
    add_force(base, d, force, work->q);
    PP_TRY(solve_changed(base, 1, (const double *const[]){work->q}, work, error));
    add_columns(base, work->list, work->changed_count, work->x, work->q);
    work->iterations++;
    return PP_OK;
}

/* Of the points that would come to touch only the `most` that have sunk in deepest */
static void join_deepest(const pp_contact_base *base, size_t most, pp_contact_work *work)
{
    size_t deepest[JOIN_MOST], n = 0;
    for (size_t j = base->active; j < base->count; j++) {
        if (work->changed[j] || !work->next[j]) continue;
        work->next[j] = false;
        size_t at = n;
        while (at > 0 && work->q[deepest[at - 1]] > work->q[j]) at--;
        if (at == most) continue;
        if (n < most) n++;
        for (size_t l = n - 1; l > at; l--) deepest[l] = deepest[l - 1];
        deepest[at] = j;
    }
    for (size_t l = 0; l < n; l++) work->next[deepest[l]] = true;
}

/* How to go from set to set */
typedef struct stepping {
    bool held;
    size_t most; /* places in a set: with more it is given up */
    size_t join; /* points that come to touch at once; 0: any number */
} stepping;

/* next[j] of the places from `from` to `to` that have not changed: q_j < -tiny. Few are: WIDE at a
 * time are told by the least of them. */
PP_VECTOR_CLONES static void find_negative(const double *q, const bool *changed, size_t from,
                                           size_t to, double tiny, bool *restrict next)
{
    enum { WIDE = 16 };
    size_t j = from;
    memset(next + from, 0, (to - from) * sizeof *next);
    for (; j + WIDE <= to; j += WIDE) {
        int below = 0;
        for (size_t l = 0; l < WIDE; l++) below |= q[j + l] < -tiny;
        if (!below) continue;
        for (size_t l = j; l < j + WIDE; l++) next[l] = (q[l] < -tiny) & !changed[l];
    }
    for (; j < to; j++) next[j] = (q[j] < -tiny) & !changed[j];
}

/* Tells sets apart: FNV-1a */
static uint64_t hash_of(size_t count, const uint32_t *list)
{
    uint64_t h = 1469598103934665603u;
    for (size_t c = 0; c < count; c++) h = (h ^ list[c]) * 1099511628211u;
    return h;
}

/* C <- {j in C: x_j > 0} and {j not in C: q_j < -tiny}; true when it stays as it was. */
static bool next_set(const pp_contact_base *base, const stepping *how, pp_contact_work *work,
                     uint64_t *hash)
{
    size_t m = base->count, a = base->active;
    if (how->held)
        memset(work->next, 0, a * sizeof *work->next);
    else
        find_negative(work->q, work->changed, 0, a, base->tiny_force, work->next);
    find_negative(work->q, work->changed, a, m, base->tiny_gap, work->next);
    for (size_t c = 0; c < work->changed_count; c++) work->next[work->list[c]] = work->x[c] > 0;
    if (how->join) join_deepest(base, how->join, work);
    if (memcmp(work->next, work->changed, m * sizeof *work->next) == 0) return true;
    memcpy(work->changed, work->next, m * sizeof *work->next);
    pp_contact_list(work);
    *hash = hash_of(work->changed_count, work->list);
    return false;
}

/* The primal-dual active set: *found false when a set repeats, there is no end of them or one of
 * more than `most` comes up */
static pp_status active_set(const pp_contact_base *base, const double *d, double force,
                            const stepping *how, pp_contact_work *work, bool *found,
                            pp_error *error)
{
    uint64_t seen[SETS_MAX], hash = 0;
    *found = false;
    pp_contact_list(work);
    for (int i = 0; i < SETS_MAX; i++) {
        if (work->changed_count > how->most) return PP_OK;
        PP_TRY(evaluate(base, d, force, work, error));
        if (next_set(base, how, work, &hash)) {
            *found = true;
            return PP_OK;
        }
        for (int k = 0; k < i; k++)
            if (seen[k] == hash) return PP_OK;
        seen[i] = hash;
    }
    return PP_OK;
}

typedef struct path {
    double from, to; /* forces */
    bool held;
    size_t limit; /* changes on the way */
} path;

static pp_status follow_path(const pp_contact_base *base, const double *d, const path *way,
                             pp_contact_work *work, size_t *events, bool *arrived, pp_error *error);

/* From a set not empty, yet not near enough, the active set may wander through sets of hundreds to
 * one of ten: then the path from nought, of a few changes, is the shorter way. */
pp_status pp_contact_solve(const pp_contact_base *base, const double *d, double force, bool held,
                           pp_contact_work *work, pp_error *error)
{
    bool found;
    if (held) memset(work->changed, 0, base->active * sizeof *work->changed);
    size_t events;
    pp_contact_list(work);
    const stepping freely = {held, SIZE_MAX, 0}, carefully = {held, SIZE_MAX, JOIN_MOST},
                   near = {held, 2 * work->changed_count + GROWTH, 0};
    PP_TRY(active_set(base, d, force, &near, work, &found, error));
    if (found) return PP_OK;
    PP_TRY(follow_path(base, d, &(path){0, force, held, PATH_FIRST}, work, &events, &found, error));
    if (found) return PP_OK;
    begin_at_rest(work);
    PP_TRY(active_set(base, d, force, &carefully, work, &found, error));
    if (found) return PP_OK;
    PP_TRY(follow_path(base, d, &(path){0, force, held, PATH_SHORT}, work, &events, &found, error));
    if (found) return PP_OK;
    PP_TRY(active_set(base, d, force, &freely, work, &found, error));
    if (found) return PP_OK;
    work->fallbacks++;
    return pp_contact_path(base, d, 0, force, held, work, &events, error);
}

pp_status pp_contact_try(const pp_contact_base *base, const double *d, double force,
                         pp_contact_work *work, bool *found, pp_error *error)
{
    pp_contact_list(work);
    const stepping near = {false, 2 * work->changed_count + GROWTH, 0};
    return active_set(base, d, force, &near, work, found, error);
}

pp_status pp_contact_roam(const pp_contact_base *base, const double *d, double force,
                          pp_contact_work *work, bool *found, pp_error *error)
{
    const stepping freely = {false, SIZE_MAX, 0};
    return active_set(base, d, force, &freely, work, found, error);
}

/* How many places are infeasible, and the last of them */
static size_t infeasible(const pp_contact_base *base, const pp_contact_work *work, size_t *last)
{
    size_t count = 0, c = 0;
    for (size_t j = 0; j < base->count; j++) {
        double tiny = j < base->active ? base->tiny_force : base->tiny_gap;
        bool wrong = work->changed[j] ? !(work->x[c++] > 0) : work->q[j] < -tiny;
        if (!wrong) continue;
        count++;
        *last = j;
    }
    return count;
}

pp_status pp_contact_pivot(const pp_contact_base *base, const double *d, double force,
                           pp_contact_work *work, pp_error *error)
{
    enum { PATIENCE = 10 }; /* block pivots without fewer infeasible places */
    size_t least = SIZE_MAX, last = 0, limit = 20 * base->count + 1000;
    int patience = PATIENCE;
    for (size_t i = 0; i < limit; i++) {
        pp_contact_list(work);
        PP_TRY(evaluate(base, d, force, work, error));
        size_t count = infeasible(base, work, &last);
        if (count == 0) return PP_OK;
        if (count < least) least = count, patience = PATIENCE + 1;
        if (patience > 0) {
            patience--;
            next_set(base, &(stepping){false, SIZE_MAX, 0}, work, &(uint64_t){0});
        } else {
            work->changed[last] = !work->changed[last];
        }
    }
    return pp_fail(
        error, PP_ENUMERIC,
        "the contact did not settle after %zu steps; where supports lie in one line with "
        "the centre of the plate, move them",
        limit);
}

static const double GOLDEN =
    0.6180339887498949; /* its multiples lie evenly between whole numbers */

pp_status pp_contact_settle(const pp_contact_base *base, pp_contact_work *work, pp_error *error)
{
    const stepping carefully = {false, SIZE_MAX, JOIN_MOST}, freely = {false, SIZE_MAX, 0};
    bool found;
    double *raise = work->raise;
    memset(raise, 0, base->count * sizeof *raise);
    pp_contact_work_begin(work);
    PP_TRY(active_set(base, raise, 0, &carefully, work, &found, error));
    if (found) return PP_OK;
    begin_at_rest(work);
    PP_TRY(active_set(base, raise, 0, &freely, work, &found, error));
    if (found) return PP_OK;
    work->fallbacks++;
    /* Each place is lifted by a share of its own of what it lacks: by the same share all would come
     * down at once, and the path go round in a ring. */
    for (size_t j = 0; j < base->count; j++) {
        double share = 1 + fmod((double)(j + 1) * GOLDEN, 1);
        raise[j] =
            fmax(-share * base->v[j], 0) + (j < base->active ? base->tiny_force : base->tiny_gap);
    }
    return pp_contact_path(base, raise, 1, 0, false, work, &(size_t){0}, error);
}

/* The exact path ------------------------------------------------------------------------ */

/* For the set C: x = x0 + F x1, q = q0 + F q1, laid out one after the other */
static pp_status lines(const pp_contact_base *base, const double *d, pp_contact_work *work,
                       pp_error *error)
{
    size_t m = base->count;
    pp_contact_list(work);
    size_t k = work->changed_count;
    memcpy(work->q, base->v, m * sizeof *work->q);
    memcpy(work->q + m, d, m * sizeof *work->q);
    PP_TRY(solve_changed(base, 2, (const double *const[]){work->q, work->q + m}, work, error));
    add_columns(base, work->list, k, work->x, work->q);
    add_columns(base, work->list, k, work->x + k, work->q + m);
    work->iterations++;
    return PP_OK;
}

/* Where value = v0 + F v1 comes down to zero on the way from `force` in direction `sense` */
static double zero_on_the_way(double v0, double v1, double force, double sense)
{
    if (v1 * sense >= 0) return INFINITY;
    double step = (-v0 / v1 - force) * sense;
    return step > 0 ? step : 0;
}

typedef struct event { /* on the path: which place changes, and how far on */
    size_t place;      /* SIZE_MAX: none */
    double step;
} event;

/* The first x or q that comes down to zero beyond `force`; `last` has only just changed. */
static event next_event(const pp_contact_base *base, const pp_contact_work *work, bool held,
                        double force, double sense, size_t last)
{
    size_t m = base->count, k = work->changed_count;
    event first = {SIZE_MAX, INFINITY};
    for (size_t c = 0; c < k; c++) {
        double step = zero_on_the_way(work->x[c], work->x[k + c], force, sense);
        if (step == 0 && work->list[c] == last) continue;
        if (step < first.step) first = (event){work->list[c], step};
    }
    for (size_t j = held ? base->active : 0; j < m; j++) {
        if (work->changed[j]) continue;
        double step = zero_on_the_way(work->q[j], work->q[m + j], force, sense);
        if (step == 0 && j == last) continue;
        if (step < first.step) first = (event){j, step};
    }
    return first;
}

/* arrived: false when more than way->limit changes lie on the way */
static pp_status follow_path(const pp_contact_base *base, const double *d, const path *way,
                             pp_contact_work *work, size_t *events, bool *arrived, pp_error *error)
{
    size_t last = SIZE_MAX;
    double force = way->from, sense = way->to < way->from ? -1 : 1;
    begin_at_rest(work);
    *arrived = false;
    for (*events = 0;; ++*events) {
        PP_TRY(lines(base, d, work, error));
        event next = next_event(base, work, way->held, force, sense, last);
        if (next.place == SIZE_MAX || next.step >= (way->to - force) * sense) break;
        if (*events == way->limit) return PP_OK;
        force += next.step * sense;
        work->changed[next.place] = !work->changed[next.place];
        last = next.place;
    }
    *arrived = true;
    return evaluate(base, d, way->to, work, error);
}

pp_status pp_contact_path(const pp_contact_base *base, const double *d, double from, double to,
                          bool held, pp_contact_work *work, size_t *events, pp_error *error)
{
    bool arrived;
    const path way = {from, to, held, PATH_PER_POINT * base->count + PATH_MORE};
    PP_TRY(follow_path(base, d, &way, work, events, &arrived, error));
    if (arrived) return PP_OK;
    return pp_fail(
        error, PP_ENUMERIC,
        "the contact with the supports did not settle after %zu changes; where supports lie "
        "in one line with the centre of the plate, move them",
        *events);
}

/* What comes of it ---------------------------------------------------------------------- */

double pp_contact_probe(const pp_contact_base *base, const pp_contact_work *work, const double *d)
{
    double sum = 0; /* by reciprocity: d on touching places, -d on the others */
    for (size_t c = 0; c < work->changed_count; c++) {
        size_t j = work->list[c];
        sum += (j < base->active ? d[j] : -d[j]) * work->x[c];
    }
    return sum;
}

pp_status pp_contact_line(const pp_contact_base *base, const double *d,
                          const pp_contact_probed *probe, pp_contact_work *work,
                          pp_contact_straight *line, pp_error *error)
{
    size_t k = work->changed_count;
    PP_TRY(solve_changed(base, 2, (const double *const[]){base->v, d}, work, error));
    pp_contact_straight y = {probe->start, probe->e};
    for (size_t c = 0; c < k; c++) {
        size_t j = work->list[c];
        double coefficient = j < base->active ? probe->d[j] : -probe->d[j];
        y.at_zero += coefficient * work->x[c];
        y.slope += coefficient * work->x[k + c];
    }
    *line = y;
    return PP_OK;
}

void pp_contact_state(const pp_contact_base *base, const pp_contact_work *work, double force,
                      const double *force_motion, double *reaction, double *gap, double *motion)
{
    size_t m = base->count, a = base->active;
    for (size_t j = 0; j < m; j++) {
        double reacting = j < a ? work->q[j] : 0, open = j < a ? 0 : work->q[j];
        if (work->changed[j]) reacting = open = 0;
        if (reaction) reaction[base->order[j]] = reacting;
        if (gap) gap[base->order[j]] = open;
    }
    /* motion = motion_0 + F motion_f + Z' y_A - V' r_I */
    for (size_t k = 0; motion && k < base->rigid; k++)
        motion[k] = base->motion[k] + force * force_motion[k];
    for (size_t c = 0; c < work->changed_count; c++) {
        size_t j = work->list[c];
        if (j < a && gap) gap[base->order[j]] = work->x[c];
        if (j < a && reaction) reaction[base->order[j]] = -base->eps * work->x[c];
        if (j >= a && reaction) reaction[base->order[j]] = work->x[c];
        for (size_t k = 0; motion && k < base->rigid; k++)
            motion[k] += (j < a ? 1 : -1) * base->zv[k * m + j] * work->x[c];
    }
}

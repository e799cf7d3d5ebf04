/* Arrangements in which every layer fits the one below it: a shortest path over sets of layers. */
#include <math.h>
#include <stdint.h>
#include <string.h>

#include "stack/held_flat.h"
#include "stack/lists.h"

static const double TRANSITIONS_MOST = 4e8; /* beyond, the path takes too long */

typedef struct pairing {
    const pp_stack_choices *choices;
    size_t total;
    double *cost; /* [total * total] of `above` on `below`: cost[above * total + below] */
    double *best; /* [sets * total] least cost of a stack of the set with that one on top */
    uint16_t *under;
} pairing;

/* Inner products of all faces by a symmetric form given as form(face) = the form's image:
 * cost = |under_above - top_below|^2 in it. image[total * m] of both faces. */
static void fill_cost(const pairing *p, const pp_held_flat *h, const double *top_image,
                      const double *under_image, bool root)
{
    size_t m = h->points;
    for (size_t a = 0; a < p->total; a++)
        for (size_t b = 0; b < p->total; b++) {
            double sum = 0;
            for (size_t i = 0; i < m; i++)
                sum += (h->under[a * m + i] - h->top[b * m + i]) *
                       (under_image[a * m + i] - top_image[b * m + i]);
            sum = fmax(sum, 0);
            p->cost[a * p->total + b] = root ? sqrt(sum) : sum;
        }
}

/* The heights less their least-squares plane. The points lie symmetrically about the centre, so
 * that the three parts of the plane are orthogonal. */
static void flatten(const pp_stack_ground *g, size_t total, size_t m, const double *height,
                    double *image)
{
    const pp_influence *f = &g->influence;
    for (size_t o = 0; o < total; o++) {
        const double *from = height + o * m;
        double *to = image + o * m;
        memcpy(to, from, m * sizeof *to);
        for (size_t k = 0; k < 3; k++) {
            const double *r = f->r + k * f->count;
            double along = 0, norm = 0;
            for (size_t i = 0; i < m; i++) along += r[i] * from[i], norm += r[i] * r[i];
            for (size_t i = 0; i < m; i++) to[i] -= along / norm * r[i];
        }
    }
}

/* The loads (for D = 1) that bend a flat layer to the heights: their work is the bending energy. */
static pp_status bend(const pp_held_flat *h, size_t total, const double *height, double *image,
                      pp_arena *scratch, pp_error *error)
{
    size_t m = h->points, n = m + 3;
    pp_mark mark = pp_arena_mark(scratch);
    double *x;
    PP_TAKE_ZERO(x, scratch, total * n);
    for (size_t o = 0; o < total; o++) memcpy(x + o * n, height + o * m, m * sizeof *x);
    PP_TRY(pp_held_flat_solve(h, total, x, error));
    for (size_t o = 0; o < total; o++) memcpy(image + o * m, x + o * n, m * sizeof *x);
    pp_arena_release(scratch, mark);
    return PP_OK;
}

static size_t layers_in(size_t set)
{
    size_t count = 0;
    for (; set; set &= set - 1) count++;
    return count;
}

static void extend(const pairing *p, size_t set, size_t below)
{
    const pp_stack_choices *c = p->choices;
    double here = p->best[set * p->total + below];
    size_t place = layers_in(set);
    if (isinf(here)) return;
    for (size_t a = 0; a < p->total; a++) {
        size_t layer = c->way[a].layer, grown = set | (size_t)1 << layer;
        if (grown == set || !pp_stack_may_lie(c, layer, place)) continue;
        double cost = here + p->cost[a * p->total + below];
        if (cost >= p->best[grown * p->total + a]) continue;
        p->best[grown * p->total + a] = cost;
        p->under[grown * p->total + a] = (uint16_t)below;
    }
}

static void find_paths(const pairing *p)
{
    const pp_stack_choices *c = p->choices;
    size_t sets = (size_t)1 << c->layers;
    for (size_t i = 0; i < sets * p->total; i++) p->best[i] = INFINITY;
    for (size_t o = 0; o < p->total; o++)
        if (pp_stack_may_lie(c, c->way[o].layer, 0))
            p->best[((size_t)1 << c->way[o].layer) * p->total + o] = 0;
    for (size_t set = 1; set < sets; set++)
        for (size_t o = 0; o < p->total; o++) extend(p, set, o);
}

/* The best stacks with different ones on top. */
static void add_paths(const pairing *p, size_t most, pp_stack_list *list)
{
    const pp_stack_choices *c = p->choices;
    size_t all = ((size_t)1 << c->layers) - 1;
    double *ends = p->best + all * p->total;
    for (size_t taken = 0; taken < most; taken++) {
        size_t top = 0, set = all;
        pp_stack_way way[PP_LAYERS_MAX];
        for (size_t o = 1; o < p->total; o++)
            if (ends[o] < ends[top]) top = o;
        if (isinf(ends[top])) return;
        for (size_t k = c->layers, at = top; k-- > 0;) {
            way[k] = c->way[at];
            size_t next = p->under[set * p->total + at];
            set &= ~((size_t)1 << c->way[at].layer);
            at = next;
        }
        ends[top] = INFINITY;
        pp_stack_list_add(list, way);
    }
}

pp_status pp_stack_list_by_pairs(const pp_stack_ground *coarse, const pp_stack_choices *choices,
                                 size_t most, pp_arena *scratch, pp_stack_list *list,
                                 pp_error *error)
{
    size_t total = choices->total, sets = (size_t)1 << choices->layers;
    if ((double)sets * (double)total * (double)total > TRANSITIONS_MOST) return PP_OK;
    pp_mark mark = pp_arena_mark(scratch);
    pp_held_flat held;
    pairing p = {.choices = choices, .total = total};
    double *top, *under;
    PP_TRY(pp_held_flat_make(coarse, choices, scratch, &held, error));
    PP_TAKE(p.cost, scratch, total * total);
    PP_TAKE(p.best, scratch, sets * total);
    PP_TAKE_ZERO(p.under, scratch, sets * total);
    PP_TAKE(top, scratch, total * held.points);
    PP_TAKE(under, scratch, total * held.points);
    for (int kind = 0; kind < 2; kind++) {
        if (kind == 0) {
            flatten(coarse, total, held.points, held.top, top);
            flatten(coarse, total, held.points, held.under, under);
        } else {
            PP_TRY(bend(&held, total, held.top, top, scratch, error));
            PP_TRY(bend(&held, total, held.under, under, scratch, error));
        }
        fill_cost(&p, &held, top, under, kind == 0);
        find_paths(&p);
        add_paths(&p, most, list);
    }
    pp_arena_release(scratch, mark);
    return PP_OK;
}

#include "bundle/pricing.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/parallel.h"

enum { PARTS = 64, BATCH = 600 };

typedef struct pass {
    const pp_pricing *p;
    pp_plate_moved stand[PP_PLATES_MAX];
    double floor, moved; /* the farthest that a hole can have been moved since the last pass */
    size_t first, count; /* of the queue: the batch */
} pass;

static pp_status bound_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    const pass *s = context;
    const pp_discs *discs = s->p->discs;
    size_t end = pp_part_begin(discs->tubes, PARTS, part + 1);
    for (size_t k = pp_part_begin(discs->tubes, PARTS, part); k < end; k++) {
        pp_disc moved[PP_EDGES_MAX];
        s->p->low[k] -= s->moved;
        if (!s->p->take[k] || s->p->low[k] >= s->floor) continue;
        size_t count = pp_discs_of(discs, k, s->stand, moved);
        s->p->low[k] = fmax(s->p->low[k], pp_passage_at_least(moved, count));
    }
    return PP_OK;
}

static pp_status solve_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    const pass *s = context;
    size_t end = s->first + pp_part_begin(s->count, PARTS, part + 1);
    for (size_t i = s->first + pp_part_begin(s->count, PARTS, part); i < end; i++) {
        pp_disc moved[PP_EDGES_MAX];
        pp_passage line;
        uint32_t tube = s->p->queue[i].tube;
        size_t count = pp_discs_of(s->p->discs, tube, s->stand, moved);
        pp_passage_find(moved, count, &line, NULL);
        s->p->exact[tube] = s->p->low[tube] = line.radius;
    }
    return PP_OK;
}

static int by_low(const void *a, const void *b)
{
    const pp_ranked *p = a, *q = b;
    if (p->low != q->low) return p->low < q->low ? -1 : 1;
    return p->tube < q->tube ? -1 : p->tube > q->tube;
}

/* The queue: tubes whose lower bound is below the floor, the lowest first. Returns their count. */
static size_t line_up(const pp_pricing *p, double floor, double *least)
{
    size_t n = 0, tubes = p->discs->tubes;
    for (size_t k = 0; k < tubes; k++) {
        if (!p->take[k]) continue;
        if (p->low[k] < floor)
            p->queue[n++] = (pp_ranked){p->low[k], (uint32_t)k};
        else if (p->low[k] < *least)
            *least = p->low[k];
    }
    if (n) qsort(p->queue, n, sizeof *p->queue, by_low);
    return n;
}

static double farthest_moved(const pp_pricing *p, const pp_move *moves)
{
    double most = 0;
    for (size_t k = 0; k < p->plates; k++) {
        const pp_move *a = &p->at[k], *b = &moves[k];
        most = fmax(most, hypot(b->dx - a->dx, b->dy - a->dy) +
                              fabs(b->angle - a->angle) * p->play[k].rim);
    }
    return most;
}

static void note(pp_priced *out, double *worst, uint32_t tube, double radius)
{
    size_t at = out->count < PP_PRICED_MAX ? out->count++ : PP_PRICED_MAX - 1;
    if (at == PP_PRICED_MAX - 1 && worst[at] <= radius) return;
    for (; at > 0 && worst[at - 1] > radius; at--) {
        worst[at] = worst[at - 1];
        out->tube[at] = out->tube[at - 1];
    }
    worst[at] = radius;
    out->tube[at] = tube;
}

pp_status pp_pricing_pass(pp_pricing *pricing, const pp_move *moves, double floor, double tolerance,
                          pp_priced *priced, pp_error *error)
{
    pass s = {.p = pricing, .floor = floor, .moved = farthest_moved(pricing, moves)};
    pp_priced out = {.least = INFINITY};
    double worst[PP_PRICED_MAX];
    pp_plate_moved_of(pricing->play, moves, pricing->plates, s.stand);
    for (size_t i = 0; i < PP_PRICED_MAX; i++) worst[i] = INFINITY;
    memcpy(pricing->at, moves, pricing->plates * sizeof *moves);
    PP_TRY(pp_parallel(pricing->threads, PARTS, bound_part, &s, error));
    size_t queued = line_up(pricing, floor, &out.least);
    for (; s.first < queued && !out.count; s.first += s.count) {
        s.count = queued - s.first < BATCH ? queued - s.first : BATCH;
        PP_TRY(pp_parallel(pricing->threads, PARTS, solve_part, &s, error));
        for (size_t i = s.first; i < s.first + s.count; i++) {
            uint32_t tube = pricing->queue[i].tube;
            double radius = pricing->exact[tube];
            if (radius < out.least) out.least = radius;
            if (radius < floor - tolerance) note(&out, worst, tube, radius);
        }
    }
    out.complete = s.first >= queued;
    *priced = out;
    return PP_OK;
}

/* A plan that holds for other surveys of the same plate. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "holddown/planner.h"

enum {
    REDRAW_HOLES = 60, /* those that have least to spare */
    TRIES_MAX = 12,    /* of other forces: up until it holds, and back to the least that does */
    ONE_IN = 20        /* of so many redraws it may fail in */
};
/* from one force tried to the next */
static const double FIRST = 1.06, LEAST = 1.03, FURTHEST = 1.6;
/* times the plan's forces: what takes more wants another clamp, not a harder one */
static const double MOST = 1.5;

/* Forces tried: as many times those of the plan first found */
typedef struct tried {
    double share;
    double short_by; /* in the worst redraw that counts, mm; 0: enough hold */
    pp_plan made;
    pp_chosen clamps[PP_PLAN_CLAMPS_MAX];
} tried;

/* By how much the plan falls short on the plate with this difference of shape; *worst grows. */
static pp_status falls_short(pp_planner *p, const double *change, size_t count,
                             const uint32_t *holes, double *short_by, double *worst,
                             pp_error *error)
{
    const pp_hold_plate *plate = p->plate;
    pp_hold_plate other;
    pp_mark keep = pp_arena_mark(&p->memory->keep);
    pp_status status =
        pp_hold_plate_reshape(plate, p->request->supports, change, p->memory, &other, error);
    *short_by = INFINITY;
    if (status == PP_OK) {
        p->plate = &other;
        status = pp_planner_evaluate(p, count, holes, error);
        p->plate = plate;
        *short_by = 0;
        for (size_t k = 0; status == PP_OK && k < count; k++) {
            double gap = p->gap[holes[k]];
            *short_by = fmax(*short_by, pp_planner_excess(p, holes[k], gap));
            *worst = fmax(*worst, gap);
        }
    } else if (status == PP_EINPUT) {
        status = PP_OK; /* that shape does not stand on these supports */
    }
    pp_arena_release(&p->memory->keep, keep);
    return status;
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The plan's forces on every redraw, on the holes that have least to spare */
static pp_status try_redraws(pp_planner *p, tried *t, pp_error *error)
{
    const pp_plan_request *r = p->request;
    size_t n = 0;
    uint32_t worst[REDRAW_HOLES];
    double *short_by;
    for (size_t h = 0; h < r->holes->count; h++) {
        size_t at = n < REDRAW_HOLES ? n++ : n;
        if (at == REDRAW_HOLES && p->gap[h] <= p->gap[worst[at - 1]]) continue;
        if (at == REDRAW_HOLES) at--;
        for (; at > 0 && p->gap[worst[at - 1]] < p->gap[h]; at--) worst[at] = worst[at - 1];
        worst[at] = (uint32_t)h;
    }
    pp_mark mark = pp_arena_mark(&p->memory->scratch);
    PP_TAKE(short_by, &p->memory->scratch, r->redraws);
    t->made.redraws = r->redraws;
    t->made.holds = 0;
    t->made.redraw_worst = 0;
    for (size_t k = 0; k < r->redraws; k++) {
        PP_TRY(falls_short(p, r->redraw + k * p->plate->mesh->dofs, n, worst, &short_by[k],
                           &t->made.redraw_worst, error));
        t->made.holds += short_by[k] == 0;
    }
    qsort(short_by, r->redraws, sizeof *short_by, ascending);
    t->short_by = short_by[r->redraws - 1 - r->redraws / ONE_IN];
    pp_arena_release(&p->memory->scratch, mark);
    return PP_OK;
}

/* As many times the first forces, on the scale, in t; false where they are not above those of
 * `low`, or not below those of `high`. */
static bool set_forces(const pp_planner *p, const tried *first, const tried *low, const tried *high,
                       tried *t)
{
    bool above = false, below = high == NULL;
    memcpy(t->clamps, first->clamps, sizeof t->clamps);
    for (size_t k = 0; k < p->count; k++) {
        double wanted = t->share * first->clamps[k].force;
        size_t place = pp_clamp_place_of(wanted);
        if (high && place > 0 && pp_clamp_force_at(place) > wanted)
            place--; /* down on the way back */
        t->clamps[k].force = fmin(pp_clamp_force_at(place), p->most);
        above |= t->clamps[k].force > low->clamps[k].force;
        if (high) below |= t->clamps[k].force < high->clamps[k].force;
    }
    if (first->clamps[0].force > 0) t->share = t->clamps[0].force / first->clamps[0].force;
    return above && below;
}

/* The forces of t on every hole, and on every redraw where they do */
static pp_status try_forces(pp_planner *p, tried *t, pp_error *error)
{
    memcpy(p->clamps, t->clamps, sizeof p->clamps);
    t->short_by = INFINITY;
    PP_TRY(pp_planner_check_all(p, &t->made.found, &t->made, error));
    return t->made.found ? try_redraws(p, t, error) : PP_OK;
}

/* What to try after `low`, before which `lower` was tried: where the line through both comes to
 * nothing */
static double next_share(const tried *lower, const tried *low)
{
    double fallen = lower->short_by - low->short_by, share = FIRST * low->share;
    if (fallen > 0 && isfinite(fallen))
        share = low->share + low->short_by * (low->share - lower->share) / fallen;
    return fmin(MOST, fmin(fmax(share, LEAST * low->share), FURTHEST * low->share));
}

/* Up until it holds, *high, or as far as the forces go and help, *low. */
static pp_status climb(pp_planner *p, const tried *first, tried *low, tried *high, bool *holds,
                       pp_error *error)
{
    tried lower = *first;
    *low = *first;
    *holds = false;
    for (int k = 0; k < TRIES_MAX; k++) {
        tried t = {.share = next_share(&lower, low), .made = first->made};
        if (!set_forces(p, first, low, NULL, &t)) return PP_OK;
        PP_TRY(try_forces(p, &t, error));
        if (t.short_by == 0) {
            *high = t;
            *holds = true;
            return PP_OK;
        }
        if (!t.made.found || t.made.holds < low->made.holds) return PP_OK;
        lower = *low;
        *low = t;
    }
    return PP_OK;
}

/* Down to the least that holds, the forces below it on the scale not doing. */
static pp_status come_back(pp_planner *p, const tried *first, tried low, tried *high,
                           pp_error *error)
{
    for (int k = 0; k < TRIES_MAX; k++) {
        tried t = {.share = (low.share + high->share) / 2, .made = first->made};
        if (!set_forces(p, first, &low, high, &t)) return PP_OK;
        PP_TRY(try_forces(p, &t, error));
        *(t.short_by == 0 ? high : &low) = t;
    }
    return PP_OK;
}

bool pp_plan_is_robust(const pp_plan *plan)
{
    return plan->redraws - plan->holds <= plan->redraws / ONE_IN;
}

pp_status pp_planner_make_robust(pp_planner *p, pp_plan *made, pp_error *error)
{
    if (!p->request->supports || p->request->redraws == 0) return PP_OK;
    bool holds;
    tried first = {.share = 1, .made = *made}, low, high;
    memcpy(first.clamps, p->clamps, sizeof first.clamps);
    PP_TRY(try_redraws(p, &first, error));
    const tried *best = &first;
    if (first.short_by > 0) {
        PP_TRY(climb(p, &first, &low, &high, &holds, error));
        if (holds) PP_TRY(come_back(p, &first, low, &high, error));
        best = holds ? &high : &low;
    }
    memcpy(p->clamps, best->clamps, sizeof p->clamps);
    *made = best->made;
    return PP_OK;
}

pp_status pp_planner_try_redraws(pp_planner *p, pp_plan *made, pp_error *error)
{
    tried t = {.share = 1, .made = *made};
    PP_TRY(try_redraws(p, &t, error));
    *made = t.made;
    return PP_OK;
}

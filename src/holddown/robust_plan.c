/* A plan that holds for other surveys of the same plate. */
#include <math.h>
#include <string.h>

#include "holddown/planner.h"

enum {
    REDRAW_HOLES = 60, /* those that have least to spare */
    RAISES_MAX = 5     /* of the forces */
};

/* Whether the plan holds on the plate with this difference of shape; *worst grows. */
static pp_status holds_on(pp_planner *p, const double *change, size_t count, const uint32_t *holes,
                          bool *holds, double *worst, pp_error *error)
{
    const pp_hold_plate *plate = p->plate;
    pp_hold_plate other;
    pp_mark keep = pp_arena_mark(&p->memory->keep);
    pp_status status =
        pp_hold_plate_reshape(plate, p->request->supports, change, p->memory, &other, error);
    *holds = false;
    if (status == PP_OK) {
        p->plate = &other;
        status = pp_planner_evaluate(p, count, holes, error);
        p->plate = plate;
        *holds = status == PP_OK && pp_planner_total_excess(p, count, holes) == 0;
        for (size_t k = 0; status == PP_OK && k < count; k++)
            *worst = fmax(*worst, p->gap[holes[k]]);
    } else if (status == PP_EINPUT) {
        status = PP_OK; /* that shape does not stand on these supports */
    }
    pp_arena_release(&p->memory->keep, keep);
    return status;
}

/* In how many redraws it holds, on the holes that have least to spare */
static pp_status count_holds(pp_planner *p, pp_plan *made, pp_error *error)
{
    const pp_plan_request *r = p->request;
    size_t n = 0;
    uint32_t worst[REDRAW_HOLES];
    for (size_t h = 0; h < r->holes->count; h++) {
        size_t at = n < REDRAW_HOLES ? n++ : n;
        if (at == REDRAW_HOLES && p->gap[h] <= p->gap[worst[at - 1]]) continue;
        if (at == REDRAW_HOLES) at--;
        for (; at > 0 && p->gap[worst[at - 1]] < p->gap[h]; at--) worst[at] = worst[at - 1];
        worst[at] = (uint32_t)h;
    }
    made->redraws = r->redraws;
    made->holds = 0;
    made->redraw_worst = 0;
    for (size_t k = 0; k < r->redraws; k++) {
        bool holds;
        PP_TRY(holds_on(p, r->redraw + k * p->plate->mesh->dofs, n, worst, &holds,
                        &made->redraw_worst, error));
        made->holds += holds;
    }
    return PP_OK;
}

static bool holds_enough(const pp_plan *plan) { return plan->holds * 20 >= plan->redraws * 19; }

static bool raise(pp_planner *p)
{
    bool any = false;
    for (size_t k = 0; k < p->count; k++) {
        double more = PP_CLAMP_STEP * ceil(0.06 * p->clamps[k].force / PP_CLAMP_STEP);
        double force = fmin(p->clamps[k].force + more, p->most);
        any |= force > p->clamps[k].force;
        p->clamps[k].force = force;
    }
    return any;
}

/* Raise the forces until the plan holds in 19 of 20 redraws, or as far as they go; what does not
 * help is taken back. */
pp_status pp_planner_make_robust(pp_planner *p, pp_plan *made, pp_error *error)
{
    if (!p->request->supports || p->request->redraws == 0) return PP_OK;
    PP_TRY(count_holds(p, made, error));
    for (int k = 0; k < RAISES_MAX && !holds_enough(made); k++) {
        pp_chosen before[PP_PLAN_CLAMPS_MAX];
        pp_plan raised = *made;
        memcpy(before, p->clamps, sizeof before);
        if (!raise(p)) return PP_OK;
        PP_TRY(pp_planner_check_all(p, &raised.found, &raised, error));
        if (raised.found) PP_TRY(count_holds(p, &raised, error));
        if (!raised.found || raised.holds < made->holds) {
            memcpy(p->clamps, before, sizeof before);
            return PP_OK;
        }
        *made = raised;
    }
    return PP_OK;
}

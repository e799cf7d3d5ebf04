/* What a set of clamps makes of the holes: gaps under the foot, and whether they pass. */
#include <math.h>
#include <string.h>

#include "base/compare.h"
#include "holddown/planner.h"

enum { CLAMPS_MAX = PP_PLAN_CLAMPS_MAX };

typedef pp_planner planner;

static double limit(const planner *p) { return p->request->question->gap_limit; }

/* How far a hole is from passing. On pins a hole that sags without clamps is not theirs to mend. */
double pp_planner_excess(const planner *p, uint32_t hole, double gap)
{
    double over = gap - limit(p);
    if (!p->plate->table) {
        double sag = -limit(p) - gap, before = -limit(p) - p->request->answers[hole].gap_under_foot;
        if (before <= 0) over = fmax(over, sag);
    }
    return pp_more_than(over, 0) ? over : 0;
}

double pp_planner_total_excess(const planner *p, size_t count, const uint32_t *holes)
{
    double sum = 0;
    for (size_t k = 0; k < count; k++) sum += pp_planner_excess(p, holes[k], p->gap[holes[k]]);
    return sum;
}

/* Evaluation ---------------------------------------------------------------------------- */

/* forces[CLAMPS_MAX] of the clamps but one; how many */
static size_t list_forces(const planner *p, size_t leave_out, pp_hold_force *forces)
{
    const pp_candidates *c = &p->candidates;
    size_t n = 0;
    for (size_t k = 0; k < p->count; k++) {
        if (k == leave_out) continue;
        size_t q = p->clamps[k].candidate;
        forces[n] = (pp_hold_force){.force = p->clamps[k].force,
                                    .deflection = c->deflection + q * p->plate->mesh->dofs};
        memcpy(forces[n++].rigid, c->rigid[q], sizeof forces->rigid);
    }
    return n;
}

pp_status pp_planner_settle(planner *p, const pp_contact_base *start, pp_error *error)
{
    pp_hold_force forces[CLAMPS_MAX];
    size_t n = list_forces(p, SIZE_MAX, forces);
    return pp_hold_settle(p->plate, NULL, n, forces, start, p->memory, &p->with, error);
}

/* For the foot alone: see pp_hold_resettle, after which gaps are the same to some 1e-6 mm */
static pp_status resettle(planner *p, size_t leave_out, pp_hold_state *state, pp_error *error)
{
    pp_hold_force forces[CLAMPS_MAX];
    size_t n = list_forces(p, leave_out, forces);
    if (p->anew) return pp_hold_settle(p->plate, NULL, n, forces, p->rest, p->memory, state, error);
    return pp_hold_resettle(p->plate, n, forces, p->memory, state, error);
}

static pp_status press(planner *p, const pp_hold_state *state, size_t count, const uint32_t *holes,
                       pp_error *error)
{
    PP_TRY(pp_hold_press(
        p->plate, state,
        &(pp_hold_visit){
            .question = &p->question, .places = p->request->holes, .count = count, .which = holes},
        p->memory, p->answers, NULL, error));
    for (size_t k = 0; k < count; k++) p->gap[holes[k]] = p->answers[k].gap_under_foot;
    return PP_OK;
}

/* Those of the holes that stand under the pad of clamp k, into p->subset */
static size_t find_under_pad(planner *p, size_t k, size_t count, const uint32_t *holes)
{
    const pp_candidates *c = &p->candidates;
    size_t q = p->clamps[k].candidate, n = 0;
    for (size_t b = c->block_begin[q]; b < c->block_begin[q + 1]; b++)
        for (size_t i = 0; i < count; i++)
            if (holes[i] == c->blocks[b]) p->subset[n++] = c->blocks[b];
    return n;
}

static pp_status press_under_pads(planner *p, size_t count, const uint32_t *holes, pp_error *error)
{
    for (size_t k = 0; k < p->count; k++) {
        size_t n = find_under_pad(p, k, count, holes);
        if (n == 0) continue;
        PP_TRY(resettle(p, k, &p->without, error));
        PP_TRY(press(p, &p->without, n, p->subset, error));
        p->pressed += n;
    }
    return PP_OK;
}

/* Gap under the foot of these holes with all clamps on; of a hole under a pad, with that clamp
 * moved away. */
pp_status pp_planner_evaluate(planner *p, size_t count, const uint32_t *holes, pp_error *error)
{
    PP_TRY(resettle(p, SIZE_MAX, &p->with, error));
    PP_TRY(press(p, &p->with, count, holes, error));
    p->pressed += count;
    return press_under_pads(p, count, holes, error);
}

static bool under_a_pad(const planner *p, uint32_t hole)
{
    for (size_t k = 0; k < p->count; k++)
        if (pp_planner_blocks(&p->candidates, p->clamps[k].candidate, hole)) return true;
    return false;
}

static bool is_among(uint32_t hole, size_t count, const uint32_t *holes)
{
    for (size_t k = 0; k < count; k++)
        if (holes[k] == hole) return true;
    return false;
}

/* A set that does not do mostly fails at the holes where the one before did: whether one of those,
 * not under any pad, fails with the clamps settled as they are. */
static pp_status ask_suspects(planner *p, size_t count, const uint32_t *holes, bool *fails,
                              pp_error *error)
{
    uint32_t asked[PP_PLAN_SUSPECTS];
    size_t n = 0;
    *fails = false;
    for (size_t k = 0; k < p->suspect_count; k++)
        if (!under_a_pad(p, p->suspects[k]) && is_among(p->suspects[k], count, holes))
            asked[n++] = p->suspects[k];
    if (n == 0) return PP_OK;
    PP_TRY(press(p, &p->with, n, asked, error));
    *fails = pp_planner_total_excess(p, n, asked) > 0;
    return PP_OK;
}

static void find_suspects(planner *p, size_t count, const uint32_t *holes)
{
    size_t n = 0;
    double excess[PP_PLAN_SUSPECTS];
    for (size_t k = 0; k < count; k++) {
        double over = pp_planner_excess(p, holes[k], p->gap[holes[k]]);
        size_t at = n;
        while (at > 0 && excess[at - 1] < over) at--;
        if (over == 0 || at == PP_PLAN_SUSPECTS || under_a_pad(p, holes[k])) continue;
        if (n < PP_PLAN_SUSPECTS) n++;
        for (size_t l = n - 1; l > at; l--)
            excess[l] = excess[l - 1], p->suspects[l] = p->suspects[l - 1];
        excess[at] = over;
        p->suspects[at] = holes[k];
    }
    p->suspect_count = n;
}

pp_status pp_planner_passes(planner *p, size_t count, const uint32_t *holes, bool *pass,
                            pp_error *error)
{
    bool fails;
    *pass = false;
    PP_TRY(resettle(p, SIZE_MAX, &p->with, error));
    p->pressed += count;
    PP_TRY(ask_suspects(p, count, holes, &fails, error));
    if (fails) {
        for (size_t k = 0; k < p->count; k++) p->pressed += find_under_pad(p, k, count, holes);
        return PP_OK;
    }
    PP_TRY(press(p, &p->with, count, holes, error));
    PP_TRY(press_under_pads(p, count, holes, error));
    *pass = pp_planner_total_excess(p, count, holes) == 0;
    if (!*pass) find_suspects(p, count, holes);
    return PP_OK;
}

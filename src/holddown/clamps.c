#include "holddown/clamps.h"

#include <math.h>
#include <string.h>

#include "base/compare.h"
#include "holddown/curvature.h"
#include "holddown/planner.h"

enum {
    CLAMPS_MAX = PP_PLAN_CLAMPS_MAX,
    EVEN_MAX = 8,        /* equal clamps looked for */
    EVEN_ROUNDS = 3,     /* of one count, each with the holes the last one forgot */
    PRESSES_MOST = 8000, /* holes pressed until the search is given up */
    TRIM_HOLES = 80,     /* of the worst, while forces are trimmed; all are checked afterwards */
    PASSES_MAX = 6,      /* plans checked on all holes, each with the holes the last one forgot */
    REFUSALS_MAX = 5,    /* candidates that promise to help and do not, before giving up */
    BIN_CELLS = 2        /* one watched hole in every 2 x 2 cells: the gap is smooth between them */
};
static const double OPEN_LEAST = 0.02;                        /* mm: a clamp needs a gap to close */
static const double UNLIMITED_MARGIN = 1.5, WEIGHTS_MAX = 10; /* see most_force */
static const double LEAST_GAIN = 0.01; /* of the excess: less is not worth a clamp */

typedef pp_planner planner;
typedef pp_clamp_influence influence;
typedef pp_chosen chosen;

/* Watched holes: the worst of each bin of cells, and later of those that were found not to pass all
 * the same. */
static pp_status watch(planner *p, bool only_failing, pp_error *error)
{
    const pp_mesh *mesh = p->plate->mesh;
    const pp_hold_places *holes = p->request->holes;
    size_t across = mesh->nx / BIN_CELLS + 1, along = mesh->ny / BIN_CELLS + 1;
    pp_mark mark = pp_arena_mark(&p->memory->scratch);
    uint32_t *worst;
    PP_TAKE(worst, &p->memory->scratch, across * along);
    for (size_t b = 0; b < across * along; b++) worst[b] = PP_NONE;
    for (size_t h = 0; h < holes->count; h++) {
        if (p->is_watched[h]) continue;
        if (only_failing && pp_planner_excess(p, (uint32_t)h, p->gap[h]) == 0) continue;
        pp_mesh_place place = pp_mesh_find(mesh, holes->x[h], holes->y[h]);
        uint32_t *at = &worst[place.j / BIN_CELLS * across + place.i / BIN_CELLS];
        if (*at == PP_NONE || p->gap[h] > p->gap[*at]) *at = (uint32_t)h;
    }
    for (size_t b = 0; b < across * along; b++) {
        if (worst[b] == PP_NONE) continue;
        p->watched[p->watched_count++] = worst[b];
        p->is_watched[worst[b]] = true;
    }
    pp_arena_release(&p->memory->scratch, mark);
    return PP_OK;
}

/* The best next clamp ------------------------------------------------------------------- */

static pp_status take_influence(const planner *p, influence *f, pp_error *error)
{
    size_t m = p->plate->points.count, n = p->candidates.count;
    pp_arena *arena = &p->memory->scratch;
    PP_TAKE(f->d, arena, m * n);
    PP_TAKE(f->motion, arena, 3 * n);
    PP_TAKE(f->work, arena, 2 * m * n);
    PP_TAKE(f->g, arena, m);
    PP_TAKE(f->useful, arena, n);
    PP_TAKE(f->alone, arena, n);
    PP_TAKE_ZERO(f->score, arena, n);
    return PP_OK;
}

/* down movement of a probe per newton at candidate q, nothing changing contact */
double pp_planner_drop(const planner *p, const influence *f, const pp_probe *probe, const double *g,
                       size_t q)
{
    const pp_candidates *c = &p->candidates;
    double direct = pp_probe_field(probe, c->deflection + q * p->plate->mesh->dofs);
    return -pp_contact_flexibility(&p->with.base, direct, g, probe->rigid,
                                   f->d + q * p->plate->points.count, f->motion + 3 * q);
}

bool pp_planner_blocks(const pp_candidates *c, size_t q, uint32_t hole)
{
    for (size_t b = c->block_begin[q]; b < c->block_begin[q + 1]; b++)
        if (c->blocks[b] == hole) return true;
    return false;
}

pp_status pp_planner_influence(const planner *p, influence *f, pp_error *error)
{
    const pp_candidates *c = &p->candidates;
    size_t m = p->plate->points.count;
    PP_TRY(take_influence(p, f, error));
    pp_contact_columns(&p->with.base, c->count, c->g, &c->rigid[0][0], f->d, f->motion, f->work);
    pp_probe probe;
    for (size_t q = 0; q < c->count; q++) {
        pp_probe_point(&p->plate->compliance, c->x[q], c->y[q], 0, 0, &probe);
        double gap = pp_probe_field(&probe, p->with.field);
        double give = pp_planner_drop(p, f, &probe, c->g + q * m, q);
        f->alone[q] = gap > OPEN_LEAST && give > 0 ? gap / give : 0;
        f->useful[q] = fmin(f->alone[q], p->most);
    }
    return PP_OK;
}

static pp_status score_candidates(const planner *p, const bool *banned, influence *f,
                                  pp_error *error)
{
    const pp_candidates *c = &p->candidates;
    const pp_hold_places *holes = p->request->holes;
    pp_probe probe;
    PP_TRY(pp_planner_influence(p, f, error));
    for (size_t k = 0; k < p->watched_count; k++) {
        uint32_t h = p->watched[k];
        double over = pp_planner_excess(p, h, p->gap[h]);
        pp_probe_point(&p->plate->compliance, holes->x[h], holes->y[h], 0, 0, &probe);
        pp_influence_probe(&p->plate->influence, &probe, f->g);
        for (size_t q = 0; q < c->count; q++) {
            if (banned[q] || f->useful[q] == 0 || pp_planner_blocks(c, q, h)) continue;
            double gap = p->gap[h] - pp_planner_drop(p, f, &probe, f->g, q) * f->useful[q];
            if (p->plate->table) gap = fmax(gap, 0);
            f->score[q] += over - pp_planner_excess(p, h, gap);
        }
    }
    return PP_OK;
}

/* Holes under a clamp have to pass with it moved away: watch them too. */
void pp_planner_watch_blocked(planner *p, size_t candidate)
{
    const pp_candidates *c = &p->candidates;
    for (size_t b = c->block_begin[candidate]; b < c->block_begin[candidate + 1]; b++) {
        if (p->is_watched[c->blocks[b]]) continue;
        p->is_watched[c->blocks[b]] = true;
        p->watched[p->watched_count++] = c->blocks[b];
    }
}

/* Try one more clamp of this force: kept when the watched holes come nearer to passing, which
 * *total tells. */
static pp_status try_clamp(planner *p, size_t candidate, double force, double *total, bool *kept,
                           pp_error *error)
{
    p->clamps[p->count++] = (chosen){candidate, force, force};
    pp_planner_watch_blocked(p, candidate);
    PP_TRY(pp_planner_evaluate(p, p->watched_count, p->watched, error));
    double after = pp_planner_total_excess(p, p->watched_count, p->watched);
    *kept = after < *total * (1 - LEAST_GAIN);
    if (*kept)
        *total = after;
    else
        p->count--;
    return PP_OK;
}

/* Add the clamp that helps most; *added = false when none does. State and gaps are then those of
 * the clamps tried last: with it, where one was added. */
static pp_status add_best(planner *p, double *total, bool *added, bool *beyond, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&p->memory->scratch);
    influence f = {0};
    bool *banned;
    *added = false;
    PP_TAKE_ZERO(banned, &p->memory->scratch, p->candidates.count);
    for (size_t k = 0; k < p->count; k++) banned[p->clamps[k].candidate] = true;
    PP_TRY(pp_planner_settle(p, &p->with.base, error));
    PP_TRY(score_candidates(p, banned, &f, error));
    for (int refusal = 0; refusal < REFUSALS_MAX && !*added; refusal++) {
        size_t best = SIZE_MAX;
        for (size_t q = 0; q < p->candidates.count; q++)
            if (f.score[q] > 0 && (best == SIZE_MAX || f.score[q] > f.score[best])) best = q;
        if (best == SIZE_MAX) break;
        if (refusal == 0) *beyond = pp_given(p->request->force_limit) && f.alone[best] > p->most;
        /* On a table give all there is: the linear estimate falls short where contact opens
         * elsewhere, and too much mostly goes into the table; it is trimmed later. Where that
         * lifts the plate elsewhere, as on pins, what closes the gap by itself. */
        if (p->plate->table) PP_TRY(try_clamp(p, best, p->most, total, added, error));
        if (!*added) PP_TRY(try_clamp(p, best, f.useful[best], total, added, error));
        f.score[best] = 0;
    }
    pp_arena_release(&p->memory->scratch, mark);
    return PP_OK;
}

static pp_status add_clamps(planner *p, bool *beyond, bool *pass, pp_error *error)
{
    bool first = p->count == 0, added = true, over = false;
    if (!first) PP_TRY(pp_planner_evaluate(p, p->watched_count, p->watched, error));
    double total = pp_planner_total_excess(p, p->watched_count, p->watched);
    while (total > 0 && p->count < CLAMPS_MAX && added) {
        PP_TRY(add_best(p, &total, &added, &over, error));
        if (first) *beyond = over;
        first = false;
    }
    *pass = total == 0;
    return PP_OK;
}

/* Fewer and weaker ---------------------------------------------------------------------- */

static void remove_clamp(planner *p, size_t k)
{
    memmove(&p->clamps[k], &p->clamps[k + 1], (p->count - k - 1) * sizeof *p->clamps);
    p->count--;
}

static pp_status prune(planner *p, pp_error *error)
{
    for (size_t k = 0; k < p->count && p->count > 1;) {
        bool pass;
        chosen taken = p->clamps[k];
        remove_clamp(p, k);
        PP_TRY(pp_planner_passes(p, p->watched_count, p->watched, &pass, error));
        if (pass) continue;
        memmove(&p->clamps[k + 1], &p->clamps[k], (p->count - k) * sizeof *p->clamps);
        p->clamps[k++] = taken;
        p->count++;
    }
    return PP_OK;
}

/* The watched holes with the largest gaps under the plan, largest first; ties as watched */
static size_t worst_holes(const planner *p, uint32_t *worst)
{
    size_t n = 0;
    for (size_t k = 0; k < p->watched_count; k++) {
        size_t at = n < TRIM_HOLES ? n++ : n;
        double gap = p->gap[p->watched[k]];
        if (at == TRIM_HOLES && gap <= p->gap[worst[at - 1]]) continue;
        if (at == TRIM_HOLES) at--;
        for (; at > 0 && p->gap[worst[at - 1]] < gap; at--) worst[at] = worst[at - 1];
        worst[at] = p->watched[k];
    }
    return n;
}

/* The least force of each clamp, in whole steps, that keeps these holes passing */
static pp_status trim_for(planner *p, size_t count, const uint32_t *holes, pp_error *error)
{
    for (size_t k = 0; k < p->count; k++) {
        double full = p->clamps[k].force;
        size_t fails = 0, holds = pp_clamp_place_of(full);
        while (holds - fails > 1) {
            size_t middle = (holds + fails) / 2;
            bool pass;
            p->clamps[k].force = fmin(full, pp_clamp_force_at(middle));
            PP_TRY(pp_planner_passes(p, count, holes, &pass, error));
            if (pass)
                holds = middle;
            else
                fails = middle;
        }
        p->clamps[k].force = fmin(full, pp_clamp_force_at(holds));
    }
    return PP_OK;
}

static pp_status trim(planner *p, pp_error *error)
{
    uint32_t worst[TRIM_HOLES];
    bool pass;
    PP_TRY(pp_planner_evaluate(p, p->watched_count, p->watched, error));
    size_t n = worst_holes(p, worst);
    PP_TRY(trim_for(p, n, worst, error));
    PP_TRY(pp_planner_passes(p, p->watched_count, p->watched, &pass, error));
    if (pass) return PP_OK;
    for (size_t k = 0; k < p->count; k++) p->clamps[k].force = p->clamps[k].full_force;
    return trim_for(p, p->watched_count, p->watched, error);
}

/* The plan ------------------------------------------------------------------------------ */

static void note_checked(planner *p)
{
    memcpy(p->checked, p->gap, p->request->holes->count * sizeof *p->checked);
    p->checked_count = p->count;
    for (size_t k = 0; k < p->count; k++)
        p->checked_at[k] = (chosen){p->clamps[k].candidate, p->clamps[k].force, 0};
}

static bool is_checked(const planner *p)
{
    if (p->count == 0 || p->checked_count != p->count) return false;
    for (size_t k = 0; k < p->count; k++)
        if (p->checked_at[k].candidate != p->clamps[k].candidate ||
            p->checked_at[k].force != p->clamps[k].force)
            return false;
    return true;
}

/* Every hole, clamps on; and what the supports then carry. */
pp_status pp_planner_check_all(planner *p, bool *pass, pp_plan *made, pp_error *error)
{
    size_t count = p->request->holes->count;
    p->anew = true;
    PP_TRY(pp_planner_evaluate(p, count, p->all, error));
    p->anew = false;
    *pass = pp_planner_total_excess(p, count, p->all) == 0;
    made->worst_gap = 0;
    for (size_t h = 0; h < count; h++) made->worst_gap = fmax(made->worst_gap, p->gap[h]);
    note_checked(p);
    if (!*pass || p->plate->table || !pp_given(p->request->pin_load_limit)) return PP_OK;
    pp_hold_question both = p->question;
    double *force;
    if (pp_given(both.thrust)) both.force += both.thrust;
    pp_mark mark = pp_arena_mark(&p->memory->scratch);
    PP_TAKE(force, &p->memory->scratch, p->plate->supports.count);
    PP_TRY(pp_hold_press(
        p->plate, &p->with,
        &(pp_hold_visit){.question = &both, .places = p->request->holes, .count = count}, p->memory,
        p->answers, force, error));
    made->largest_support_force = 0;
    for (size_t i = 0; i < p->plate->supports.count; i++)
        made->largest_support_force = fmax(made->largest_support_force, force[i]);
    pp_arena_release(&p->memory->scratch, mark);
    if (pp_more_than(made->largest_support_force, p->request->pin_load_limit)) {
        made->pins_overloaded = true;
        *pass = false;
    }
    return PP_OK;
}

/* Without a limit on clamps, one has no business pressing much harder than the foot itself would
 * have to at the worst hole. */
static double most_force(const planner *p)
{
    const pp_plan_request *r = p->request;
    double worst = 0;
    if (pp_given(r->force_limit)) return r->force_limit;
    for (size_t h = 0; h < r->holes->count; h++)
        worst = fmax(worst, r->answers[h].force_to_close); /* skips NaN */
    if (worst == 0) worst = r->question->force_cap;
    return pp_given(worst) ? UNLIMITED_MARGIN * worst : WEIGHTS_MAX * p->plate->weight;
}

static pp_status take_planner(planner *p, pp_error *error)
{
    pp_arena *arena = &p->memory->scratch;
    size_t count = p->request->holes->count;
    PP_TRY(pp_hold_state_take(p->plate, arena, &p->with, error));
    PP_TRY(pp_hold_state_take(p->plate, arena, &p->without, error));
    PP_TAKE(p->watched, arena, count);
    PP_TAKE(p->is_watched, arena, count);
    PP_TAKE(p->gap, arena, count);
    PP_TAKE(p->checked, arena, count);
    PP_TAKE(p->answers, arena, count);
    PP_TAKE(p->subset, arena, count);
    PP_TAKE(p->all, arena, count);
    for (size_t h = 0; h < count; h++) p->all[h] = (uint32_t)h;
    return PP_OK;
}

/* No clamps, and the gaps without any */
static pp_status start(planner *p, const pp_contact_base *base, pp_error *error)
{
    size_t count = p->request->holes->count;
    p->rest = base;
    p->count = p->watched_count = 0;
    memset(p->is_watched, 0, count * sizeof *p->is_watched);
    for (size_t h = 0; h < count; h++) p->gap[h] = p->request->answers[h].gap_under_foot;
    PP_TRY(pp_planner_settle(p, base, error));
    return watch(p, false, error);
}

/* A plate that changes contact almost everywhere takes a millisecond a hole: no search for ever. */
static bool given_up(const planner *p) { return p->pressed > PRESSES_MOST; }

/* Sets of n equal clamps, checked on all holes */
static pp_status plan_with(planner *p, size_t n, pp_plan *made, pp_error *error)
{
    for (int round = 0; round < EVEN_ROUNDS; round++) {
        bool pass;
        PP_TRY(pp_even_clamps(p, n, &pass, error));
        if (!pass) break;
        PP_TRY(pp_planner_check_all(p, &made->found, made, error));
        if (made->found || made->pins_overloaded) break;
        PP_TRY(watch(p, true, error));
    }
    return PP_OK;
}

/* The plan does not hold on enough redraws, at half as much force again: one clamp more may. */
static pp_status plan_with_one_more(planner *p, pp_plan *made, pp_error *error)
{
    chosen before[CLAMPS_MAX];
    size_t count = p->count;
    pp_plan more = {0};
    memcpy(before, p->clamps, sizeof before);
    PP_TRY(plan_with(p, count + 1, &more, error));
    if (more.found) PP_TRY(pp_planner_make_robust(p, &more, error));
    if (more.found && pp_plan_is_robust(&more)) {
        *made = more;
        return PP_OK;
    }
    memcpy(p->clamps, before, sizeof before);
    p->count = count;
    return PP_OK;
}

/* Equal clamps, the fewest first */
static pp_status plan_even(planner *p, const pp_contact_base *base, pp_plan *made, pp_error *error)
{
    PP_TRY(start(p, base, error));
    for (size_t n = 1; n <= EVEN_MAX && !made->found && !given_up(p); n++)
        PP_TRY(plan_with(p, n, made, error));
    if (!made->found) return PP_OK;
    PP_TRY(pp_planner_make_robust(p, made, error));
    return pp_plan_is_robust(made) || p->count == EVEN_MAX ? PP_OK
                                                           : plan_with_one_more(p, made, error);
}

/* One clamp after the other */
static pp_status plan_greedily(planner *p, const pp_contact_base *base, pp_plan *made,
                               pp_error *error)
{
    bool pass = false;
    PP_TRY(start(p, base, error));
    for (int round = 0; round < PASSES_MAX; round++) {
        if (round > 0) PP_TRY(watch(p, true, error));
        for (size_t k = 0; k < p->count; k++) p->clamps[k].force = p->clamps[k].full_force;
        PP_TRY(add_clamps(p, &made->beyond_limit, &pass, error));
        if (!pass) return PP_OK;
        PP_TRY(prune(p, error));
        PP_TRY(trim(p, error));
        PP_TRY(pp_planner_check_all(p, &made->found, made, error));
        if (made->found || made->pins_overloaded) return PP_OK;
    }
    return PP_OK;
}

/* The result ------------------------------------------------------------------------------ */

static pp_status keep(const planner *p, pp_plan *plan, pp_error *error)
{
    const pp_candidates *c = &p->candidates;
    pp_clamp *clamps;
    if (is_checked(p)) { /* the redraws have written over p->gap */
        double *gap;
        PP_TAKE(gap, &p->memory->keep, p->request->holes->count);
        memcpy(gap, p->checked, p->request->holes->count * sizeof *gap);
        plan->gap = gap;
    }
    PP_TAKE(clamps, &p->memory->keep, p->count);
    for (size_t k = 0; k < p->count; k++) {
        size_t q = p->clamps[k].candidate, n = c->block_begin[q + 1] - c->block_begin[q];
        uint32_t *list;
        PP_TAKE(list, &p->memory->keep, n);
        memcpy(list, c->blocks + c->block_begin[q], n * sizeof *list);
        clamps[k] = (pp_clamp){.x = c->x[q],
                               .y = c->y[q],
                               .force = p->clamps[k].force,
                               .block_count = n,
                               .blocks = list};
    }
    plan->clamp_count = p->count;
    plan->clamps = clamps;
    plan->candidates = c->count;
    plan->contact_solves = p->pressed;
    plan->given_up = !plan->found && given_up(p);
    return PP_OK;
}

/* What the clamps bend, against the plate at rest without them */
static pp_status find_stress(planner *p, const pp_hold_state *rest, double *stress, pp_error *error)
{
    size_t n = p->plate->mesh->dofs;
    double *change;
    *stress = 0;
    if (p->count == 0) return PP_OK;
    PP_TAKE(change, &p->memory->scratch, n);
    PP_TRY(pp_planner_settle(p, &p->with.base, error));
    for (size_t i = 0; i < n; i++) change[i] = p->with.field[i] - rest->field[i];
    *stress = pp_curvature_stress(p->request->material, p->plate->mesh, change);
    return PP_OK;
}

pp_status pp_plan_find(const pp_hold_plate *plate, const pp_hold_state *state,
                       const pp_plan_request *request, pp_memory *memory, pp_plan *plan,
                       pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    planner p = {
        .plate = plate, .request = request, .question = *request->question, .memory = memory};
    pp_plan made = {0};
    p.question.only_gap = true;
    p.most = most_force(&p);
    PP_TRY(take_planner(&p, error));
    PP_TRY(pp_candidates_make(plate, request, memory, &p.candidates, error));
    PP_TRY(plan_even(&p, &state->base, &made, error));
    if (!made.found && !given_up(&p)) {
        PP_TRY(plan_greedily(&p, &state->base, &made, error));
        if (made.found) PP_TRY(pp_planner_make_robust(&p, &made, error));
    }
    if (!made.found) { /* half a plan is none */
        p.count = 0;
        made.worst_gap = 0;
        for (size_t h = 0; h < request->holes->count; h++)
            made.worst_gap = fmax(made.worst_gap, request->answers[h].gap_under_foot);
    }
    PP_TRY(keep(&p, &made, error));
    PP_TRY(find_stress(&p, state, &made.stress, error));
    pp_arena_release(&memory->scratch, mark);
    *plan = made;
    return PP_OK;
}

pp_status pp_foot_alone_try(const pp_hold_plate *plate, const pp_hold_state *state,
                            const pp_plan_request *request, pp_memory *memory, pp_plan *plan,
                            pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    planner p = {
        .plate = plate, .request = request, .question = *request->question, .memory = memory};
    pp_plan made = {.found = true};
    p.question.only_gap = true;
    PP_TRY(take_planner(&p, error));
    PP_TRY(start(&p, &state->base, error));
    PP_TRY(pp_planner_try_redraws(&p, &made, error));
    pp_arena_release(&memory->scratch, mark);
    *plan = made;
    return PP_OK;
}

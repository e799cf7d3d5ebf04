#include "stack/clamps.h"

#include <math.h>
#include <string.h>

#include "base/compare.h"
#include "base/constants.h"
#include "base/parallel.h"

enum {
    CELLS = 12, /* on the long side, to choose */
    RIM_PLACES = 16,
    WATCH_WORST = 24,
    WATCH = 40,
    STRENGTHS = 3, /* all of the force, half, a quarter: too much opens gaps elsewhere */
    WORKERS_MOST = 4
};
static const double TO_SPARE = 0.1;    /* share of the limits, on the coarser mesh */
static const double TOO_LITTLE = 1e-3; /* mm: a clamp that gains less does not help */

typedef struct planner {
    const pp_stack_plan_request *request;
    pp_memory *memory;
    pp_stack_ground coarse;
    size_t count; /* of candidates */
    double *x, *y;
    double *coarse_field, *fine_field; /* [count * dofs] each, per newton */
    size_t watch_count;
    uint32_t *watch;
    pp_stack_clamp clamp[PP_STACK_CLAMPS_MAX + 1];
    size_t at[PP_STACK_CLAMPS_MAX + 1]; /* candidate of each */
    size_t clamps, evaluated;
    double *excess; /* [count * STRENGTHS] of the round */
    pp_memory workers[WORKERS_MOST];
} planner;

/* Places --------------------------------------------------------------------------------- */

static bool clear_of_holes(const planner *p, double x, double y, double reach)
{
    const pp_stack_holes_at *holes = p->request->places;
    for (size_t i = 0; i < holes->count; i++)
        if (hypot(holes->x[i] - x, holes->y[i] - y) < reach) return false;
    return true;
}

/* Evenly along the rim, the whole pad on the plate. */
static void rim_place(const pp_mesh *mesh, size_t k, double inset, double *x, double *y)
{
    double a = 2 * PP_PI * (double)k / RIM_PLACES;
    double half_w = mesh->width / 2 - inset, half_h = mesh->height / 2 - inset;
    double c = cos(a), s = sin(a), scale = 1;
    if (mesh->outline != PP_OUTLINE_DISC) scale = 1 / fmax(fabs(c), fabs(s));
    *x = mesh->centre_x + half_w * c * scale;
    *y = mesh->centre_y + half_h * s * scale;
}

static pp_status find_places(planner *p, pp_error *error)
{
    const pp_stack_plan_request *r = p->request;
    const pp_place_list *given = r->candidates;
    const pp_mesh *mesh = r->ground->mesh;
    double pad = pp_given(r->pad) ? r->pad : 0;
    double hole = pp_given(r->hole_diameter) ? r->hole_diameter : 0;
    size_t room = given ? given->count : RIM_PLACES;
    PP_TAKE(p->x, &p->memory->scratch, room);
    PP_TAKE(p->y, &p->memory->scratch, room);
    for (size_t k = 0; k < room; k++) {
        double x, y;
        if (given)
            x = given->x[k], y = given->y[k];
        else
            rim_place(mesh, k, fmax(pad / 2, 1e-3 * mesh->width), &x, &y);
        bool fits = given || r->over_holes || clear_of_holes(p, x, y, (pad + hole) / 2);
        if (!fits || !pp_mesh_inside(mesh, x, y)) continue;
        p->x[p->count] = x;
        p->y[p->count++] = y;
    }
    return PP_OK;
}

/* How a layer with D = 1 bends under one newton at every candidate. */
static pp_status find_fields(const planner *p, const pp_stack_ground *ground, double **fields,
                             pp_error *error)
{
    size_t n = ground->mesh->dofs;
    PP_TAKE_ZERO(*fields, &p->memory->scratch, n * p->count);
    for (size_t k = 0; k < p->count; k++) {
        pp_probe probe;
        pp_probe_point(&ground->compliance, p->x[k], p->y[k], 0, 0, &probe);
        for (size_t i = 0; i < probe.count; i++) (*fields)[n * k + probe.dof[i]] += probe.value[i];
    }
    return pp_compliance_solve(&ground->compliance, p->count, *fields, error);
}

/* Holes ---------------------------------------------------------------------------------- */

/* How far the worst gap of a hole is above its limit. */
static double excess_of(const planner *p, const double *gap)
{
    const pp_stack_question *q = p->request->question;
    double worst = -INFINITY;
    for (size_t k = 0; k < p->request->ground->layers; k++)
        worst = fmax(worst, gap[k] - (k ? q->gap_limit : q->table_gap_limit));
    return worst;
}

/* The worst holes as listed, and others evenly through the list. */
static pp_status choose_watch(planner *p, pp_error *error)
{
    const pp_stack_state *listed = p->request->listed;
    size_t layers = p->request->ground->layers, count = listed->count;
    bool *taken;
    PP_TAKE(p->watch, &p->memory->scratch, WATCH);
    PP_TAKE_ZERO(taken, &p->memory->scratch, count);
    while (p->watch_count < WATCH_WORST && p->watch_count < count) {
        size_t worst = count;
        double most = -INFINITY;
        for (size_t i = 0; i < count; i++) {
            double excess = excess_of(p, listed->at.gap_under_foot + i * layers);
            if (!taken[i] && excess > most) most = excess, worst = i;
        }
        if (worst == count) break;
        taken[worst] = true;
        p->watch[p->watch_count++] = (uint32_t)worst;
    }
    for (size_t i = 0, step = count / (WATCH - WATCH_WORST) + 1; i < count; i += step)
        if (!taken[i] && p->watch_count < WATCH) p->watch[p->watch_count++] = (uint32_t)i;
    return PP_OK;
}

/* Reckoning ------------------------------------------------------------------------------ */

static pp_status press(const pp_stack_ground *ground, const double *fields,
                       const pp_stack_clamp *clamp, const size_t *at, size_t count, pp_arena *arena,
                       pp_stack_pressed *pressed, pp_error *error)
{
    size_t n = ground->mesh->dofs;
    double *field;
    pp_stack_pressed all = {0};
    PP_TAKE_ZERO(field, arena, n);
    for (size_t c = 0; c < count; c++) {
        pp_probe probe;
        pp_probe_point(&ground->compliance, clamp[c].x, clamp[c].y, 0, 0, &probe);
        all.force += clamp[c].force;
        for (int l = 0; l < 3; l++) all.rigid[l] += clamp[c].force * probe.rigid[l];
        for (size_t i = 0; i < n; i++) field[i] += clamp[c].force * fields[n * at[c] + i];
    }
    all.field = field;
    *pressed = all;
    return PP_OK;
}

/* The largest excess of the watched holes with these clamps, on the coarser mesh. */
static pp_status reckon(const planner *p, const pp_stack_clamp *clamp, const size_t *at,
                        size_t count, pp_memory *own, double *excess, pp_error *error)
{
    const pp_stack_plan_request *r = p->request;
    pp_mark mark = pp_arena_mark(&own->keep);
    pp_stack_question question = *r->question;
    pp_stack_pressed pressed;
    pp_stack_state state;
    question.only_gaps = true;
    PP_TRY(press(&p->coarse, p->coarse_field, clamp, at, count, &own->keep, &pressed, error));
    question.pressed = &pressed;
    const pp_stack_visit watched = {&question, r->places, p->watch_count, p->watch, 1};
    PP_TRY(pp_stack_evaluate(&p->coarse, r->listed->pile.way, &watched, &own->keep, &own->scratch,
                             &state, error));
    *excess = -INFINITY;
    for (size_t i = 0; i < p->watch_count; i++)
        *excess = fmax(*excess, excess_of(p, state.at.gap_under_foot + i * p->coarse.layers));
    pp_arena_release(&own->keep, mark);
    return PP_OK;
}

static double strength(const planner *p, size_t part)
{
    double most = p->request->force_most;
    return most / (double)(1u << part % STRENGTHS);
}

static pp_status try_part(void *context, size_t part, int worker, pp_error *error)
{
    planner *p = context;
    size_t candidate = part / STRENGTHS, at[PP_STACK_CLAMPS_MAX + 1];
    pp_stack_clamp clamp[PP_STACK_CLAMPS_MAX + 1];
    p->excess[part] = INFINITY;
    for (size_t c = 0; c < p->clamps; c++)
        if (p->at[c] == candidate) return PP_OK;
    memcpy(clamp, p->clamp, sizeof clamp);
    memcpy(at, p->at, sizeof at);
    clamp[p->clamps] = (pp_stack_clamp){p->x[candidate], p->y[candidate], strength(p, part)};
    at[p->clamps] = candidate;
    return reckon(p, clamp, at, p->clamps + 1, &p->workers[worker], &p->excess[part], error);
}

/* The best clamp more: *helped, and it is taken. */
static pp_status add_best(planner *p, double *excess, bool *helped, pp_error *error)
{
    size_t parts = p->count * STRENGTHS, best = 0;
    int threads = p->request->threads < WORKERS_MOST ? p->request->threads : WORKERS_MOST;
    PP_TRY(pp_parallel(threads, parts, try_part, p, error));
    p->evaluated += parts;
    for (size_t k = 1; k < parts; k++)
        if (pp_less_than(p->excess[k], p->excess[best])) best = k;
    *helped = p->excess[best] < *excess - TOO_LITTLE;
    if (!*helped) return PP_OK;
    size_t candidate = best / STRENGTHS;
    p->at[p->clamps] = candidate;
    p->clamp[p->clamps++] = (pp_stack_clamp){p->x[candidate], p->y[candidate], strength(p, best)};
    *excess = p->excess[best];
    return PP_OK;
}

/* With every hole, on the study's mesh: *within the limits, and the gaps into the plan. */
static pp_status check(planner *p, pp_stack_plan *plan, bool *within, pp_error *error)
{
    const pp_stack_plan_request *r = p->request;
    pp_mark mark = pp_arena_mark(&p->memory->scratch);
    size_t layers = r->ground->layers;
    pp_stack_question question = *r->question;
    pp_stack_pressed pressed;
    pp_stack_state state;
    double worst = -INFINITY, table = -INFINITY, between = 0;
    question.only_gaps = true;
    PP_TRY(press(r->ground, p->fine_field, p->clamp, p->at, p->clamps, &p->memory->scratch,
                 &pressed, error));
    question.pressed = &pressed;
    const pp_stack_visit every_hole = {.question = &question,
                                       .places = r->places,
                                       .count = r->places->count,
                                       .threads = r->threads};
    PP_TRY(pp_stack_evaluate(r->ground, r->listed->pile.way, &every_hole, &p->memory->scratch,
                             &p->memory->scratch, &state, error));
    for (size_t i = 0; i < r->places->count; i++) {
        const double *gap = state.at.gap_under_foot + i * layers;
        worst = fmax(worst, excess_of(p, gap));
        table = fmax(table, gap[0]);
        for (size_t k = 1; k < layers; k++) between = fmax(between, gap[k]);
    }
    p->evaluated++;
    *within = pp_at_most(worst, 0);
    plan->worst_gap = between;
    plan->worst_table_gap = table;
    pp_arena_release(&p->memory->scratch, mark);
    return PP_OK;
}

static double wanted(const planner *p)
{
    const pp_stack_question *q = p->request->question;
    return -TO_SPARE * fmin(q->gap_limit, q->table_gap_limit);
}

/* Take away or halve what is not needed, on the coarser mesh. */
static pp_status trim(planner *p, pp_error *error)
{
    for (size_t c = p->clamps; c-- > 0;)
        for (int half = 0; half < 2; half++) {
            pp_stack_clamp clamp[PP_STACK_CLAMPS_MAX + 1];
            double excess;
            memcpy(clamp, p->clamp, sizeof clamp);
            clamp[c].force *= half ? 0.5 : 0;
            PP_TRY(reckon(p, clamp, p->at, p->clamps, &p->workers[0], &excess, error));
            p->evaluated++;
            if (excess > wanted(p)) continue;
            p->clamp[c].force = clamp[c].force;
            break;
        }
    size_t left = 0;
    for (size_t c = 0; c < p->clamps; c++)
        if (p->clamp[c].force > 0) p->clamp[left] = p->clamp[c], p->at[left++] = p->at[c];
    p->clamps = left;
    return PP_OK;
}

static pp_status keep_plan(planner *p, pp_stack_plan *plan, pp_error *error)
{
    PP_TRY(check(p, plan, &plan->found, error));
    plan->count = p->clamps;
    memcpy(plan->clamp, p->clamp, sizeof plan->clamp);
    return PP_OK;
}

static pp_status plan_clamps(planner *p, pp_stack_plan *plan, pp_error *error)
{
    double excess;
    bool helped = p->count > 0;
    PP_TRY(reckon(p, p->clamp, p->at, 0, &p->workers[0], &excess, error));
    while (helped && p->clamps < PP_STACK_CLAMPS_MAX && excess > wanted(p))
        PP_TRY(add_best(p, &excess, &helped, error));
    PP_TRY(keep_plan(p, plan, error));
    if (plan->found && excess <= wanted(p)) {
        pp_stack_plan trimmed = *plan;
        PP_TRY(trim(p, error));
        PP_TRY(keep_plan(p, &trimmed, error));
        if (trimmed.found) *plan = trimmed;
    }
    plan->evaluated = p->evaluated;
    return PP_OK;
}

pp_status pp_stack_plan_find(const pp_stack_plan_request *request, pp_memory *memory,
                             pp_stack_plan *plan, pp_error *error)
{
    planner p = {.request = request, .memory = memory};
    pp_stack_plan made = {.asked = true};
    pp_mark mark = pp_arena_mark(&memory->scratch);
    PP_TRY(find_places(&p, error));
    made.candidates = p.count;
    PP_TRY(choose_watch(&p, error));
    const pp_stack_ground_request coarse = {.spec = request->ground->spec,
                                            .pins = request->pins,
                                            .cells = CELLS,
                                            .threads = request->threads};
    PP_TRY(pp_stack_ground_make(&coarse, memory, &p.coarse, error));
    PP_TRY(find_fields(&p, &p.coarse, &p.coarse_field, error));
    PP_TRY(find_fields(&p, request->ground, &p.fine_field, error));
    PP_TAKE(p.excess, &memory->scratch, p.count * STRENGTHS);
    pp_status status = plan_clamps(&p, &made, error);
    for (int t = 0; t < WORKERS_MOST; t++) pp_memory_free(&p.workers[t]);
    pp_arena_release(&memory->scratch, mark);
    if (status == PP_OK) *plan = made;
    return status;
}

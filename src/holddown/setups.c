#include "holddown/setups.h"

#include <math.h>

#include "holddown/clamp_forces.h"
#include "holddown/drilling_order.h"

typedef struct lister {
    const pp_setup_request *request;
    pp_memory *memory;
    uint64_t *pads; /* [holes] clamps whose pads cover each, as bits */
    size_t set_count;
    uint64_t *sets;  /* [set_count] different ones: none first, then fewest, then lowest */
    size_t *members; /* [set_count] holes of each */
    pp_drill_setup *setups;
    pp_hold_force *forces, *on; /* [clamps] all; those of one state */
    pp_hold_state state;
    pp_hold_answer *answers; /* [holes] */
    double *support;         /* [supports] */
} lister;

/* Which sets of clamps are lifted --------------------------------------------------------- */

static int bits_of(uint64_t set)
{
    int bits = 0;
    for (; set; set &= set - 1) bits++;
    return bits;
}

static bool comes_before(uint64_t a, uint64_t b)
{
    int of_a = bits_of(a), of_b = bits_of(b);
    return of_a < of_b || (of_a == of_b && a < b);
}

static void add_to_set(lister *l, uint64_t set)
{
    size_t at = 0;
    while (at < l->set_count && comes_before(l->sets[at], set)) at++;
    if (at == l->set_count || l->sets[at] != set) { /* few: by insertion */
        for (size_t k = l->set_count++; k > at; k--)
            l->sets[k] = l->sets[k - 1], l->members[k] = l->members[k - 1];
        l->sets[at] = set;
        l->members[at] = 0;
    }
    l->members[at]++;
}

static pp_status find_sets(lister *l, pp_error *error)
{
    const pp_setup_request *r = l->request;
    pp_arena *scratch = &l->memory->scratch;
    PP_TAKE_ZERO(l->pads, scratch, r->holes->count);
    PP_TAKE(l->sets, scratch, r->holes->count + 1);
    PP_TAKE(l->members, scratch, r->holes->count + 1);
    for (size_t k = 0; k < r->clamp_count; k++)
        for (size_t b = 0; b < r->clamps[k].block_count; b++)
            l->pads[r->clamps[k].blocks[b]] |= (uint64_t)1 << k;
    add_to_set(l, 0); /* be it without a hole: the clamps are on before any is lifted */
    l->members[0] = 0;
    for (size_t h = 0; h < r->holes->count; h++) add_to_set(l, l->pads[h]);
    return PP_OK;
}

/* Each of them ------------------------------------------------------------------------------ */

static pp_status fill_setup(lister *l, size_t which, pp_error *error)
{
    const pp_setup_request *r = l->request;
    pp_drill_setup *s = &l->setups[which];
    uint64_t set = l->sets[which];
    uint32_t *lifted, *holes;
    pp_drilling_path path;
    *s = (pp_drill_setup){.worst_hole = PP_NONE, .largest_support_force = NAN};
    PP_TAKE(lifted, &l->memory->keep, (size_t)bits_of(set));
    PP_TAKE(holes, &l->memory->keep, l->members[which]);
    for (size_t k = 0; k < r->clamp_count; k++)
        if (set >> k & 1) lifted[s->lifted_count++] = (uint32_t)k;
    for (size_t h = 0; h < r->holes->count; h++)
        if (l->pads[h] == set) holes[s->hole_count++] = (uint32_t)h;
    s->lifted = lifted;
    s->holes = holes;
    PP_TRY(
        pp_drilling_order_make(&(pp_drilling_pattern){r->holes->x, r->holes->y, r->pitch, r->order},
                               s->hole_count, holes, &l->memory->scratch, &path, error));
    s->travel = path.travel;
    s->travel_by_rows = path.travel_by_rows;
    s->sweeps = path.sweeps;
    return PP_OK;
}

/* Under the foot with its thrust, what each pin carries */
static pp_status find_support_force(lister *l, pp_drill_setup *s, pp_error *error)
{
    const pp_setup_request *r = l->request;
    if (r->plate->table) return PP_OK;
    pp_hold_question both = *r->question;
    both.only_gap = true;
    if (pp_given(both.thrust)) both.force += both.thrust;
    PP_TRY(pp_hold_press(
        r->plate, &l->state,
        &(pp_hold_visit){
            .question = &both, .places = r->holes, .count = s->hole_count, .which = s->holes},
        l->memory, l->answers, l->support, error));
    s->largest_support_force = 0;
    for (size_t i = 0; i < r->plate->supports.count; i++)
        s->largest_support_force = fmax(s->largest_support_force, l->support[i]);
    return PP_OK;
}

/* gaps[hole_count] as computed, in: of each hole; out: as they are said */
static void fold_gaps(const lister *l, pp_drill_setup *s, double *gaps)
{
    s->worst_gap = s->hole_count ? -INFINITY : 0;
    for (size_t k = 0; k < s->hole_count; k++) {
        double gap = gaps[k];
        if (l->request->plate->table) gap = fmax(gap, 0);
        gaps[k] = gap;
        s->deepest_sag = fmax(s->deepest_sag, -gap);
        if (gap > s->worst_gap) s->worst_gap = gap, s->worst_hole = s->holes[k];
    }
}

static pp_status solve_setup(lister *l, size_t which, double *gaps, pp_error *error)
{
    const pp_setup_request *r = l->request;
    pp_drill_setup *s = &l->setups[which];
    pp_hold_question question = *r->question;
    question.only_gap = true;
    size_t n = 0;
    for (size_t k = 0; k < r->clamp_count; k++)
        if (!(l->sets[which] >> k & 1)) l->on[n++] = l->forces[k];
    PP_TRY(pp_hold_settle(r->plate, NULL, n, l->on, &r->rest->base, l->memory, &l->state, error));
    if (!s->hole_count) return PP_OK;
    PP_TRY(pp_hold_press(
        r->plate, &l->state,
        &(pp_hold_visit){
            .question = &question, .places = r->holes, .count = s->hole_count, .which = s->holes},
        l->memory, l->answers, NULL, error));
    for (size_t k = 0; k < s->hole_count; k++) gaps[k] = l->answers[k].gap_under_foot;
    fold_gaps(l, s, gaps);
    return find_support_force(l, s, error);
}

/* On pins their loads are asked, too; and with two clamps off nobody has looked at it. */
static bool is_known(const lister *l, size_t which)
{
    const pp_setup_request *r = l->request;
    return r->plate->table && r->gap && bits_of(l->sets[which]) < 2;
}

static pp_status fill_setups(lister *l, pp_error *error)
{
    const pp_setup_request *r = l->request;
    pp_arena *scratch = &l->memory->scratch;
    PP_TAKE(l->setups, &l->memory->keep, l->set_count);
    PP_TAKE(l->forces, scratch, r->clamp_count);
    PP_TAKE(l->on, scratch, r->clamp_count);
    PP_TAKE(l->answers, scratch, r->holes->count);
    PP_TAKE(l->support, scratch, r->plate->supports.count);
    PP_TRY(pp_hold_state_take(r->plate, scratch, &l->state, error));
    PP_TRY(pp_clamp_forces(r->plate, r->clamp_count, r->clamps, l->memory, l->forces, error));
    for (size_t k = 0; k < l->set_count; k++) {
        double *gaps;
        PP_TRY(fill_setup(l, k, error));
        PP_TAKE(gaps, &l->memory->keep, l->setups[k].hole_count);
        l->setups[k].gap = gaps;
        pp_drill_setup *s = &l->setups[k];
        if (r->clamp_count && !is_known(l, k)) {
            PP_TRY(solve_setup(l, k, gaps, error));
            continue;
        }
        for (size_t i = 0; i < s->hole_count; i++) /* solved before, as laid if without clamps */
            gaps[i] = r->clamp_count ? r->gap[s->holes[i]] : r->answers[s->holes[i]].gap_under_foot;
        fold_gaps(l, s, gaps);
        if (!r->plate->table) s->largest_support_force = r->rest_support_force;
    }
    return PP_OK;
}

/* What is done, step by step ---------------------------------------------------------------- */

static pp_status order_clamps(const lister *l, const uint32_t **tighten, pp_error *error)
{
    const pp_mesh *mesh = l->request->plate->mesh;
    const pp_clamp *clamps = l->request->clamps;
    uint32_t *order;
    PP_TAKE(order, &l->memory->keep, l->request->clamp_count);
    for (uint32_t k = 0; k < l->request->clamp_count; k++) { /* few: by insertion */
        double from = hypot(clamps[k].x - mesh->centre_x, clamps[k].y - mesh->centre_y);
        size_t at = k;
        for (; at > 0; at--) {
            const pp_clamp *before = &clamps[order[at - 1]];
            if (hypot(before->x - mesh->centre_x, before->y - mesh->centre_y) <= from) break;
            order[at] = order[at - 1];
        }
        order[at] = k;
    }
    *tighten = order;
    return PP_OK;
}

static pp_status list_steps(const lister *l, pp_setup_list *list, pp_error *error)
{
    size_t clamps = l->request->clamp_count, room = 2 * clamps, n = 0;
    pp_setup_step *steps;
    for (size_t k = 0; k < l->set_count; k++) room += 1 + 2 * l->setups[k].lifted_count;
    PP_TAKE(steps, &l->memory->keep, room);
    for (size_t i = 0; i < clamps; i++)
        steps[n++] = (pp_setup_step){PP_STEP_TIGHTEN, 0, list->tighten[i]};
    for (uint32_t k = 0; k < l->set_count; k++) {
        const pp_drill_setup *s = &l->setups[k];
        for (size_t i = 0; i < s->lifted_count; i++)
            steps[n++] = (pp_setup_step){PP_STEP_LIFT, k, s->lifted[i]};
        steps[n++] = (pp_setup_step){PP_STEP_DRILL, k, PP_NONE};
        for (size_t i = s->lifted_count; i > 0; i--)
            steps[n++] = (pp_setup_step){PP_STEP_PUT_BACK, k, s->lifted[i - 1]};
    }
    for (size_t i = clamps; i > 0; i--)
        steps[n++] =
            (pp_setup_step){PP_STEP_RELEASE, (uint32_t)l->set_count - 1, list->tighten[i - 1]};
    list->step_count = n;
    list->steps = steps;
    return PP_OK;
}

pp_status pp_setups_list(const pp_setup_request *request, pp_memory *memory, pp_setup_list *list,
                         pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    lister l = {.request = request, .memory = memory};
    pp_setup_list made = {0};
    PP_TRY(find_sets(&l, error));
    PP_TRY(fill_setups(&l, error));
    made.count = l.set_count;
    made.setups = l.setups;
    PP_TRY(order_clamps(&l, &made.tighten, error));
    PP_TRY(list_steps(&l, &made, error));
    pp_arena_release(&memory->scratch, mark);
    *list = made;
    return PP_OK;
}

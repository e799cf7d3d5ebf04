#include "holddown/shims.h"

#include <math.h>
#include <string.h>

#include "base/compare.h"

enum {
    SHIMS_MAX = 48,          /* on a table: more than that is bedding, not shimming */
    AT_ONCE_MAX = 6,         /* shims added between two studies */
    STACK_STEPS_MAX = 100000 /* 100 mm in steps of 1 um */
};
static const double STEP = 1e-3; /* mm */

/* Fewest pieces to every height up to the gap, by dynamic programming */
pp_status pp_shim_stack(const pp_job_list *stock, double gap, pp_arena *scratch,
                        double pieces[PP_SHIM_PIECES], size_t *count, pp_error *error)
{
    *count = 0;
    if (!(gap >= STEP)) return PP_OK;
    pp_mark mark = pp_arena_mark(scratch);
    double steps = floor((gap + PP_ALLOWANCE) / STEP);
    size_t top = steps < STACK_STEPS_MAX ? (size_t)steps : STACK_STEPS_MAX, best = 0;
    uint8_t *fewest;
    uint32_t *last; /* stock item laid on last */
    PP_TAKE(fewest, scratch, top + 1);
    PP_TAKE(last, scratch, top + 1);
    memset(fewest, PP_SHIM_PIECES + 1, top + 1);
    fewest[0] = 0;
    for (size_t h = 1; h <= top; h++)
        for (size_t k = 0; k < stock->count; k++) {
            double thick = round(stock->values[k] / STEP);
            if (!(thick >= 1) || thick > (double)h) continue;
            size_t below = h - (size_t)thick;
            if (fewest[below] + 1 >= fewest[h]) continue;
            fewest[h] = (uint8_t)(fewest[below] + 1);
            last[h] = (uint32_t)k;
            best = h;
        }
    for (size_t h = best; h > 0; h -= (size_t)round(stock->values[last[h]] / STEP)) {
        size_t at = (*count)++;
        for (; at > 0 && pieces[at - 1] < stock->values[last[h]]; at--) pieces[at] = pieces[at - 1];
        pieces[at] = stock->values[last[h]];
    }
    pp_arena_release(scratch, mark);
    return PP_OK;
}

typedef struct shimming {
    const pp_hold_plate *plate;
    const pp_hold_state *bare;
    pp_hold_question question; /* for gaps alone, the thrust added to the force */
    const pp_hold_places *holes;
    const pp_hold_answer *answers;
    const pp_job_list *stock;
    pp_memory *memory;
    double *gap;    /* [supports] as laid */
    double *raised; /* [supports] by shims */
    bool *tried;    /* [supports] */
    pp_shim *shims; /* [SHIMS_MAX or pins] */
    size_t count, unfit;
    pp_hold_state state;  /* with shims */
    pp_hold_answer *with; /* [holes] */
    uint32_t *failing;
    pp_hold_answer *some;
} shimming;

/* The hole that a shim at this place of the table lies under: within a mesh cell, as it is put
 * where the nearest contact point of a hole stands. */
static uint32_t hole_above(const shimming *s, double x, double y)
{
    uint32_t nearest = PP_NONE;
    double best = hypot(s->plate->mesh->hx, s->plate->mesh->hy);
    for (size_t h = 0; h < s->holes->count; h++) {
        double d = hypot(s->holes->x[h] - x, s->holes->y[h] - y);
        if (d < best) best = d, nearest = (uint32_t)h;
    }
    return nearest;
}

/* Shim one support; nothing when no stock fits its gap. */
static pp_status shim_support(shimming *s, size_t support, pp_error *error)
{
    const pp_supports *supports = &s->plate->supports;
    s->tried[support] = true;
    if (s->gap[support] <= fmax(s->plate->touch_gap, PP_ALLOWANCE)) return PP_OK;
    pp_shim shim = {.x = supports->x[support],
                    .y = supports->y[support],
                    .pin = supports->pin ? supports->pin[support] : -1,
                    .gap = s->gap[support]};
    PP_TRY(pp_shim_stack(s->stock, shim.gap, &s->memory->scratch, shim.pieces, &shim.piece_count,
                         error));
    for (size_t k = 0; k < shim.piece_count; k++) shim.thickness += shim.pieces[k];
    if (shim.piece_count == 0) {
        s->unfit++;
        return PP_OK;
    }
    shim.hole = s->plate->table ? hole_above(s, shim.x, shim.y) : PP_NONE;
    s->raised[support] = shim.thickness;
    s->shims[s->count++] = shim;
    return PP_OK;
}

/* What foot and thrust still do at a hole: it comes down to the support, or moves until a shim
 * stops it */
static double remaining(const pp_hold_answer *a)
{
    return fmin(fmax(a->gap_under_foot, 0), a->gap - a->gap_under_foot);
}

static bool fails(const shimming *s, size_t hole)
{
    return pp_more_than(s->with[hole].gap, s->question.gap_limit) &&
           pp_more_than(remaining(&s->with[hole]), s->question.gap_limit);
}

static pp_status settle(shimming *s, pp_error *error)
{
    return pp_hold_settle(s->plate, s->raised, 0, NULL, &s->bare->base, s->memory, &s->state,
                          error);
}

static pp_status study_all(shimming *s, pp_error *error)
{
    PP_TRY(settle(s, error));
    return pp_hold_press(
        s->plate, &s->state,
        &(pp_hold_visit){.question = &s->question, .places = s->holes, .count = s->holes->count},
        s->memory, s->with, NULL, error);
}

/* Only what did not pass; a hole that did may do so no longer where a shim keeps it from closing */
static pp_status study_failing(shimming *s, pp_error *error)
{
    size_t n = 0;
    for (size_t h = 0; h < s->holes->count; h++)
        if (fails(s, h)) s->failing[n++] = (uint32_t)h;
    PP_TRY(settle(s, error));
    PP_TRY(pp_hold_press(
        s->plate, &s->state,
        &(pp_hold_visit){
            .question = &s->question, .places = s->holes, .count = n, .which = s->failing},
        s->memory, s->some, NULL, error));
    for (size_t k = 0; k < n; k++) s->with[s->failing[k]] = s->some[k];
    return PP_OK;
}

static size_t nearest_untried(const shimming *s, double x, double y)
{
    size_t nearest = SIZE_MAX;
    double best = INFINITY;
    for (size_t i = 0; i < s->plate->supports.count; i++) {
        double d = hypot(s->plate->supports.x[i] - x, s->plate->supports.y[i] - y);
        if (d < best) best = d, nearest = i;
    }
    return nearest != SIZE_MAX && !s->tried[nearest] ? nearest : SIZE_MAX;
}

/* Under the worst holes that do not pass, some cells apart */
static pp_status shim_worst(shimming *s, bool *any, pp_error *error)
{
    enum { CELLS_APART = 3 };
    double apart = CELLS_APART * fmax(s->plate->mesh->hx, s->plate->mesh->hy);
    double x[AT_ONCE_MAX], y[AT_ONCE_MAX];
    size_t placed = 0;
    *any = false;
    while (placed < AT_ONCE_MAX && s->count < SHIMS_MAX) {
        size_t worst = SIZE_MAX, support = SIZE_MAX;
        for (size_t h = 0; h < s->holes->count; h++) {
            if (!fails(s, h)) continue;
            if (worst != SIZE_MAX && remaining(&s->with[h]) <= remaining(&s->with[worst])) continue;
            bool near = false;
            for (size_t k = 0; k < placed; k++)
                near |= hypot(s->holes->x[h] - x[k], s->holes->y[h] - y[k]) < apart;
            if (near) continue;
            size_t under = nearest_untried(s, s->holes->x[h], s->holes->y[h]);
            if (under == SIZE_MAX) continue;
            worst = h, support = under;
        }
        if (worst == SIZE_MAX) return PP_OK;
        x[placed] = s->holes->x[worst];
        y[placed++] = s->holes->y[worst];
        size_t before = s->count;
        PP_TRY(shim_support(s, support, error));
        *any |= s->count > before;
    }
    return PP_OK;
}

static pp_status take_shimming(shimming *s, pp_error *error)
{
    size_t m = s->plate->supports.count;
    pp_arena *arena = &s->memory->scratch;
    PP_TAKE(s->gap, arena, m);
    PP_TAKE_ZERO(s->raised, arena, m);
    PP_TAKE_ZERO(s->tried, arena, m);
    PP_TAKE(s->shims, &s->memory->keep, s->plate->table ? SHIMS_MAX : m);
    PP_TAKE(s->with, arena, s->holes->count);
    PP_TAKE(s->failing, arena, s->holes->count);
    PP_TAKE(s->some, arena, s->holes->count);
    const pp_contact_base *base = &s->bare->base;
    for (size_t j = 0; j < m; j++) s->gap[base->order[j]] = j < base->active ? 0 : base->v[j];
    return pp_hold_state_take(s->plate, arena, &s->state, error);
}

static pp_status place_shims(shimming *s, pp_error *error)
{
    size_t most = s->plate->supports.count;
    if (!s->plate->table) {
        for (size_t i = 0; i < most; i++) PP_TRY(shim_support(s, i, error));
        return study_all(s, error);
    }
    memcpy(s->with, s->answers, s->holes->count * sizeof *s->with);
    for (bool any, whole = false;;) {
        PP_TRY(shim_worst(s, &any, error));
        if (any)
            PP_TRY(study_failing(s, error));
        else if (!whole)
            PP_TRY(study_all(s, error));
        else
            return PP_OK;
        whole = !any;
    }
}

pp_status pp_shims_find(const pp_shim_request *request, pp_memory *memory, pp_shims *shims,
                        pp_error *error)
{
    const pp_hold_places *holes = request->holes;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    shimming s = {.plate = request->plate,
                  .bare = request->state,
                  .question = *request->question,
                  .holes = holes,
                  .answers = request->answers,
                  .stock = request->stock,
                  .memory = memory};
    s.question.only_gap = true;
    if (pp_given(s.question.thrust)) s.question.force += s.question.thrust;
    PP_TRY(take_shimming(&s, error));
    PP_TRY(place_shims(&s, error));
    pp_shims made = {.count = s.count, .shims = s.shims, .unfit = s.unfit};
    pp_hold_gap *gaps;
    PP_TAKE(gaps, &memory->keep, holes->count);
    for (size_t h = 0; h < holes->count; h++) {
        gaps[h] = (pp_hold_gap){s.with[h].gap, remaining(&s.with[h])};
        made.worst_gap = fmax(made.worst_gap, gaps[h].under_foot);
    }
    made.gaps = gaps;
    pp_arena_release(&memory->scratch, mark);
    *shims = made;
    return PP_OK;
}

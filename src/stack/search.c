#include "stack/search.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "base/parallel.h"
#include "stack/lists.h"

enum {
    LIST_CELLS = 10, /* on the long side: finer, the load held flat says less */
    RANK_CELLS = 12, /* to rank arrangements */
    BY_LOAD = 10,    /* from each list */
    BY_PAIRS = 4,
    BY_CHANCE = 16,
    FINALISTS = 3,
    WATCH_WORST = 20, /* holes watched while ranking: the worst as listed, the others spread out */
    WATCH = 64,
    WORKERS_MOST = 4
};

typedef struct search {
    const pp_stack_search_request *request;
    pp_memory *memory;
    pp_stack_choices choices;
    pp_stack_ground rank_ground;
    size_t watch_count;
    const uint32_t *watch;
    pp_stack_list list;
    pp_stack_arranged *arranged; /* [list.count] */
    pp_memory workers[WORKERS_MOST];
} search;

/* Holes to watch ------------------------------------------------------------------------- */

static bool worse_hole(const pp_stack_state *s, size_t a, size_t b)
{
    double fa = s->at.answers[a].force_to_close, fb = s->at.answers[b].force_to_close;
    if (isnan(fa) != isnan(fb)) return isnan(fa);
    if (!isnan(fa) && fa != fb) return fa > fb;
    return a < b;
}

/* The worst hole not taken yet, and the one farthest from all that are. */
static pp_status choose_watch(search *s, pp_error *error)
{
    const pp_stack_holes_at *at = s->request->places;
    size_t count = at->count, wanted = count < WATCH ? count : WATCH;
    uint32_t *watch;
    double *far;
    bool *taken;
    PP_TAKE(watch, &s->memory->scratch, wanted);
    PP_TAKE(far, &s->memory->scratch, count);
    PP_TAKE_ZERO(taken, &s->memory->scratch, count);
    for (size_t i = 0; i < count; i++) far[i] = INFINITY;
    for (size_t w = 0; w < wanted; w++) {
        size_t next = SIZE_MAX;
        for (size_t i = 0; i < count; i++) {
            if (taken[i]) continue;
            bool better =
                next == SIZE_MAX ||
                (w < WATCH_WORST ? worse_hole(s->request->listed, i, next) : far[i] > far[next]);
            if (better) next = i;
        }
        taken[next] = true;
        watch[w] = (uint32_t)next;
        for (size_t i = 0; i < count; i++)
            far[i] = fmin(far[i], hypot(at->x[i] - at->x[next], at->y[i] - at->y[next]));
    }
    s->watch = watch;
    s->watch_count = wanted;
    return PP_OK;
}

/* Candidates ----------------------------------------------------------------------------- */

/* A coarser ground of the same layers; pins NULL: on a table. */
static pp_status make_coarse(const search *s, size_t cells, const pp_place_list *pins,
                             pp_stack_ground *coarse, pp_error *error)
{
    const pp_stack_search_request *r = s->request;
    const pp_stack_ground_request request = {
        .spec = r->ground->spec, .pins = pins, .cells = cells, .threads = r->threads};
    return pp_stack_ground_make(&request, s->memory, coarse, error);
}

static pp_status list_candidates(search *s, bool all, size_t allowed, pp_error *error)
{
    s->list.layers = s->choices.layers;
    s->list.room = all ? allowed : BY_LOAD + 2 * BY_PAIRS + BY_CHANCE + 2;
    PP_TAKE(s->list.way, &s->memory->scratch, s->list.room * s->list.layers);
    if (all) {
        pp_stack_choices_list(&s->choices, s->list.way);
        s->list.count = allowed;
        return PP_OK;
    }
    pp_stack_ground coarse;
    PP_TRY(make_coarse(s, LIST_CELLS, NULL, &coarse, error));
    PP_TRY(pp_stack_list_by_load(&coarse, &s->choices, BY_LOAD, &s->memory->scratch, &s->list,
                                 error)); /* its first stays first */
    PP_TRY(pp_stack_list_by_pairs(&coarse, &s->choices, BY_PAIRS, &s->memory->scratch, &s->list,
                                  error));
    pp_stack_list_add(&s->list, s->choices.listed);
    pp_stack_way upright[PP_LAYERS_MAX]; /* as listed, all one way up */
    for (size_t k = 0; k < s->choices.layers; k++) {
        upright[k] = s->choices.listed[k];
        size_t layer = upright[k].layer, first = s->choices.first[layer];
        for (size_t o = s->choices.count[layer]; o-- > 0;)
            if (!s->choices.way[first + o].over) upright[k] = s->choices.way[first + o];
    }
    pp_stack_list_add(&s->list, upright);
    pp_stack_list_by_chance(&s->choices, BY_CHANCE, &s->list);
    return PP_OK;
}

static pp_status rank_part(void *context, size_t part, int worker, pp_error *error)
{
    search *s = context;
    pp_memory *own = &s->workers[worker];
    pp_mark keep = pp_arena_mark(&own->keep);
    pp_stack_state state;
    const pp_stack_visit watched = {s->request->question, s->request->places, s->watch_count,
                                    s->watch, 1};
    PP_TRY(pp_stack_evaluate(&s->rank_ground, s->list.way + part * s->list.layers, &watched,
                             &own->keep, &own->scratch, &state, error));
    pp_stack_fold(&state, &s->arranged[part]);
    pp_arena_release(&own->keep, keep);
    return PP_OK;
}

static pp_status rank(search *s, pp_error *error)
{
    const pp_stack_search_request *r = s->request;
    int threads = r->threads < WORKERS_MOST ? r->threads : WORKERS_MOST;
    PP_TAKE(s->arranged, &s->memory->scratch, s->list.count);
    PP_TRY(make_coarse(s, RANK_CELLS, r->pins, &s->rank_ground, error));
    pp_status status = pp_parallel(threads, s->list.count, rank_part, s, error);
    for (int t = 0; t < WORKERS_MOST; t++) pp_memory_free(&s->workers[t]);
    return status;
}

/* The winner ----------------------------------------------------------------------------- */

static pp_status reckon(search *s, const pp_stack_way *way, bool every_hole,
                        pp_stack_arranged *arranged, pp_error *error)
{
    const pp_stack_search_request *r = s->request;
    pp_mark mark = pp_arena_mark(&s->memory->scratch);
    pp_stack_state state;
    const pp_stack_visit visit = {.question = r->question,
                                  .places = r->places,
                                  .count = every_hole ? r->places->count : s->watch_count,
                                  .which = every_hole ? NULL : s->watch,
                                  .threads = r->threads};
    PP_TRY(pp_stack_evaluate(r->ground, way, &visit, &s->memory->scratch, &s->memory->scratch,
                             &state, error));
    pp_stack_fold(&state, arranged);
    pp_arena_release(&s->memory->scratch, mark);
    return PP_OK;
}

/* Indices of the best of the list, the earlier of equals first */
static size_t best_of(const search *s, size_t wanted, size_t *best)
{
    pp_stack_aim aim = s->request->aim;
    size_t count = 0;
    for (size_t i = 0; i < s->list.count; i++) {
        size_t at = count < wanted ? count++ : wanted;
        for (; at > 0 && pp_stack_better(aim, &s->arranged[i], &s->arranged[best[at - 1]]); at--)
            if (at < wanted) best[at] = best[at - 1];
        if (at < wanted) best[at] = i;
    }
    return count;
}

static pp_status find_winner(search *s, bool all, pp_stack_search *result, pp_error *error)
{
    pp_stack_aim aim = s->request->aim;
    size_t finalist[FINALISTS + 1], count = best_of(s, FINALISTS, finalist);
    bool first_in = all;
    for (size_t i = 0; i < count; i++) first_in |= finalist[i] == 0;
    if (!first_in) finalist[count++] = 0;
    pp_stack_arranged best, now;
    for (size_t i = 0; i < count; i++) {
        PP_TRY(reckon(s, s->list.way + finalist[i] * s->list.layers, false, &now, error));
        if (i == 0 || pp_stack_better(aim, &now, &best)) best = now;
    }
    PP_TRY(reckon(s, best.way, true, &best, error));
    result->better = pp_stack_better(aim, &best, s->request->listed_arranged);
    result->found = result->better ? best : *s->request->listed_arranged;
    return PP_OK;
}

pp_status pp_stack_search_run(const pp_stack_search_request *request, pp_memory *memory,
                              pp_stack_search *result, pp_error *error)
{
    search s = {.request = request, .memory = memory};
    pp_stack_search r = {.found = *request->listed_arranged};
    pp_mark mark = pp_arena_mark(&memory->scratch);
    PP_TRY(pp_stack_choices_make(&request->freedom, &memory->scratch, &s.choices, error));
    size_t allowed = pp_stack_choices_count(&s.choices);
    r.all_tried = allowed <= PP_STACK_ALL_MOST;
    PP_TRY(choose_watch(&s, error));
    PP_TRY(list_candidates(&s, r.all_tried, allowed, error));
    PP_TRY(rank(&s, error));
    r.evaluated = s.list.count;
    PP_TRY(find_winner(&s, r.all_tried, &r, error));
    pp_arena_release(&memory->scratch, mark);
    *result = r;
    return PP_OK;
}

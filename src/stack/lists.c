#include "stack/lists.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "stack/held_flat.h"

enum { STARTS = 30, STEPS_MOST = 500 };
static const double SMALLER = 1e-9; /* of the cost: no step for less */

void pp_stack_list_add(pp_stack_list *list, const pp_stack_way *way)
{
    for (size_t i = 0; i < list->count; i++)
        if (pp_stack_same_ways(list->way + i * list->layers, way, list->layers)) return;
    if (list->count == list->room) return;
    memcpy(list->way + list->count++ * list->layers, way, list->layers * sizeof *way);
}

/* SplitMix64 (Steele, Lea, Flood, OOPSLA 2014) */
static uint64_t draw(uint64_t *state)
{
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static size_t draw_below(uint64_t *state, size_t count) { return (size_t)(draw(state) % count); }

/* An arrangement as orientations: at each place the index in choices->way. */
typedef struct arrangement {
    size_t at[PP_LAYERS_MAX];
    double cost;
} arrangement;

typedef struct loading {
    const pp_stack_choices *choices;
    const pp_held_flat *held;
    double *above; /* [m] load from above */
} loading;

/* Pull that the loads held flat would need: sum over interfaces between layers and points of the
 * negative loads squared. */
static double pull_of(const loading *l, const arrangement *a)
{
    size_t m = l->held->points, n = l->choices->layers;
    double cost = 0;
    memset(l->above, 0, m * sizeof *l->above);
    for (size_t k = n; k-- > 1;) {
        const double *load = l->held->load + a->at[k] * m;
        for (size_t i = 0; i < m; i++) {
            double r = l->above[i] += load[i];
            if (r < 0) cost += r * r;
        }
    }
    return cost;
}

/* The best of all arrangements one change away: an orientation, or two layers exchanged. */
static bool step_down(const loading *l, arrangement *a)
{
    const pp_stack_choices *c = l->choices;
    arrangement best = *a;
    for (size_t k = 0; k < c->layers; k++) {
        size_t layer = c->way[a->at[k]].layer;
        for (size_t o = 0; o < c->count[layer]; o++) {
            arrangement next = *a;
            next.at[k] = c->first[layer] + o;
            next.cost = pull_of(l, &next);
            if (next.cost < best.cost) best = next;
        }
        for (size_t j = 0; c->order && j < k; j++) {
            if (c->fixed[j] != SIZE_MAX || c->fixed[k] != SIZE_MAX) continue;
            arrangement next = *a;
            next.at[k] = a->at[j], next.at[j] = a->at[k];
            next.cost = pull_of(l, &next);
            if (next.cost < best.cost) best = next;
        }
    }
    bool smaller = best.cost < a->cost * (1 - SMALLER);
    if (smaller) *a = best;
    return smaller;
}

static void random_start(const pp_stack_choices *c, uint64_t *state, arrangement *a)
{
    size_t layer[PP_LAYERS_MAX];
    for (size_t k = 0; k < c->layers; k++) layer[k] = c->listed[k].layer;
    for (size_t k = c->layers; c->order && k-- > 1;) {
        if (c->fixed[k] != SIZE_MAX) continue;
        size_t j = draw_below(state, k + 1);
        if (c->fixed[j] != SIZE_MAX) continue;
        size_t kept = layer[k];
        layer[k] = layer[j], layer[j] = kept;
    }
    for (size_t k = 0; k < c->layers; k++)
        a->at[k] = c->first[layer[k]] + draw_below(state, c->count[layer[k]]);
}

static void add_arrangement(const pp_stack_choices *c, const arrangement *a, pp_stack_list *list)
{
    pp_stack_way way[PP_LAYERS_MAX];
    for (size_t k = 0; k < c->layers; k++) way[k] = c->way[a->at[k]];
    pp_stack_list_add(list, way);
}

pp_status pp_stack_list_by_load(const pp_stack_ground *coarse, const pp_stack_choices *choices,
                                size_t most, pp_arena *scratch, pp_stack_list *list,
                                pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    pp_held_flat held;
    loading l = {.choices = choices, .held = &held};
    arrangement found[STARTS];
    uint64_t state = 1;
    PP_TRY(pp_held_flat_make(coarse, choices, scratch, &held, error));
    PP_TAKE(l.above, scratch, held.points);
    for (size_t s = 0; s < STARTS; s++) {
        arrangement a;
        if (s == 0)
            for (size_t k = 0; k < choices->layers; k++)
                a.at[k] = choices->first[choices->listed[k].layer];
        else
            random_start(choices, &state, &a);
        a.cost = pull_of(&l, &a);
        for (int i = 0; i < STEPS_MOST && step_down(&l, &a); i++) continue;
        size_t at = s; /* best first; the earlier of equals */
        for (; at > 0 && found[at - 1].cost > a.cost; at--) found[at] = found[at - 1];
        found[at] = a;
    }
    size_t room = list->count + most < list->room ? list->count + most : list->room;
    for (size_t s = 0; s < STARTS && list->count < room; s++)
        add_arrangement(choices, &found[s], list);
    pp_arena_release(scratch, mark);
    return PP_OK;
}

void pp_stack_list_by_chance(const pp_stack_choices *choices, size_t most, pp_stack_list *list)
{
    uint64_t state = 2;
    for (size_t k = 0; k < most; k++) {
        arrangement a;
        random_start(choices, &state, &a);
        add_arrangement(choices, &a, list);
    }
}

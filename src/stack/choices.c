#include "stack/choices.h"

#include <stdint.h>
#include <string.h>

static size_t faces_of(const pp_stack_freedom *freedom, const pp_layer *layer)
{
    return freedom->faces && layer->face == PP_FACE_EITHER ? 2 : 1;
}

static size_t turns_of(const pp_stack_freedom *freedom, const pp_layer *layer)
{
    return freedom->turns ? layer->turns.count : 1;
}

pp_status pp_stack_choices_make(const pp_stack_freedom *freedom, pp_arena *arena,
                                pp_stack_choices *choices, pp_error *error)
{
    pp_stack_choices c = {.layers = freedom->layer_count, .order = freedom->order};
    for (size_t i = 0; i < c.layers; i++) {
        c.first[i] = c.total;
        c.count[i] =
            faces_of(freedom, &freedom->layers[i]) * turns_of(freedom, &freedom->layers[i]);
        c.total += c.count[i];
    }
    pp_stack_way *way;
    PP_TAKE(way, arena, c.total);
    for (size_t i = 0; i < c.layers; i++) {
        const pp_layer *layer = &freedom->layers[i];
        size_t faces = faces_of(freedom, layer), turns = turns_of(freedom, layer);
        for (size_t f = 0; f < faces; f++)
            for (size_t t = 0; t < turns; t++)
                way[c.first[i] + f * turns + t] =
                    (pp_stack_way){.layer = i,
                                   .over = faces == 2 ? f == 1 : layer->face == PP_FACE_OVER,
                                   .turn_deg = layer->turns.values[t]};
    }
    c.way = way;
    for (size_t k = 0; k < c.layers; k++) {
        size_t layer = freedom->listed[k];
        c.listed[k] = way[c.first[layer]];
        c.fixed[k] = !c.order || freedom->layers[layer].place ? layer : SIZE_MAX;
    }
    *choices = c;
    return PP_OK;
}

bool pp_stack_may_lie(const pp_stack_choices *c, size_t layer, size_t place)
{
    if (c->fixed[place] != SIZE_MAX) return c->fixed[place] == layer;
    for (size_t k = 0; k < c->layers; k++)
        if (c->fixed[k] == layer) return false;
    return true;
}

size_t pp_stack_choices_count(const pp_stack_choices *c)
{
    size_t count = 1, free = 0;
    for (size_t k = 0; k < c->layers; k++) {
        if (c->fixed[k] == SIZE_MAX) count *= ++free;
        count *= c->count[k];
        if (count > PP_STACK_ALL_MOST) return PP_STACK_ALL_MOST + 1;
    }
    return count;
}

typedef struct listing {
    const pp_stack_choices *choices;
    pp_stack_way now[PP_LAYERS_MAX];
    bool used[PP_LAYERS_MAX];
    pp_stack_way *out;
} listing;

static void list_from(listing *l, size_t place)
{
    const pp_stack_choices *c = l->choices;
    if (place == c->layers) {
        memcpy(l->out, l->now, c->layers * sizeof *l->out);
        l->out += c->layers;
        return;
    }
    for (size_t k = 0; k < c->layers; k++) { /* in listed order */
        size_t layer = c->listed[k].layer;
        if (l->used[layer] || !pp_stack_may_lie(c, layer, place)) continue;
        l->used[layer] = true;
        for (size_t o = 0; o < c->count[layer]; o++) {
            l->now[place] = c->way[c->first[layer] + o];
            list_from(l, place + 1);
        }
        l->used[layer] = false;
    }
}

void pp_stack_choices_list(const pp_stack_choices *choices, pp_stack_way *way)
{
    listing l = {.choices = choices, .out = way};
    list_from(&l, 0);
}

bool pp_stack_same_ways(const pp_stack_way *a, const pp_stack_way *b, size_t layers)
{
    for (size_t k = 0; k < layers; k++)
        if (a[k].layer != b[k].layer || a[k].over != b[k].over || a[k].turn_deg != b[k].turn_deg)
            return false;
    return true;
}

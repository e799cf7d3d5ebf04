#include <stdio.h>
#include <string.h>

#include "base/grid.h"
#include "bundle/mates.h"
#include "holes/measures.h"

typedef struct gathering {
    const pp_set *set;
    int threads;
    pp_memory *memory;
    pp_memory own; /* lists, given back */
    const char **name;
    double *x, *y;
    size_t count, room;
} gathering;

static pp_status make_room(gathering *g, size_t more, pp_error *error)
{
    const char **name;
    double *x, *y;
    PP_TAKE(name, &g->memory->keep, g->count + more);
    PP_TAKE(x, &g->memory->keep, g->count + more);
    PP_TAKE(y, &g->memory->keep, g->count + more);
    if (g->count) {
        memcpy(name, g->name, g->count * sizeof *name);
        memcpy(x, g->x, g->count * sizeof *x);
        memcpy(y, g->y, g->count * sizeof *y);
    }
    g->name = name, g->x = x, g->y = y;
    return PP_OK;
}

static pp_status add(gathering *g, const char *name, double x, double y, pp_error *error)
{
    const char *kept = pp_arena_text(&g->memory->keep, name, strlen(name));
    if (!kept) return pp_fail_memory(error);
    g->name[g->count] = kept;
    g->x[g->count] = x;
    g->y[g->count++] = y;
    return PP_OK;
}

/* [tube] places: in the bundle's frame already. */
static pp_status from_places(gathering *g, const pp_table_reading **read, pp_error *error)
{
    const pp_set *set = g->set;
    pp_list_named named = {set->path, &set->tube.places, set->units};
    pp_nominal list;
    PP_TRY(pp_nominal_read_named(&named, g->threads, &g->own, &list, error));
    PP_TRY(make_room(g, list.count, error));
    for (size_t i = 0; i < list.count; i++)
        if (list.kind[i] == PP_TUBE_HOLE) PP_TRY(add(g, list.name[i], list.x[i], list.y[i], error));
    PP_TRY(pp_reading_keep(list.reading, &g->memory->keep, read, error));
    return PP_OK;
}

/* Distance of neighbours; NaN with fewer than two tubes. */
static pp_status find_pitch(const gathering *g, pp_memory *memory, double *pitch, pp_error *error)
{
    uint8_t *kind;
    PP_TAKE_ZERO(kind, &memory->keep, g->count); /* PP_TUBE_HOLE */
    pp_nominal list = {.count = g->count, .name = g->name, .x = g->x, .y = g->y, .kind = kind};
    return pp_pitch_find(NAN, &list, g->threads, memory, pitch, error);
}

/* Tubes of a nominal list that are not there yet, by name or by place. */
static pp_status add_plate(gathering *g, const pp_set_plate *plate, pp_error *error)
{
    pp_nominal list;
    pp_names known = {0};
    pp_grid grid = {0};
    double reach = 0;
    bool by_place = g->set->match == PP_MATCH_PLACES, first = g->count == 0;
    PP_TRY(pp_nominal_read(plate->job, g->threads, &g->own, &list, error));
    if (!first) {
        PP_TRY(find_pitch(g, &g->own, &reach, error));
        reach /= 2;
        PP_TRY(pp_names_build(g->name, g->count, &g->own.keep, &known, error));
        if (by_place)
            PP_TRY(pp_grid_build(g->count, g->x, g->y, reach > 0 ? 2 * reach : 1, &g->own.keep,
                                 &grid, error));
    }
    PP_TRY(make_room(g, list.count, error));
    for (size_t i = 0; i < list.count; i++) {
        double x, y, distance;
        if (list.kind[i] != PP_TUBE_HOLE) continue;
        pp_plate_to_bundle(plate, list.x[i], list.y[i], &x, &y);
        if (!first && by_place && pp_grid_nearest(&grid, x, y, reach, &distance) != UINT32_MAX)
            continue;
        bool named = !first && pp_names_find(&known, list.name[i]) != PP_NAME_NONE;
        if (named && !by_place) continue;
        char text[300];
        if (named) /* another hole of the same name: told apart by its plate */
            snprintf(text, sizeof text, "%.120s:%.120s", plate->name, list.name[i]);
        PP_TRY(add(g, named ? text : list.name[i], x, y, error));
    }
    return PP_OK;
}

static pp_status gather(gathering *g, const pp_table_reading **read, pp_error *error)
{
    const pp_set *set = g->set;
    *read = NULL;
    if (set->tube.places.path) return from_places(g, read, error);
    for (size_t p = 0; p < set->plate_count; p++)
        if (set->plates[p].role != PP_ROLE_BAFFLE && set->plates[p].job->holes.nominal.path)
            PP_TRY(add_plate(g, &set->plates[p], error));
    if (g->count) return PP_OK;
    return pp_fail_at(error, PP_EINPUT, set->path, 0, 0,
                      "no tube was found: give [tube] places = FILE, or a nominal list to a plate "
                      "with role = front tube plate or rear tube plate");
}

pp_status pp_tubes_find(const pp_set *set, int threads, pp_memory *memory, pp_tube_list *tubes,
                        const pp_table_reading **places_read, pp_error *error)
{
    gathering g = {.set = set, .threads = threads, .memory = memory};
    double pitch = NAN;
    pp_status status = gather(&g, places_read, error);
    if (status == PP_OK) status = find_pitch(&g, &g.own, &pitch, error);
    pp_memory_free(&g.own);
    if (status == PP_OK) *tubes = (pp_tube_list){g.count, g.name, g.x, g.y, pitch};
    return status;
}

#include "holes/matching.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/names.h"
#include "base/parallel.h"

enum { PARTS = 64 };

static bool has_name(const pp_readings *readings, size_t row)
{
    return readings->name && readings->name[row] && readings->name[row][0] != '\0';
}

/* --- by name ---------------------------------------------------------------------------------- */

typedef struct name_search {
    const pp_names *table;
    const pp_readings *readings;
    pp_matching_state *state;
    size_t named[PARTS], pending[PARTS];
} name_search;

static pp_status search_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    name_search *s = context;
    size_t begin = pp_part_begin(s->readings->count, PARTS, part);
    size_t end = pp_part_begin(s->readings->count, PARTS, part + 1);
    uint32_t *key = s->state->key;
    if (s->readings->name)
        pp_names_find_many(s->table, s->readings->name + begin, end - begin, key + begin);
    for (size_t i = begin; i < end; i++) {
        bool named = has_name(s->readings, i);
        if (!named)
            key[i] = PP_KEY_PENDING;
        else if (key[i] == PP_NAME_NONE)
            key[i] = PP_KEY_EXTRA;
        s->named[part] += named;
        s->pending[part] += !named;
    }
    return PP_OK;
}

pp_status pp_match_names(const pp_hole_files *files, int threads, pp_memory *memory,
                         pp_matching_state *state, pp_error *error)
{
    pp_matching_state s = {0};
    PP_TAKE(s.key, &memory->keep, files->measured.count);
    PP_TAKE_ZERO(s.doubly, &memory->scratch, files->nominal.count);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_names table = files->nominal.names; /* made when the list was read */
    if (files->measured.name && !table.slots)
        PP_TRY(pp_names_build(files->nominal.name, files->nominal.count, &memory->scratch, &table,
                              error));
    name_search search = {.table = &table, .readings = &files->measured, .state = &s};
    PP_TRY(pp_parallel(threads, PARTS, search_part, &search, error));
    for (size_t p = 0; p < PARTS; p++) {
        s.named += search.named[p];
        s.pending += search.pending[p];
    }
    pp_arena_release(&memory->scratch, mark);
    *state = s;
    return PP_OK;
}

/* --- by place --------------------------------------------------------------------------------- */

typedef struct place_search {
    const pp_matching_frame *frame;
    double radius;
    uint32_t *key;
    double *distance; /* [row]; negative: matched by name */
} place_search;

static pp_status place_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    place_search *s = context;
    const pp_readings *r = &s->frame->files->measured;
    size_t end = pp_part_begin(r->count, PARTS, part + 1);
    for (size_t i = pp_part_begin(r->count, PARTS, part); i < end; i++) {
        s->distance[i] = -1;
        if (has_name(r, i)) continue;
        int face = r->face[i];
        pp_plate_point at = pp_pose_apply(s->frame->poses[face],
                                          pp_view_point(s->frame->view, face, r->x[i], r->y[i]));
        uint32_t hole =
            pp_grid_nearest(s->frame->nominal_grid, at.x, at.y, s->radius, &s->distance[i]);
        s->key[i] = hole == UINT32_MAX ? PP_KEY_EXTRA : hole;
    }
    return PP_OK;
}

/* Claims on one hole in order: by face, round, then the better claim first. */
static int compare_claims(const void *a, const void *b, void *context)
{
    const place_search *s = context;
    const pp_readings *r = &s->frame->files->measured;
    uint32_t i = *(const uint32_t *)a, j = *(const uint32_t *)b;
    if (r->face[i] != r->face[j]) return r->face[i] < r->face[j] ? -1 : 1;
    if (r->round[i] != r->round[j]) return r->round[i] < r->round[j] ? -1 : 1;
    if (s->distance[i] != s->distance[j]) return s->distance[i] < s->distance[j] ? -1 : 1;
    return i < j ? -1 : i > j;
}

/* Settle the claims on one hole: the first of each face and round keeps it. Rows with a name are
 * repeat readings of each other (their distance is -1 and they come first). */
static void settle(place_search *s, uint32_t *claims, size_t count, bool *doubly)
{
    const pp_readings *r = &s->frame->files->measured;
    qsort_r(claims, count, sizeof *claims, compare_claims, s);
    for (size_t i = 1, best = 0; i < count; i++) {
        uint32_t row = claims[i], keeper = claims[best];
        if (r->face[row] != r->face[keeper] || r->round[row] != r->round[keeper]) {
            best = i;
        } else if (s->distance[row] >= 0) {
            s->key[row] = PP_KEY_EXTRA;
            *doubly = true;
        }
    }
}

pp_status pp_match_nearest(const pp_matching_frame *frame, double radius, int threads,
                           pp_memory *memory, pp_matching_state *state, pp_error *error)
{
    const pp_hole_files *files = frame->files;
    const pp_readings *r = &files->measured;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    place_search search = {.frame = frame, .radius = radius, .key = state->key};
    uint32_t *first, *next, *claims;
    PP_TAKE(search.distance, &memory->scratch, r->count);
    PP_TAKE(claims, &memory->scratch, r->count);
    PP_TAKE(first, &memory->scratch, files->nominal.count);
    PP_TAKE(next, &memory->scratch, r->count);
    PP_TRY(pp_parallel(threads, PARTS, place_part, &search, error));

    for (size_t h = 0; h < files->nominal.count; h++) first[h] = PP_NONE;
    for (size_t i = r->count; i-- > 0;) { /* backwards: each chain ends up in row order */
        uint32_t hole = state->key[i];
        if (hole >= files->nominal.count) continue;
        next[i] = first[hole];
        first[hole] = (uint32_t)i;
    }
    for (size_t h = 0; h < files->nominal.count; h++) {
        size_t count = 0;
        for (uint32_t i = first[h]; i != PP_NONE; i = next[i]) claims[count++] = i;
        state->doubly[h] = false;
        if (count > 1) settle(&search, claims, count, &state->doubly[h]);
    }
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

/* --- extras ----------------------------------------------------------------------------------- */

static const char *row_name(size_t row, pp_arena *arena)
{
    char text[32];
    int length = snprintf(text, sizeof text, "row %zu", row + 1);
    return pp_arena_text(arena, text, (size_t)length);
}

pp_status pp_match_extras(const pp_hole_files *files, pp_memory *memory, pp_matching_state *state,
                          pp_error *error)
{
    const pp_readings *r = &files->measured;
    size_t rows = 0;
    for (size_t i = 0; i < r->count; i++) rows += state->key[i] == PP_KEY_EXTRA;
    state->extra_count = 0;
    PP_TAKE(state->extra, &memory->keep, rows);
    if (rows == 0) return PP_OK;

    /* names of the extra rows, to bring rows of one name together */
    pp_mark mark = pp_arena_mark(&memory->scratch);
    const char **name;
    uint32_t *group; /* [position among the extra rows]: number of its extra */
    PP_TAKE(name, &memory->scratch, rows);
    PP_TAKE(group, &memory->scratch, rows);
    size_t n = 0;
    for (size_t i = 0; i < r->count; i++)
        if (state->key[i] == PP_KEY_EXTRA) name[n++] = has_name(r, i) ? r->name[i] : "";
    pp_names table = {0};
    PP_TRY(pp_names_build(name, rows, &memory->scratch, &table, error));

    n = 0;
    for (size_t i = 0; i < r->count; i++) {
        if (state->key[i] != PP_KEY_EXTRA) continue;
        uint32_t first = name[n][0] ? pp_names_find(&table, name[n]) : (uint32_t)n;
        if (first == n) {
            const char *text = name[n][0] ? name[n] : row_name(i, &memory->keep);
            if (!text) return pp_fail_memory(error);
            group[n] = (uint32_t)state->extra_count;
            state->extra[state->extra_count++] = text;
        } else {
            group[n] = group[first];
        }
        state->key[i] = (uint32_t)files->nominal.count + group[n++];
    }
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

#include "holes/ligaments.h"

#include <stdlib.h>
#include <string.h>

#include "base/names.h"
#include "base/parallel.h"

enum { PARTS = 64 };

/* --- measured directly ------------------------------------------------------------------------ */

typedef struct direct {
    size_t place; /* 2 * pair + face; at a hole of kind other: 2 * that hole + face */
    double value;
    uint32_t a, b;
    bool other; /* a is of kind other */
} direct;

static int by_place(const void *a, const void *b)
{
    const direct *p = a, *q = b;
    if (p->other != q->other) return p->other ? 1 : -1;
    if (p->place != q->place) return p->place < q->place ? -1 : 1;
    if (p->b != q->b) return p->b < q->b ? -1 : 1; /* two neighbours of a hole of kind other */
    return p->value < q->value ? -1 : p->value > q->value;
}

static pp_status named_hole(const pp_hole_files *files, const pp_names *table, const char *name,
                            long line, uint32_t *hole, pp_error *error)
{
    *hole = pp_names_find(table, name);
    if (*hole == PP_NAME_NONE)
        return pp_fail_at(error, PP_EINPUT, files->ligaments_file, line, 0,
                          "hole %s is not in the nominal list %s; correct the name", name,
                          files->nominal.file);
    return PP_OK;
}

static bool find_pair(const pp_neighbours *n, uint32_t a, uint32_t b, size_t *pair)
{
    for (size_t p = n->start[a]; p < n->start[a + 1]; p++)
        if (n->b[p] == b) {
            *pair = p;
            return true;
        }
    return false;
}

/* Find the pair of one direct measurement; `counts` false when it has none to count for. */
static pp_status place_direct(const pp_ligament_question *q, const pp_names *table,
                              const pp_direct_ligament *row, direct *out, bool *counts,
                              pp_error *error)
{
    const pp_hole_files *files = q->files;
    uint32_t a, b;
    PP_TRY(named_hole(files, table, row->hole_a, row->line, &a, error));
    PP_TRY(named_hole(files, table, row->hole_b, row->line, &b, error));
    const uint8_t *kind = files->nominal.kind;
    direct d = {.value = row->ligament * q->scale};
    *counts = true;
    if (kind[a] != PP_TUBE_HOLE || kind[b] != PP_TUBE_HOLE) {
        bool swap = kind[a] == PP_TUBE_HOLE;
        d.other = true;
        d.a = swap ? b : a;
        d.b = swap ? a : b;
        d.place = 2 * (size_t)d.a + row->face;
    } else {
        size_t pair = 0;
        d.a = a < b ? a : b;
        d.b = a < b ? b : a;
        if (q->plugged[a] && q->plugged[b])
            *counts = false;
        else if (!find_pair(q->neighbours, d.a, d.b, &pair))
            return pp_fail_at(error, PP_EINPUT, files->ligaments_file, row->line, 0,
                              "%s and %s are no neighbours (their nominal centres are not within "
                              "%g pitches); a ligament is the metal between neighbours",
                              row->hole_a, row->hole_b, PP_NEIGHBOUR_PITCHES);
        d.place = 2 * pair + row->face;
    }
    *out = d;
    return PP_OK;
}

/* All direct measurements by place, the smallest of each. In scratch. */
static pp_status place_all(const pp_ligament_question *q, pp_memory *memory, direct **list,
                           size_t *count, pp_error *error)
{
    const pp_hole_files *files = q->files;
    *count = 0;
    PP_TAKE(*list, &memory->scratch, files->ligament_count);
    if (files->ligament_count == 0) return PP_OK;
    pp_names table = files->nominal.names;
    if (!table.slots)
        PP_TRY(pp_names_build(files->nominal.name, files->nominal.count, &memory->scratch, &table,
                              error));
    size_t n = 0;
    for (size_t i = 0; i < files->ligament_count; i++) {
        bool counts;
        PP_TRY(place_direct(q, &table, &files->ligaments[i], &(*list)[n], &counts, error));
        n += counts;
    }
    qsort(*list, n, sizeof **list, by_place);
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        const direct *d = &(*list)[i], *last = kept ? &(*list)[kept - 1] : NULL;
        if (last && last->other == d->other && last->place == d->place && last->b == d->b) continue;
        (*list)[kept++] = *d;
    }
    *count = kept;
    return PP_OK;
}

/* --- computed --------------------------------------------------------------------------------- */

typedef struct taking {
    const pp_ligament_question *question;
    const direct *direct;
    size_t direct_count; /* between tube holes */
    size_t before[PARTS + 1], measured[PARTS];
    pp_ligaments *out; /* NULL while counting */
} taking;

/* First direct measurement at or after a pair. */
static size_t direct_from(const taking *t, size_t pair)
{
    size_t low = 0, high = t->direct_count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (t->direct[middle].place < 2 * pair)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* u^2 = 2 u_position^2 + (u_da^2 + u_db^2) / 4; a gauge's bound is taken as proven. */
static float ligament_u(const pp_hole_uncertainty *u, const pp_bore *a, const pp_bore *b)
{
    double position = u->position / 2;
    double diameter = u->diameter / 2;
    double ua = a->gauged ? 0 : diameter, ub = b->gauged ? 0 : diameter;
    return (float)sqrt(2 * position * position + (ua * ua + ub * ub) / 4);
}

/* Was the ligament of one pair on one face measured? A gauge may prove no upper bound. */
static bool is_measured(const pp_gathered *g, uint32_t a, uint32_t b, int face)
{
    uint32_t i = g->bore_of[face][a], j = g->bore_of[face][b];
    if (i == PP_NONE || j == PP_NONE) return false;
    return g->all_bounded || !isnan(g->bores[i].diameter_max + g->bores[j].diameter_max);
}

static pp_ligament compute(const pp_ligament_question *q, uint32_t a, uint32_t b, int face)
{
    uint32_t i = q->gathered->bore_of[face][a], k = q->gathered->bore_of[face][b];
    const pp_bore *p = &q->gathered->bores[i], *r = &q->gathered->bores[k];
    pp_plate_point at = p->at, to = r->at;
    double dx = at.x - to.x, dy = at.y - to.y;
    return (pp_ligament){.value =
                             sqrt(dx * dx + dy * dy) - 0.5 * (p->diameter_max + r->diameter_max),
                         .u = ligament_u(&q->uncertainty, p, r),
                         .a = a,
                         .b = b,
                         .face = (uint8_t)face};
}

/* Lower the bore's smallest ligament. Several threads may, and the order does not matter. */
static void note_smallest(const taking *t, int face, uint32_t hole, double value)
{
    uint32_t bore = t->question->gathered->bore_of[face][hole];
    if (bore == PP_NONE) return;
    double *smallest = &t->question->gathered->bores[bore].smallest_ligament, seen;
    __atomic_load(smallest, &seen, __ATOMIC_RELAXED);
    while (!(seen <= value) && !__atomic_compare_exchange(smallest, &seen, &value, true,
                                                          __ATOMIC_RELAXED, __ATOMIC_RELAXED)) {}
}

/* One pair: its ligaments counted, and written from place `next` on in the second round. */
static size_t take_pair(taking *t, uint32_t a, size_t pair, size_t next, size_t *at)
{
    const pp_ligament_question *q = t->question;
    uint32_t b = q->neighbours->b[pair];
    size_t count = 0;
    for (int face = PP_ENTRY; face <= PP_EXIT; face++) {
        bool stated = *at < t->direct_count && t->direct[*at].place == 2 * pair + (size_t)face;
        if (!stated && !(q->gathered->faces[face] && is_measured(q->gathered, a, b, face)))
            continue;
        if (t->out) {
            pp_ligament ligament = stated ? (pp_ligament){.value = t->direct[*at].value,
                                                          .u = (float)(q->uncertainty.ligament / 2),
                                                          .a = a,
                                                          .b = b,
                                                          .face = (uint8_t)face,
                                                          .direct = true}
                                          : compute(q, a, b, face);
            t->out->ligaments[next + count] = ligament;
            note_smallest(t, face, a, ligament.value);
            note_smallest(t, face, b, ligament.value);
        }
        *at += stated;
        count++;
    }
    return count;
}

static pp_status ligament_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    taking *t = context;
    const pp_neighbours *n = t->question->neighbours;
    size_t holes = t->question->files->nominal.count;
    size_t end = pp_part_begin(holes, PARTS, part + 1);
    size_t first = pp_part_begin(holes, PARTS, part);
    size_t count = 0, measured = 0, at = direct_from(t, n->start[first]);
    size_t place = t->out ? t->before[part] : 0; /* not known yet while counting */
    for (size_t a = first; a < end; a++)
        for (size_t pair = n->start[a]; pair < n->start[a + 1]; pair++) {
            size_t found = take_pair(t, (uint32_t)a, pair, place + count, &at);
            count += found;
            measured += found > 0;
        }
    if (!t->out) t->before[part + 1] = count;
    t->measured[part] = measured;
    return PP_OK;
}

static pp_status take_others(const pp_ligament_question *q, const direct *list, size_t count,
                             pp_memory *memory, pp_ligaments *out, pp_error *error)
{
    out->other_count = count;
    PP_TAKE(out->others, &memory->keep, count);
    for (size_t i = 0; i < count; i++)
        out->others[i] = (pp_other_ligament){.other = list[i].a,
                                             .tube = list[i].b,
                                             .face = (uint8_t)(list[i].place & 1),
                                             .direct = true,
                                             .value = list[i].value,
                                             .u = q->uncertainty.ligament / 2};
    return PP_OK;
}

pp_status pp_ligaments_take(const pp_ligament_question *question, int threads, pp_memory *memory,
                            pp_ligaments *ligaments, pp_error *error)
{
    const pp_ligament_question *q = question;
    pp_ligaments out = {0};
    for (size_t b = 0; b < q->gathered->bore_count; b++)
        q->gathered->bores[b].smallest_ligament = NAN;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    direct *list;
    size_t count;
    PP_TRY(place_all(q, memory, &list, &count, error));
    size_t tubes = 0;
    while (tubes < count && !list[tubes].other) tubes++;
    PP_TRY(take_others(q, list + tubes, count - tubes, memory, &out, error));

    taking t = {.question = q, .direct = list, .direct_count = tubes};
    PP_TRY(pp_parallel(threads, PARTS, ligament_part, &t, error));
    for (size_t p = 0; p < PARTS; p++) {
        t.before[p + 1] += t.before[p];
        out.pairs_measured += t.measured[p];
    }
    out.count = t.before[PARTS];
    PP_TAKE(out.ligaments, &memory->keep, out.count);
    t.out = &out;
    PP_TRY(pp_parallel(threads, PARTS, ligament_part, &t, error));

    pp_arena_release(&memory->scratch, mark);
    *ligaments = out;
    return PP_OK;
}

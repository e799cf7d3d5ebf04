#include "holes/close_pairs.h"

#include <stdlib.h>

#include "base/grid.h"
#include "base/parallel.h"

enum { PARTS = 64 };

/* More close pairs than this many a bore, and the coordinates can't be those of holes. */
enum { PAIRS_PER_BORE_MOST = 32 };

/* The bores of one face, as plain arrays. */
typedef struct face_bores {
    size_t count;
    uint32_t *bore;
    double *x, *y, *diameter;
    double largest; /* diameter */
} face_bores;

/* What is known of the metal taken away: the largest reading; of a gauged hole its upper bound,
 * else its lower one. */
static double bore_diameter(const pp_bore *bore)
{
    if (!isnan(bore->diameter_max)) return bore->diameter_max;
    return isnan(bore->diameter_min) ? 0 : bore->diameter_min;
}

static pp_status pick_face(const pp_close_question *q, pp_face face, pp_arena *arena,
                           face_bores *out, pp_error *error)
{
    const pp_gathered *gathered = q->gathered;
    face_bores f = {0};
    bool only = !gathered->faces[face == PP_ENTRY ? PP_EXIT : PP_ENTRY];
    if (only) f.count = gathered->bore_count;
    for (size_t b = 0; !only && b < gathered->bore_count; b++)
        f.count += gathered->bores[b].face == face;
    PP_TAKE(f.bore, arena, f.count);
    PP_TAKE(f.x, arena, f.count);
    PP_TAKE(f.y, arena, f.count);
    PP_TAKE(f.diameter, arena, f.count);
    size_t n = 0;
    for (size_t b = 0; b < gathered->bore_count; b++) {
        const pp_bore *bore = &gathered->bores[b];
        if (bore->face != face) continue;
        f.bore[n] = (uint32_t)b;
        f.x[n] = bore->at.x;
        f.y[n] = bore->at.y;
        f.diameter[n] = bore_diameter(bore);
        f.largest = fmax(f.largest, f.diameter[n++]);
    }
    *out = f;
    return PP_OK;
}

/* --- close pairs ------------------------------------------------------------------------------ */

typedef struct close_search {
    const pp_close_question *question;
    const face_bores *face;
    const pp_grid *grid;
    size_t before[PARTS + 1];
    pp_close_pair *pairs; /* NULL while counting */
} close_search;

static bool both_plugged(const close_search *s, uint32_t a, uint32_t b)
{
    uint32_t i = s->question->gathered->bores[a].hole, j = s->question->gathered->bores[b].hole;
    return i != PP_NONE && j != PP_NONE && s->question->plugged[i] && s->question->plugged[j];
}

/* Each pair is found from its larger bore (of equal ones, the first), so that one huge diameter
 * does not widen everybody's search. */
static size_t close_to(const close_search *s, size_t i, pp_close_pair *pairs)
{
    const face_bores *f = s->face;
    double below = s->question->close_below;
    double x = f->x[i], y = f->y[i], d = f->diameter[i], reach = below + d;
    if (!(reach > 0)) return 0;
    size_t found = 0;
    pp_grid_window w = pp_grid_around(s->grid, x, y, reach);
    for (size_t row = w.row_first; row <= w.row_last; row++) {
        size_t end = pp_grid_end(s->grid, w, row);
        for (size_t k = pp_grid_first(s->grid, w, row); k < end; k++) {
            double dx = s->grid->x[k] - x, dy = s->grid->y[k] - y, square = dx * dx + dy * dy;
            if (!(square < reach * reach)) continue;
            size_t j = s->grid->item[k];
            if (j == i || f->diameter[j] > d || (f->diameter[j] == d && j < i)) continue;
            double ligament = sqrt(square) - 0.5 * (d + f->diameter[j]);
            uint32_t a = f->bore[i < j ? i : j], b = f->bore[i < j ? j : i];
            if (!(ligament < below) || both_plugged(s, a, b)) continue;
            if (pairs) pairs[found] = (pp_close_pair){a, b, ligament};
            found++;
        }
    }
    return found;
}

static pp_status refuse_heap(const close_search *s, pp_error *error)
{
    return pp_fail_at(error, PP_EINPUT, s->question->files->measured.file, 0, 0,
                      "most measured holes lie on top of each other; check that x, y and diameter "
                      "are the right columns and in the right unit");
}

static pp_status close_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    close_search *s = context;
    size_t end = pp_part_begin(s->face->count, PARTS, part + 1), found = 0;
    for (size_t i = pp_part_begin(s->face->count, PARTS, part); i < end; i++) {
        found += close_to(s, i, s->pairs ? s->pairs + s->before[part] + found : NULL);
        if (found / PAIRS_PER_BORE_MOST > s->face->count) return refuse_heap(s, error);
    }
    if (!s->pairs) s->before[part + 1] = found;
    return PP_OK;
}

/* by first hole, second hole, face; extras after the nominal holes */
static int by_holes(const void *a, const void *b, void *context)
{
    const pp_close_pair *p = a, *q = b;
    const pp_gathered *g = ((const close_search *)context)->question->gathered;
    const pp_bore *pa = &g->bores[p->a], *qa = &g->bores[q->a];
    const pp_bore *pb = &g->bores[p->b], *qb = &g->bores[q->b];
    if (pa->hole != qa->hole) return pa->hole < qa->hole ? -1 : 1;
    if (pb->hole != qb->hole) return pb->hole < qb->hole ? -1 : 1;
    if (pa->face != qa->face) return pa->face < qa->face ? -1 : 1;
    if (p->a != q->a) return p->a < q->a ? -1 : 1; /* extras */
    return p->b < q->b ? -1 : p->b > q->b;
}

static pp_status find_pairs(close_search *s, int threads, pp_arena *arena, pp_close_pair **pairs,
                            size_t *count, pp_error *error)
{
    PP_TRY(pp_parallel(threads, PARTS, close_part, s, error));
    for (size_t p = 0; p < PARTS; p++) s->before[p + 1] += s->before[p];
    *count = s->before[PARTS];
    if (*count / PAIRS_PER_BORE_MOST > s->face->count) return refuse_heap(s, error);
    PP_TAKE(*pairs, arena, *count);
    if (*count == 0) return PP_OK;
    s->pairs = *pairs;
    PP_TRY(pp_parallel(threads, PARTS, close_part, s, error));
    return PP_OK;
}

/* --- metal around holes of kind other --------------------------------------------------------- */

static bool is_kind(const pp_nominal *nominal, const pp_bore *bore, pp_hole_kind kind)
{
    return bore->hole != PP_NONE && nominal->kind[bore->hole] == kind;
}

/* Metal measured directly, by hole of kind other, face, neighbour. */
typedef struct stated {
    const pp_other_ligament *list;
    size_t count;
} stated;

/* Those of one bore. */
static stated stated_at(stated all, const pp_bore *bore)
{
    size_t first = 0, last = all.count, count = 0;
    while (first < last) { /* first one not before the bore's */
        const pp_other_ligament *middle = &all.list[(first + last) / 2];
        bool before = middle->other < bore->hole ||
                      (middle->other == bore->hole && middle->face < bore->face);
        if (before)
            first = (first + last) / 2 + 1;
        else
            last = (first + last) / 2;
    }
    while (first + count < all.count && all.list[first + count].other == bore->hole &&
           all.list[first + count].face == bore->face)
        count++;
    return count ? (stated){&all.list[first], count} : (stated){NULL, 0};
}

static bool is_stated(stated s, uint32_t tube)
{
    for (size_t i = 0; i < s.count; i++)
        if (s.list[i].tube == tube) return true;
    return false;
}

/* Least metal from bore i to a tube hole to which none is stated: wider and wider until no farther
 * one can have less. */
static bool nearest_tube(const pp_close_question *q, const face_bores *f, const pp_grid *grid,
                         stated s, size_t i, double *metal, uint32_t *tube)
{
    const pp_nominal *nominal = &q->files->nominal;
    double x = f->x[i], y = f->y[i];
    double best = INFINITY;
    for (double reach = grid->cell + f->diameter[i];; reach *= 2) {
        pp_grid_window w = pp_grid_around(grid, x, y, reach);
        for (size_t row = w.row_first; row <= w.row_last; row++) {
            size_t end = pp_grid_end(grid, w, row);
            for (size_t k = pp_grid_first(grid, w, row); k < end; k++) {
                size_t j = grid->item[k];
                const pp_bore *bore = &q->gathered->bores[f->bore[j]];
                if (j == i || !is_kind(nominal, bore, PP_TUBE_HOLE)) continue;
                double ligament =
                    hypot(grid->x[k] - x, grid->y[k] - y) - 0.5 * (f->diameter[i] + f->diameter[j]);
                if (ligament > best || (ligament == best && bore->hole >= *tube)) continue;
                if (is_stated(s, bore->hole)) continue;
                best = ligament;
                *tube = bore->hole;
            }
        }
        bool all = w.column_first == 0 && w.column_last == grid->columns - 1 && w.row_first == 0 &&
                   w.row_last == grid->rows - 1;
        if (best <= reach - 0.5 * (f->diameter[i] + f->largest) || all) break;
    }
    *metal = best;
    return best < INFINITY;
}

static void find_others(const pp_close_question *q, const face_bores *f, const pp_grid *grid,
                        pp_closeness *out)
{
    stated direct = {q->direct, q->direct_count};
    double position = q->uncertainty.position / 2, diameter = q->uncertainty.diameter / 2;
    for (size_t i = 0; i < f->count; i++) {
        const pp_bore *bore = &q->gathered->bores[f->bore[i]];
        if (!is_kind(&q->files->nominal, bore, PP_OTHER_HOLE)) continue;
        pp_other_ligament ligament = {.other = bore->hole, .face = bore->face};
        stated s = stated_at(direct, bore);
        if (!nearest_tube(q, f, grid, s, i, &ligament.value, &ligament.tube)) continue;
        ligament.u = sqrt(2 * position * position + diameter * diameter / 2);
        out->others[out->other_count++] = ligament;
    }
}

/* --- both faces ------------------------------------------------------------------------------- */

static pp_status search_face(const pp_close_question *q, pp_face face, int threads,
                             pp_memory *memory, pp_close_pair **pairs, size_t *count,
                             pp_closeness *out, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    face_bores f;
    pp_grid grid;
    PP_TRY(pick_face(q, face, &memory->scratch, &f, error));
    double cell = pp_given(q->pitch) ? q->pitch : fmax(f.largest, 1);
    PP_TRY(pp_grid_build(f.count, f.x, f.y, cell, &memory->scratch, &grid, error));
    close_search search = {.question = q, .face = &f, .grid = &grid};
    PP_TRY(find_pairs(&search, threads, &memory->keep, pairs, count, error));
    find_others(q, &f, &grid, out);
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

pp_status pp_close_find(const pp_close_question *question, int threads, pp_memory *memory,
                        pp_closeness *closeness, pp_error *error)
{
    const pp_gathered *gathered = question->gathered;
    pp_closeness out = {0};
    size_t others = 0, counts[2] = {0};
    pp_close_pair *lists[2] = {0};
    for (size_t b = 0; b < gathered->extra_first; b++)
        others += is_kind(&question->files->nominal, &gathered->bores[b], PP_OTHER_HOLE);
    PP_TAKE(out.others, &memory->keep, others);
    for (int face = PP_ENTRY; face <= PP_EXIT; face++)
        if (gathered->faces[face])
            PP_TRY(search_face(question, (pp_face)face, threads, memory, &lists[face],
                               &counts[face], &out, error));
    out.pair_count = counts[PP_ENTRY] + counts[PP_EXIT];
    out.pairs = lists[PP_ENTRY];
    if (counts[PP_EXIT] || !out.pairs) { /* one list of both */
        PP_TAKE(out.pairs, &memory->keep, out.pair_count);
        for (size_t i = 0; i < out.pair_count; i++)
            out.pairs[i] =
                i < counts[PP_ENTRY] ? lists[PP_ENTRY][i] : lists[PP_EXIT][i - counts[PP_ENTRY]];
    }
    close_search order = {.question = question};
    qsort_r(out.pairs, out.pair_count, sizeof *out.pairs, by_holes, &order);
    *closeness = out;
    return PP_OK;
}

#include "holes/pitch_error.h"

#include "base/parallel.h"
#include "holes/pitch.h"

enum { PARTS = 64 };

static const double OFF_THE_ROW = 0.1; /* of the pitch: a hole farther off the step is not in it */

typedef struct search {
    const pp_pitch_request *of;
    size_t *start;        /* [nominal count + 1]: first pair of each hole */
    pp_pair_value *pairs; /* NULL while counting */
} search;

static bool is_tube(const search *s, uint32_t hole)
{
    return s->of->nominal->kind[hole] == PP_TUBE_HOLE;
}

static pp_pair_value value_of(const search *s, uint32_t first, uint32_t second)
{
    const pp_gathered *g = s->of->gathered;
    const pp_bore *p = &g->bores[first], *q = &g->bores[second];
    pp_measured_point from = g->centre[first], to = g->centre[second];
    const pp_nominal *n = s->of->nominal;
    const pp_centre_errors *errors = s->of->errors;
    double nominal = hypot(n->x[q->hole] - n->x[p->hole], n->y[q->hole] - n->y[p->hole]);
    double measured = hypot(to.x - from.x, to.y - from.y);
    double own = pp_reading_variance(errors, n->x[p->hole], n->y[p->hole]) +
                 pp_reading_variance(errors, n->x[q->hole], n->y[q->hole]);
    return (pp_pair_value){.value = fabs(measured - nominal),
                           .u = sqrt(own + pow(errors->stated.scale * nominal, 2)),
                           .a = p->hole,
                           .b = q->hole,
                           .face = p->face};
}

/* The pairs of two holes, one for each face; into `to` unless it is NULL. */
static size_t measured_on(const search *s, uint32_t a, uint32_t b, pp_pair_value *to)
{
    size_t found = 0;
    for (int face = PP_ENTRY; face <= PP_EXIT; face++) {
        const pp_gathered *g = s->of->gathered;
        uint32_t p = g->bore_of[face][a], q = g->bore_of[face][b];
        if (p == PP_NONE || q == PP_NONE) continue;
        if (to) to[found] = value_of(s, p, q);
        found++;
    }
    return found;
}

/* The hole `steps` such steps from `a` as `next` is one; PP_NONE: there is none that comes after
 * it. */
static uint32_t far_end(const search *s, uint32_t a, uint32_t next)
{
    const pp_nominal *n = s->of->nominal;
    double steps = (double)s->of->steps, distance;
    double x = n->x[a] + steps * (n->x[next] - n->x[a]);
    double y = n->y[a] + steps * (n->y[next] - n->y[a]);
    uint32_t end = pp_grid_nearest(s->of->grid, x, y, OFF_THE_ROW * s->of->pitch, &distance);
    if (end == PP_NONE || end <= a || !is_tube(s, end) || s->of->plugged[end]) return PP_NONE;
    return end;
}

/* The far ends of the rows through a hole, in order, each once. Round holes a pitch apart have at
 * most six neighbours; more ends than ROOM there are only where the pitch is wrong. */
enum { ROOM = 16 };

static size_t far_ends(const search *s, uint32_t a, uint32_t ends[ROOM])
{
    const pp_nominal *n = s->of->nominal;
    double reach = PP_NEIGHBOUR_PITCHES * s->of->pitch;
    size_t count = 0;
    pp_grid_window w = pp_grid_around(s->of->grid, n->x[a], n->y[a], reach);
    for (size_t row = w.row_first; row <= w.row_last; row++)
        for (size_t k = pp_grid_first(s->of->grid, w, row); k < pp_grid_end(s->of->grid, w, row);
             k++) {
            uint32_t next = s->of->grid->item[k];
            if (next == a || !is_tube(s, next)) continue;
            if (hypot(n->x[next] - n->x[a], n->y[next] - n->y[a]) > reach) continue;
            uint32_t end = far_end(s, a, next);
            if (end == PP_NONE || count == ROOM) continue;
            size_t at = count;
            while (at > 0 && ends[at - 1] > end) at--;
            if (at > 0 && ends[at - 1] == end) continue;
            for (size_t i = count++; i > at; i--) ends[i] = ends[i - 1];
            ends[at] = end;
        }
    return count;
}

static pp_status search_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    search *s = context;
    size_t count = s->of->nominal->count, end = pp_part_begin(count, PARTS, part + 1);
    for (size_t a = pp_part_begin(count, PARTS, part); a < end; a++) {
        uint32_t ends[ROOM];
        bool counts = is_tube(s, (uint32_t)a) && !s->of->plugged[a];
        size_t found = 0, rows = counts ? far_ends(s, (uint32_t)a, ends) : 0;
        for (size_t k = 0; k < rows; k++)
            found += measured_on(s, (uint32_t)a, ends[k],
                                 s->pairs ? s->pairs + s->start[a] + found : NULL);
        if (!s->pairs) s->start[a + 1] = found;
    }
    return PP_OK;
}

pp_status pp_pitch_errors_find(const pp_pitch_request *request, pp_memory *memory,
                               pp_pair_list *list, pp_error *error)
{
    *list = (pp_pair_list){.apart = (double)request->steps};
    if (!pp_given(request->pitch)) return PP_OK;
    search s = {.of = request};
    size_t count = request->nominal->count;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    PP_TAKE_ZERO(s.start, &memory->scratch, count + 1);
    PP_TRY(pp_parallel(request->threads, PARTS, search_part, &s, error));
    for (size_t h = 0; h < count; h++) s.start[h + 1] += s.start[h];
    list->count = s.start[count];
    PP_TAKE(s.pairs, &memory->keep, list->count);
    if (list->count) PP_TRY(pp_parallel(request->threads, PARTS, search_part, &s, error));
    list->pairs = s.pairs;
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

/* Cautions about what was counted: decisions without a paper, rounds that hide something, exit
 * readings that are missing, holes that leave the plate. */
#include <math.h>

#include "rules/saying.h"

/* Holes by name, a few of them; `count` of them altogether. */
typedef struct named {
    uint32_t first[PP_NAMES_MOST], last;
    size_t count;
} named;

static void name_hole(named *n, uint32_t hole)
{
    if (n->count && n->last == hole) return; /* another face or round of it */
    n->last = hole;
    if (n->count < PP_NAMES_MOST) n->first[n->count] = hole;
    n->count++;
}

static void caution_named(pp_speaker *s, const char *before, const named *n, const char *after)
{
    if (n->count == 0) return;
    pp_text_add(&s->text, before);
    pp_say_holes(s, n->first, n->count);
    pp_text_add(&s->text, after);
    pp_say_end(s);
}

/* What the shop decided about a hole needs a paper that says so. */
static void caution_references(pp_speaker *s, const pp_hole_counts *c)
{
    if (c->bare_count == 0) return;
    pp_say_holes(s, c->bare, c->bare_count);
    pp_text_print(&s->text, ": plugged or accepted under concession without a reference (%zu).",
                  c->bare_count);
    pp_say_end(s);
}

/* ---- rounds ---- */

typedef struct size { /* of one hole and face in one round */
    double smallest, largest, position;
} size;

static size size_then(const pp_measures *m, const pp_reading_history *h)
{
    pp_nominal_point nominal = pp_nominal_at(m->nominal, h->hole);
    pp_offset off = pp_offset_from(nominal, h->at);
    return (size){h->diameter_min, h->diameter_max, 2 * hypot(off.dx, off.dy)};
}

/* The round after number i of the history: the next one of that hole and face, or what it has now.
 */
static size size_after(const pp_measures *m, size_t i)
{
    const pp_reading_history *h = &m->history[i], *next = h + 1;
    if (i + 1 < m->history_count && next->hole == h->hole && next->face == h->face)
        return size_then(m, next);
    const pp_bore *now = &m->bores[m->bore_of[h->face][h->hole]];
    return (size){now->diameter_min, now->diameter_max, now->position};
}

/* Against the limits of tube holes: of diameters whatever the share, of positions without bonus. */
static bool fails(const pp_limits *l, const size *d)
{
    pp_diameter_bounds bounds = pp_bounds_of_hole(l, NULL, PP_NONE);
    return pp_more_than(d->largest, bounds.outer) || pp_less_than(d->smallest, bounds.lower) ||
           pp_more_than(d->position, l->position_limit.value);
}

/* Metal does not grow back, and a failing reading does not go away by itself. */
static void caution_rounds(pp_speaker *s, const pp_hole_counts *c)
{
    static const double SHRINKS = 0.01; /* mm, where no uncertainty is given */
    const pp_measures *m = s->j->measures;
    double u = s->j->job->holes.uncertainty_diameter;
    named shrunk = {0}, replaced = {0};
    for (size_t i = 0; i < m->history_count; i++) {
        const pp_reading_history *h = &m->history[i];
        if (m->nominal->kind[h->hole] != PP_TUBE_HOLE || m->plugged[h->hole]) continue;
        size then = size_then(m, h), after = size_after(m, i);
        bool sleeved = c->said[h->hole] & PP_SLEEVED, disposed = c->said[h->hole] & PP_DISPOSED;
        if (!sleeved && pp_more_than(then.largest - after.largest, pp_given(u) ? u : SHRINKS))
            name_hole(&shrunk, h->hole);
        if (!disposed && fails(s->j->limits, &then) && !fails(s->j->limits, &after))
            name_hole(&replaced, h->hole);
    }
    caution_named(s, "A bore became smaller from one round to the next: ", &shrunk,
                  "; was the same hole measured?");
    caution_named(s, "A failing reading was replaced by a later round without a disposition: ",
                  &replaced, ".");
}

static void caution_exits(pp_speaker *s, const pp_hole_counts *c)
{
    size_t count = c->no_exit_count;
    if (count == 0) return;
    pp_text_print(&s->text,
                  "%zu hole%s without an exit reading although most neighbours have one: ", count,
                  count == 1 ? "" : "s");
    pp_say_holes(s, c->no_exit, count);
    pp_text_print(&s->text, "; %s drill drift is not seen.", count == 1 ? "its" : "their");
    pp_say_end(s);
}

/* Where no limit judges the edge: holes that leave the plate as it is described. */
static void caution_edges(pp_speaker *s)
{
    const pp_measures *m = s->j->measures;
    if (!m->edge || pp_given(s->j->limits->edge_minimum.value)) return;
    named cut = {0};
    double worst = 0;
    for (size_t b = 0; b < m->extra_first; b++) {
        uint32_t hole = m->bores[b].hole;
        if (m->nominal->kind[hole] != PP_TUBE_HOLE || !pp_less_than(m->edge[b], 0)) continue;
        name_hole(&cut, hole);
        worst = fmin(worst, m->edge[b]);
    }
    if (cut.count == 0) return;
    pp_text_print(&s->text, "%zu hole%s not whole within the plate's outline, ", cut.count,
                  cut.count == 1 ? " is" : "s are");
    pp_say_length(s, -worst);
    pp_text_add(&s->text, " over it at most: ");
    pp_say_holes(s, cut.first, cut.count);
    pp_text_add(&s->text, "; unless the plate is cut through them, [plate] centre or its size is "
                          "wrong.");
    pp_say_end(s);
}

void pp_caution_counts(pp_speaker *s, const pp_hole_counts *counts)
{
    caution_references(s, counts);
    caution_rounds(s, counts);
    caution_exits(s, counts);
    caution_edges(s);
}

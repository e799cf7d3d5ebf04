/* comparison.html: what changed, where on the plate, and how the face moved. */
#include <math.h>
#include <string.h>

#include "base/number.h"
#include "plateproof/version.h"
#include "report/comparison/comparison_report.h"
#include "report/page/html_parts.h"
#include "report/page/markup.h"
#include "report/page/places.h"

enum { ITEMS_SHOWN = 500, DOTS_SHOWN = 20000, AMOUNTS_SHOWN = 4000, PICTURE = 860 };

static const pp_place_mark MARK_OF[PP_CHANGE_KINDS] = {
    [PP_CHANGE_NEW] = PP_MARK_CROSSED_SQUARE, [PP_CHANGE_WORSE] = PP_MARK_DOWN,
    [PP_CHANGE_UNCHANGED] = PP_MARK_DIAMOND,  [PP_CHANGE_BETTER] = PP_MARK_UP,
    [PP_CHANGE_REPAIRED] = PP_MARK_DISC,      [PP_CHANGE_UNJUDGED] = PP_MARK_RING};

static void fixed(pp_text *out, double value, int decimals, const char *behind)
{
    pp_text_add_fixed(out, value, decimals);
    pp_text_add(out, behind);
}

/* With its sign: how a place moved. */
static void signed_fixed(pp_text *out, double value, const char *behind)
{
    if (value > 0) pp_text_add(out, "+");
    fixed(out, value, 3, behind);
}

/* ---- head ---- */

static void add_state(pp_text *out, const char *word, const pp_comparison *c, int which)
{
    const pp_kept_report *r = &c->report[which];
    pp_text_print(out, "<dt>%s</dt><dd>", word);
    pp_markup_add(out, c->state[which].name);
    if (!c->rounds && r->stage[0]) pp_text_add(out, ", "), pp_markup_add(out, r->stage);
    if (!c->rounds && r->report_number[0])
        pp_text_add(out, ", report "), pp_markup_add(out, r->report_number);
    pp_text_add(out, ": ");
    pp_markup_add(out, c->state[which].verdict);
    pp_text_add(out, "</dd>\n");
}

static void add_identity(pp_text *out, const pp_kept_report *r)
{
    const struct {
        const char *word, *value;
    } parts[] = {{"plate ", r->plate_id},
                 {"serial ", r->serial},
                 {"order ", r->order_number},
                 {"item ", r->item}};
    size_t said = 0;
    pp_text_add(out, "<p class=\"identity\">");
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        if (!parts[i].value || !*parts[i].value) continue;
        pp_text_print(out, "%s%s", said++ ? ", " : "", parts[i].word);
        pp_markup_add(out, parts[i].value);
    }
    pp_text_add(out, "</p>\n");
}

static void add_counts(pp_text *out, const pp_comparison *c)
{
    bool said = false;
    for (int k = 0; k < PP_CHANGE_KINDS; k++) {
        if (!c->count[k]) continue;
        pp_text_print(out, "%s%zu %s", said ? ", " : "", c->count[k],
                      pp_change_words((pp_change)k));
        said = true;
    }
    if (!pp_comparison_has_holes(c))
        pp_text_add(out, "surveys alone: neither report has holes");
    else if (!said)
        pp_text_add(out, "no hole and no ligament is out, in either");
}

/* What a glance should take away. */
static const char *headline(const pp_comparison *c)
{
    if (c->verdict_worse) return "the verdict got worse";
    if (pp_comparison_is_worse(c)) return "something got worse";
    if (pp_comparison_has_holes(c)) return "no hole got worse";
    if (!c->face.places || isnan(c->face.uncertainty)) return "the face before and now";
    return fabs(c->face.largest) > c->face.uncertainty ? "the face moved" : "no movement is shown";
}

static void add_header(pp_text *out, const pp_comparison *c)
{
    bool worse = pp_comparison_is_worse(c);
    pp_verdict shown = worse ? PP_DOES_NOT_CONFORM : PP_NOT_JUDGED; /* no tick: it is no verdict */
    pp_text_print(out,
                  "<a class=\"skip\" href=\"#changes\">Skip to the changes</a>\n<header>\n<p "
                  "class=\"kind\">%s</p>\n<h1>What changed</h1>\n",
                  c->rounds ? "Two rounds of a plate" : "Two reports of a plate");
    add_identity(out, &c->report[1]);
    pp_text_print(out, "<div class=\"verdict v%d\">", (int)shown);
    pp_html_sign(out, shown);
    pp_text_print(out, "<div><p class=\"word\">%s</p><p>", headline(c));
    add_counts(out, c);
    pp_text_add(out, ".</p><p class=\"basis\">The verdict on the plate is that of its own report; "
                     "this page judges nothing.</p></div></div>\n</header>\n<main>\n");
}

/* ---- cautions ---- */

static void add_limit(pp_text *out, const double limit[2])
{
    if (isnan(limit[0]) && isnan(limit[1])) pp_text_add(out, "none");
    for (int k = 0; k < 2; k++) {
        if (isnan(limit[k])) continue;
        pp_text_add(out, k ? " at most " : " at least ");
        pp_text_add_number(out, limit[k]);
    }
}

static void add_cautions(pp_text *out, const pp_comparison *c)
{
    bool any = !c->same_plate || c->limit_count || c->face.turned || c->only[0] || c->only[1];
    if (!any) return;
    pp_text_add(out, "<ul class=\"cautions\" aria-label=\"Cautions\">\n");
    if (!c->same_plate)
        pp_text_add(out, "<li>The reports do not name the same plate; holes are compared by "
                         "name.</li>\n");
    for (size_t i = 0; i < c->limit_count; i++) {
        pp_text_add(out, "<li>The limits of ");
        pp_markup_add(out, c->limits[i].figure);
        pp_text_add(out, " are not the same: before");
        add_limit(out, c->limits[i].before);
        pp_text_add(out, ", now");
        add_limit(out, c->limits[i].now);
        pp_text_add(out, ". A change of class may come of that alone.</li>\n");
    }
    if (c->face.turned)
        pp_text_print(out,
                      "<li>With the second survey %s the two would agree far better: was it taken "
                      "from another side? Then the movement told here is none.</li>\n",
                      c->face.turned);
    if (c->only[0] || c->only[1])
        pp_text_print(out,
                      "<li>Only before: %zu holes and faces; only now: %zu. They are not "
                      "compared.</li>\n",
                      c->only[0], c->only[1]);
    pp_text_add(out, "</ul>\n");
}

/* How many of a kind moved; without an uncertainty that cannot be told. */
static void add_compared(pp_text *out, const pp_comparison *c, int kind)
{
    size_t stated = c->compared[kind] - c->unstated[kind];
    pp_text_print(out, "<dt>%ss in both</dt><dd>%zu", pp_compared_words((pp_compared)kind),
                  c->compared[kind]);
    if (!stated)
        pp_text_add(out, "; no uncertainty is stated: how many changed cannot be told");
    else
        pp_text_print(out, ", of them %zu changed beyond the uncertainty of both", c->moved[kind]);
    if (stated && c->unstated[kind])
        pp_text_print(out, "; of %zu no uncertainty is stated", c->unstated[kind]);
    pp_text_add(out, "</dd>\n");
}

static void add_summary(pp_text *out, const pp_comparison *c)
{
    pp_html_section(out, "changes", "In short");
    pp_text_add(out, "<dl class=\"facts\">\n");
    add_state(out, "Before", c, 0);
    add_state(out, "Now", c, 1);
    for (int k = 0; k < PP_COMPARED_KINDS; k++) {
        if (!c->compared[k]) continue;
        add_compared(out, c, k);
    }
    pp_text_add(out, "</dl>\n");
    add_cautions(out, c);
    pp_html_end_section(out);
}

/* ---- where ---- */

typedef struct spots { /* holes of the second side, first face each, with the gravest change */
    size_t count;
    const char **name;
    double *x, *y;
    int *change; /* PP_CHANGE_KINDS: none */
} spots;

static pp_status take_spots(const pp_comparison *c, pp_arena *arena, spots *s, pp_names *names,
                            pp_error *error)
{
    const pp_side *side = &c->state[1].side;
    PP_TAKE(s->name, arena, side->hole_count);
    PP_TAKE(s->x, arena, side->hole_count);
    PP_TAKE(s->y, arena, side->hole_count);
    PP_TAKE(s->change, arena, side->hole_count);
    for (size_t i = 0; i < side->hole_count; i++) {
        const pp_side_hole *h = &side->holes[i];
        if (isnan(h->x + h->y) || (s->count && strcmp(s->name[s->count - 1], h->hole) == 0))
            continue;
        s->name[s->count] = h->hole, s->x[s->count] = h->x, s->y[s->count] = h->y;
        s->change[s->count++] = PP_CHANGE_KINDS;
    }
    PP_TRY(pp_names_build(s->name, s->count, arena, names, error));
    for (size_t i = 0; i < c->item_count; i++) {
        const char *ends[] = {c->items[i].hole, c->items[i].other};
        for (int e = 0; e < 2 && ends[e]; e++) {
            uint32_t at = pp_names_find(names, ends[e]);
            if (at != PP_NAME_NONE && (int)c->items[i].change < s->change[at])
                s->change[at] = (int)c->items[i].change;
        }
    }
    return PP_OK;
}

static void draw_spots(pp_text *out, const pp_comparison *c, const spots *s)
{
    pp_place_frame f = pp_place_frame_fit(s->count, s->x, s->y, PICTURE);
    pp_html_section(out, "where", "Where");
    pp_places_open(out, &f,
                   "The holes of the plate; marked are those that changed, as the legend "
                   "below has it");
    pp_places_dots(out, &f, s->count, s->x, s->y, DOTS_SHOWN);
    for (int change = PP_CHANGE_KINDS - 1; change >= 0; change--) /* the gravest on top */
        for (size_t i = 0; i < s->count; i++)
            if (s->change[i] == change)
                pp_places_mark(out, &f, MARK_OF[change], s->x[i], s->y[i], s->name[i]);
    pp_places_close(out);
    pp_text_add(out, "<ul class=\"legend\" aria-label=\"Changes\">");
    for (int change = 0; change < PP_CHANGE_KINDS; change++) {
        if (!c->count[change]) continue;
        pp_text_add(out, "<li>");
        pp_places_key(out, MARK_OF[change]);
        pp_text_print(out, "%s</li>", pp_change_words((pp_change)change));
    }
    pp_text_add(out, "</ul>\n<p class=\"note\">A hole with several changes bears the gravest; of a "
                     "ligament both holes are marked.</p>\n");
    pp_html_end_section(out);
}

static pp_status add_where(pp_text *out, const pp_comparison *c, pp_memory *memory, pp_error *error)
{
    spots s = {0};
    pp_names names;
    if (!c->item_count) return PP_OK;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = take_spots(c, &memory->scratch, &s, &names, error);
    if (status == PP_OK && s.count) draw_spots(out, c, &s);
    pp_arena_release(&memory->scratch, mark);
    return status;
}

/* ---- the list ---- */

static void add_cell(pp_text *out, const char *label, const char *untrusted)
{
    pp_text_print(out, "<td data-label=\"%s\">", label);
    pp_markup_add(out, untrusted);
    pp_text_add(out, "</td>");
}

static void add_item(pp_text *out, const pp_compared_item *i)
{
    pp_text_add(out, "<tr><th scope=\"row\">");
    pp_places_key(out, MARK_OF[i->change]);
    pp_text_print(out, "%s</th>", pp_change_words(i->change));
    pp_text_add(out, "<td data-label=\"Hole\">");
    pp_markup_add(out, i->hole);
    if (i->other) pp_text_add(out, " &ndash; "), pp_markup_add(out, i->other);
    pp_text_add(out, "</td>");
    add_cell(out, "Face", i->face);
    add_cell(out, "Of its", pp_compared_words(i->characteristic));
    pp_text_add(out, "<td data-label=\"Before, mm\">");
    fixed(out, i->before, 3, " ");
    pp_markup_add(out, i->class_before);
    pp_text_add(out, "</td><td data-label=\"Now, mm\">");
    fixed(out, i->now, 3, " ");
    pp_markup_add(out, i->class_now);
    pp_text_add(out, "</td><td data-label=\"Change, mm\">");
    signed_fixed(out, i->now - i->before, "");
    if (isnan(i->uncertainty))
        pp_text_add(out, " (uncertainty not stated)");
    else
        pp_text_add(out, " &plusmn; "), fixed(out, i->uncertainty, 3, i->beyond ? "" : ": within");
    pp_text_add(out, "</td></tr>\n");
}

static void add_items(pp_text *out, const pp_comparison *c)
{
    if (!c->item_count) return;
    pp_html_section(out, "items", "Hole by hole");
    pp_text_add(out, "<div class=\"scroll\" tabindex=\"0\"><table class=\"stack\"><caption>What is "
                     "out in one of the two, or changed its class");
    if (c->item_count > ITEMS_SHOWN)
        pp_text_print(out, "; the first %d of %zu, comparison.csv has all", (int)ITEMS_SHOWN,
                      c->item_count);
    pp_text_add(out, "</caption><thead><tr><th scope=\"col\">Change</th><th "
                     "scope=\"col\">Hole</th><th scope=\"col\">Face</th><th scope=\"col\">Of "
                     "its</th><th scope=\"col\">Before, mm</th><th scope=\"col\">Now, mm</th><th "
                     "scope=\"col\">Change &plusmn; uncertainty, "
                     "mm</th></tr></thead><tbody>\n");
    for (size_t i = 0; i < c->item_count && i < ITEMS_SHOWN; i++) add_item(out, &c->items[i]);
    pp_text_add(out, "</tbody></table></div>\n");
    pp_html_end_section(out);
}

/* ---- the face ---- */

static void draw_movement(pp_text *out, const pp_moved_face *m)
{
    pp_place_frame f = pp_place_frame_fit(m->places, m->x, m->y, PICTURE);
    size_t step = 1 + (m->places - 1) / AMOUNTS_SHOWN;
    double count = (double)((m->places + step - 1) / step);
    double room = 0.48 * sqrt(f.width * f.height / count), most = fabs(m->largest);
    pp_places_open(out, &f,
                   "How the face moved: filled discs up, hollow ones down, their area by "
                   "how much");
    for (size_t i = 0; i < m->places; i += step)
        pp_places_amount(out, &f, m->x[i], m->y[i], most > 0 ? fabs(m->moved[i]) / most : 0, room,
                         m->moved[i] >= 0);
    char up[PP_NUMBER_TEXT_MAX + 8] = "+", down[PP_NUMBER_TEXT_MAX + 8];
    if (m->rise > 0) {
        pp_number_write_fixed(up + 1, m->rise, 3);
        pp_places_ring(out, &f, m->rise_x, m->rise_y, up);
    }
    if (m->fall < 0) {
        pp_number_write_fixed(down, m->fall, 3);
        pp_places_ring(out, &f, m->fall_x, m->fall_y, down);
    }
    pp_places_close(out);
}

static void add_place(pp_text *out, const char *word, double moved, double x, double y)
{
    pp_text_print(out, "<dt>%s</dt><dd>", word);
    signed_fixed(out, moved, " mm at x ");
    fixed(out, x, 1, ", y ");
    fixed(out, y, 1, " mm</dd>\n");
}

static void add_face(pp_text *out, const pp_comparison *c)
{
    const pp_moved_face *m = &c->face;
    bool flatness = !isnan(m->flatness_before) && !isnan(m->flatness_now);
    if (!m->places && !flatness) return;
    pp_html_section(out, "face", "How the face moved");
    pp_text_add(out, "<dl class=\"facts\">\n");
    if (flatness) {
        pp_text_add(out, "<dt>Flatness (minimum zone)</dt><dd>");
        fixed(out, m->flatness_before, 3, " mm before, ");
        fixed(out, m->flatness_now, 3, " mm now</dd>\n");
    }
    if (m->places) {
        pp_text_add(out, "<dt>Root mean square</dt><dd>");
        fixed(out, m->rms, 3, " mm, tilt apart</dd>\n");
        add_place(out, "Most up", m->rise, m->rise_x, m->rise_y);
        add_place(out, "Most down", m->fall, m->fall_x, m->fall_y);
        pp_text_add(out, "<dt>Uncertainty of both surfaces</dt><dd>");
        if (isnan(m->uncertainty))
            pp_text_add(out, "not stated");
        else
            fixed(out, m->uncertainty, 3,
                  fabs(m->largest) > m->uncertainty ? " mm: the face moved"
                                                    : " mm: no movement is shown beyond it");
        pp_text_add(out, "</dd>\n");
    }
    pp_text_add(out, "</dl>\n");
    if (m->places) draw_movement(out, m);
    if (m->places)
        pp_text_add(out, "<p class=\"note\">Filled: up, away from the supports; hollow: down. The "
                         "area goes by the amount; moved.csv has every place. Metal that was taken "
                         "away lets a plate move, its own weight does so too where it lay "
                         "otherwise: survey it the same way both times.</p>\n");
    pp_html_end_section(out);
}

pp_status pp_comparison_page(const pp_comparison *c, pp_memory *memory, pp_text *out,
                             pp_error *error)
{
    PP_TRY(pp_html_open(out, c->report[1].plate_id[0] ? c->report[1].plate_id : "plate",
                        "what changed", false, error));
    add_header(out, c);
    add_summary(out, c);
    PP_TRY(add_where(out, c, memory, error));
    add_items(out, c);
    add_face(out, c);
    pp_text_print(out,
                  "</main>\n<footer><p>plateproof %s. Differences count where they pass the "
                  "expanded uncertainty (k = 2) of both; where none is stated any difference "
                  "counts.</p></footer>\n</body>\n</html>\n",
                  pp_version());
    return out->failed ? pp_fail_memory(error) : PP_OK;
}

#include "report/history/history_page.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "plateproof/version.h"
#include "report/history/answers.h"
#include "report/history/history_pictures.h"
#include "report/page/html_parts.h"
#include "report/page/markup.h"

/* ---- charts ---- */

/* The marks of the picture are round numbers; these are the levels themselves. */
static void add_levels(pp_text *out, const pp_chart_answer *a)
{
    const double levels[] = {a->chart.centre, a->chart.lower, a->chart.upper, a->chart.range_upper};
    static const char *const WORDS[] = {"<p>Mean ", ", limits ", " to ", ", moving range at most "};
    const char *unit = pp_history_unit(a->rows.unit);
    for (int i = 0; i < 4; i++) {
        pp_text_add(out, WORDS[i]);
        pp_history_number(out, levels[i], a->rows.unit);
    }
    pp_text_print(out, "%s%s.</p>\n", unit[0] ? " " : "", unit);
}

static void add_signal_list(pp_text *out, const pp_chart_answer *a)
{
    add_levels(out, a);
    const pp_point_list *beyond = &a->chart.found[0];
    if (!beyond->count) {
        pp_text_add(out, "<p>No plate is beyond the limits.</p>\n");
        return;
    }
    pp_text_add(out,
                "<p class=\"lead\">Beyond the limits: look for what was different.</p>\n<ol>\n");
    for (size_t k = 0; k < beyond->count; k++) {
        const pp_history_row *row = &a->rows.rows[beyond->points[k] - 1];
        pp_text_add(out, "<li>");
        pp_markup_add(out, row->label);
        pp_text_add(out, ", ");
        pp_markup_add(out, row->date);
        pp_text_add(out, ": ");
        pp_history_number(out, a->value[beyond->points[k] - 1], a->rows.unit);
        pp_text_print(out, " %s</li>\n", pp_history_unit(a->rows.unit));
    }
    pp_text_add(out, "</ol>\n");
}

static void add_hints(pp_text *out, const pp_chart_answer *a)
{
    bool said = false;
    for (int k = 1; k <= PP_RUN_RULES; k++) {
        const pp_point_list *found = k < PP_RUN_RULES ? &a->chart.found[k] : &a->chart.range_beyond;
        if (!found->count) continue;
        const pp_history_row *last = &a->rows.rows[found->points[found->count - 1] - 1];
        pp_text_print(out, "%s%s, %zu plate%s, the last one ", said ? "; " : "<p>Hints: ",
                      k < PP_RUN_RULES ? pp_run_rules[k].name : "long range", found->count,
                      found->count == 1 ? "" : "s");
        pp_markup_add(out, last->label);
        said = true;
    }
    if (said) pp_text_add(out, ".</p>\n");
}

/* A dotted name may break after its dots. */
static void add_breakable(pp_text *out, const char *name)
{
    for (const char *at = name; *at;) {
        char part[64];
        size_t length = strcspn(at, "."), most = sizeof part - 1;
        length = length < most ? length : most;
        memcpy(part, at, length);
        part[length] = '\0';
        pp_markup_add(out, part);
        at += length;
        if (*at == '.') pp_text_add(out, ".<wbr>"), at++;
    }
}

/* What a figure is, for people; NULL: its name says it. */
static const char *words_of(const char *figure)
{
    static const struct {
        const char *figure, *words;
    } known[] = {{"flatness.minimum_zone.flatness", "Flatness"},
                 {"holes.diameter.mean", "Mean diameter"},
                 {"holes.diagnosis.rms_before", "Error of the holes' places, root mean square"},
                 {"holes.diagnosis.scatter_x", "Scatter in x that no cause explains"},
                 {"holes.diagnosis.scatter_y", "Scatter in y that no cause explains"},
                 {"scale common", "Scale common to both axes"},
                 {"scale x-y", "Scale of x against that of y"},
                 {"squareness", "Squareness of the axes"},
                 {"lost motion x", "Lost motion (backlash) in x"},
                 {"lost motion y", "Lost motion (backlash) in y"},
                 {"holes.position.out", "Holes out of place"},
                 {"holes.diameter.undersize", "Undersize holes"},
                 {"holes.diameter.oversize", "Oversize holes"},
                 {"holes.ligament.thin", "Thin ligaments"}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        if (strcmp(figure, known[i].figure) == 0) return known[i].words;
    return NULL;
}

/* The heading in words, and beneath it the name by which a figure is asked for. */
static void begin_figure(pp_text *out, const char *id, const char *figure, const char *behind)
{
    pp_text title = {0};
    const char *words = words_of(figure);
    if (words)
        pp_markup_add(&title, words);
    else
        add_breakable(&title, figure);
    if (behind[0]) pp_text_print(&title, ", %s", behind);
    pp_html_section(out, id, title.length ? title.data : "");
    if (words) {
        pp_text_add(out, "<p class=\"note\">");
        add_breakable(out, figure);
        pp_text_add(out, "</p>\n");
    }
    out->failed = out->failed || title.failed;
    pp_text_free(&title);
}

static void add_chart(pp_text *out, const pp_chart_answer *a, size_t number_of)
{
    char id[32];
    pp_text cautions = {0};
    const pp_history_answer answer = {.chart = a};
    snprintf(id, sizeof id, "chart-%zu", number_of);
    begin_figure(out, id, a->figure, pp_history_unit(a->rows.unit));
    pp_picture_chart(out, a);
    add_signal_list(out, a);
    add_hints(out, a);
    pp_history_cautions(&answer, "", " ", &cautions);
    if (cautions.length) {
        pp_text_add(out, "<p class=\"note\">");
        pp_markup_add(out, cautions.data);
        pp_text_add(out, "</p>\n");
    }
    pp_html_end_section(out);
    if (cautions.failed) out->failed = true;
    pp_text_free(&cautions);
}

static void add_events(pp_text *out, const pp_list_answer *list)
{
    if (!list->event_count) return;
    pp_html_section(out, "events", "What changed");
    pp_text_add(out, "<ul>\n");
    for (size_t i = 0; i < list->event_count; i++) {
        pp_text_add(out, "<li>");
        pp_markup_add(out, list->events[i].date);
        pp_text_add(out, ", ");
        pp_markup_add(out, list->events[i].machine ? list->events[i].machine : "all machines");
        pp_text_add(out, ": ");
        pp_markup_add(out, list->events[i].text);
        pp_text_add(out, "</li>\n");
    }
    pp_text_add(out, "</ul>\n<p class=\"note\">Charts begin anew there.</p>\n");
    pp_html_end_section(out);
}

/* ---- counted holes ---- */

static void add_cautions(pp_text *out, const pp_history_answer *answer)
{
    pp_text cautions = {0};
    pp_history_cautions(answer, "", " ", &cautions);
    if (cautions.length) {
        pp_text_add(out, "<p class=\"note\">");
        pp_markup_add(out, cautions.data);
        pp_text_add(out, "</p>\n");
    }
    if (cautions.failed) out->failed = true;
    pp_text_free(&cautions);
}

static void add_share(pp_text *out, const pp_share_answer *a, size_t number_of)
{
    char id[32];
    snprintf(id, sizeof id, "share-%zu", number_of);
    begin_figure(out, id, a->figure, "share of the holes");
    pp_picture_shares(out, a);
    pp_text_print(out, "<p>%.3g %% of the holes in all; %zu plate%s beyond the limits.</p>\n",
                  100 * a->chart.centre, a->chart.beyond.count,
                  a->chart.beyond.count == 1 ? "" : "s");
    if (a->chart.widened)
        pp_text_print(
            out,
            "<p class=\"note\">Holes of a plate share its errors: plates spread %.2g times "
            "as far as chance alone lets them, and the dashed limits are as much wider. "
            "Dotted: what chance alone would allow.</p>\n",
            a->chart.spread);
    add_cautions(out, &(pp_history_answer){.share = a});
    pp_html_end_section(out);
}

/* ---- capability ---- */

static void fact(pp_text *out, const char *word, double value, double low, double high,
                 const char *level)
{
    if (isnan(value)) return;
    pp_text_print(out, "<dt>%s</dt><dd>%.3f", word, value);
    if (!isnan(low)) pp_text_print(out, ", between %.3f and %.3f (%s)", low, high, level);
    pp_text_add(out, "</dd>\n");
}

static void add_size(pp_text *out, const pp_capability_answer *a)
{
    const pp_size_capability *c = &a->size;
    pp_html_section(out, "capability-diameter", "Capability: diameters");
    pp_picture_size(out, a);
    pp_text_print(out, "<dl class=\"facts\">\n<dt>From</dt><dd>%zu plate%s, %.0f holes%s</dd>\n",
                  c->plates, c->plates == 1 ? "" : "s", c->holes,
                  c->plates == 1 ? ": this plate only" : "");
    fact(out, "Pp", c->pp, c->pp_low, c->pp_high, "95 %");
    fact(out, "Ppk", c->ppk, c->ppk_low, c->ppk_high, "95 %");
    fact(out, "Cp, within plates", c->cp, NAN, NAN, "");
    fact(out, "Cpk, if every plate were centred alike", c->cpk, NAN, NAN, "");
    pp_text_print(out,
                  "<dt>Mean; within a plate; plate to plate; in all</dt><dd>%.4f; %.4f; %.4f; %.4f "
                  "mm</dd>\n</dl>\n",
                  c->mean, c->within, c->between, c->total);
    add_cautions(out, &(pp_history_answer){.capability = a});
    pp_html_end_section(out);
}

static void add_place(pp_text *out, const pp_capability_answer *a)
{
    const pp_position_capability *c = &a->place;
    pp_html_section(out, "capability-position", "Capability: positions");
    pp_picture_position(out, a);
    pp_text_print(out,
                  "<dl class=\"facts\">\n<dt>From</dt><dd>%zu plate%s, %.0f holes, within a "
                  "position of %g mm</dd>\n",
                  c->plates, c->plates == 1 ? ": this plate only" : "s", c->holes, a->limit);
    fact(out, "Ppk, by percentiles", c->ppk, c->ppk_low, c->ppk_high, "90 %");
    pp_text_print(out,
                  "<dt>Half of the holes within; all but .135 %% within</dt><dd>%.4f; %.4f "
                  "mm</dd>\n<dt>Share outside, modelled</dt><dd>",
                  c->median, c->q99865);
    pp_history_modelled(out, c->share_outside);
    pp_text_add(out, "</dd>\n");
    if (a->counted_of > 0)
        pp_text_print(out,
                      "<dt>Share outside, counted</dt><dd>%.0f of %.0f; at most %.3g %% with 95 %% "
                      "confidence</dd>\n",
                      a->counted, a->counted_of, 100 * a->counted_bound);
    pp_text_add(out, "</dl>\n<p class=\"note\">Dashed: the limit; dots: the plates' means; the "
                     "ellipse holds 99.73 % of the holes by the model.</p>\n");
    add_cautions(out, &(pp_history_answer){.capability = a});
    pp_html_end_section(out);
}

/* ---- tools, and what goes with what ---- */

static void add_tools(pp_text *out, const pp_tool_answer *a)
{
    const pp_tool_life *l = &a->life;
    pp_html_section(out, "tools", "Tools");
    pp_picture_tools(out, a);
    pp_text_print(out,
                  "<dl class=\"facts\">\n<dt>Tools</dt><dd>%zu, the longest drilled %.0f "
                  "holes</dd>\n",
                  l->tools, l->longest);
    const double lives[] = {l->life, l->life_sure};
    for (int k = 0; k < 2; k++) {
        pp_text_print(out, "<dt>%s</dt><dd>", k ? "Life, sure (95 %)" : "Life");
        if (isnan(lives[k]))
            pp_text_print(out, "not known: at least %s tools are wanted", k ? "3" : "2");
        else if (isinf(lives[k]))
            pp_text_add(out, "no wear towards the limits");
        else
            pp_text_print(out, "%.0f holes", floor(lives[k]));
        pp_text_add(out, "</dd>\n");
    }
    pp_text_print(out,
                  "</dl>\n<p class=\"note\">A line for each tool, from the holes it had drilled to "
                  "its last. Life: until %g %% of a tool's holes are beyond a limit.</p>\n",
                  100 * a->share);
    add_cautions(out, &(pp_history_answer){.tools = a});
    pp_html_end_section(out);
}

static void add_causes(pp_text *out, const pp_cause_answer *a)
{
    size_t found = 0;
    for (size_t i = 0; i < a->count; i++) found += a->tests[i].found;
    pp_html_section(out, "goes-with", "What goes with what");
    if (!found) {
        pp_text_print(out,
                      "<p>None of %zu comparisons by supplier, heat, machine and instrument shows "
                      "anything. That is no proof that there is nothing.</p>\n",
                      a->count);
        pp_html_end_section(out);
        return;
    }
    pp_text_add(out, "<ul>\n");
    for (size_t i = 0; i < a->count; i++) {
        const pp_cause_test *t = &a->tests[i];
        if (!t->found) continue;
        pp_text_add(out, "<li>");
        pp_markup_add(out, t->figure);
        pp_text_print(out,
                      " goes with %s: %.0f %% of its variance, p %.2g over all %zu comparisons",
                      pp_factor_names[t->by], 100 * t->test.share, t->p_adjusted, a->count);
        for (int f = 0; f < PP_FACTORS; f++)
            if ((t->same_as | t->within) & 1u << f)
                pp_text_print(out, "; %s %s", pp_factor_names[f],
                              t->same_as & 1u << f ? "parts the plates alike" : "changes with it");
        pp_text_add(out, "</li>\n");
    }
    pp_text_add(out, "</ul>\n<p class=\"note\">To go with something is not to be caused by "
                     "it.</p>\n");
    pp_html_end_section(out);
}

/* ---- all of it ---- */

static void add_contents(pp_text *out, const pp_history_page *page)
{
    pp_text_add(out, "<nav aria-label=\"Sections\"><ul class=\"legend\">");
    const struct {
        bool there;
        const char *id, *words;
    } parts[] = {{page->list->event_count > 0, "events", "events"},
                 {page->chart_count > 0, "chart-1", "charts"},
                 {page->share_count > 0, "share-1", "shares of holes"},
                 {page->size != NULL, "capability-diameter", "capability of diameters"},
                 {page->place != NULL, "capability-position", "capability of positions"},
                 {page->tools != NULL, "tools", "tools"},
                 {page->causes != NULL, "goes-with", "what goes with what"}};
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++)
        if (parts[i].there)
            pp_text_print(out, "<li><a href=\"#%s\">%s</a></li>", parts[i].id, parts[i].words);
    pp_text_add(out, "</ul></nav>\n");
}

static void add_sections(pp_text *out, const pp_history_page *page)
{
    add_events(out, page->list);
    for (size_t i = 0; i < page->chart_count; i++) add_chart(out, &page->charts[i], i + 1);
    for (size_t i = 0; i < page->share_count; i++) add_share(out, &page->shares[i], i + 1);
    if (page->several_limits)
        pp_text_add(out, "<p class=\"note\">Plates were judged by several limits; capability and "
                         "tools below are held against those of the latest plate.</p>\n");
    if (page->size) add_size(out, page->size);
    if (page->place) add_place(out, page->place);
    if (page->tools) add_tools(out, page->tools);
    if (page->causes) add_causes(out, page->causes);
}

pp_status pp_history_page_write(const pp_history_page *page, pp_text *out, pp_error *error)
{
    PP_TRY(pp_html_open(out, page->title, "history", false, error));
    pp_text_add(out, "<a class=\"skip\" href=\"#main\">Skip to the charts</a>\n<header>\n<p "
                     "class=\"kind\">What many plates say of the process</p>\n<h1>");
    pp_markup_add(out, page->title);
    pp_text_print(out, "</h1>\n<p class=\"identity\">%zu plates, %zu reports</p>\n",
                  page->list->plates, page->list->reports);
    add_contents(out, page);
    pp_text_add(out, "<p class=\"note\">Dashed: limits; line: mean; a ring with a number: a plate "
                     "beyond; a dotted ring: a hint; hollow: before the last event.</p>\n"
                     "</header>\n<main id=\"main\">\n");
    add_sections(out, page);
    pp_text_print(
        out,
        "</main>\n<footer><p>plateproof %s. Limits are those of the process, mean ± 2.660 "
        "mean moving range (ISO 7870-2, from memory), not of the drawing: whether a plate "
        "conforms is said by its report.</p></footer>\n</body>\n</html>\n",
        pp_version());
    return out->failed ? pp_fail_memory(error) : PP_OK;
}

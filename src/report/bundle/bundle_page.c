#include "report/bundle/bundle_page.h"

#include <math.h>
#include <string.h>

#include "answer/bundle_summary.h"
#include "answer/for_people.h"
#include "answer/reading_words.h"
#include "report/bundle/bundle_pictures.h"
#include "report/page/html_parts.h"
#include "report/page/markup.h"

enum { FAILING_MAX = 500, MATES_MAX = 200 };

typedef struct page {
    pp_text *out;
    const pp_bundle_results *r;
    const pp_bundle_summary *s;
    const char *set_file;
} page;

static void add_cell(const page *p, const char *label, const char *untrusted)
{
    pp_text_print(p->out, "<td data-label=\"%s\">", label);
    pp_markup_add(p->out, untrusted);
    pp_text_add(p->out, "</td>");
}

static void add_header(const page *p)
{
    const pp_bundle_judgement *j = p->r->judgement;
    const pp_job *job = p->r->set->job;
    pp_text_add(p->out, "<a class=\"skip\" href=\"#summary\">Skip to the results</a>\n<header>\n<p "
                        "class=\"kind\">Bundle: will every tube go through</p>\n<h1>");
    pp_markup_add(p->out, job->title ? job->title : job->name);
    pp_text_add(p->out, "</h1>\n<p class=\"identity\">");
    if (job->order) {
        pp_text_add(p->out, "order ");
        pp_markup_add(p->out, job->order);
        pp_text_add(p->out, ", ");
    }
    pp_markup_add(p->out, p->r->date);
    pp_text_print(p->out, "</p>\n<div class=\"verdict v%d\" id=\"verdict\">", (int)j->verdict);
    pp_html_sign(p->out, j->verdict);
    pp_text_print(p->out, "<div><p class=\"word\">%s</p><p>", pp_verdict_words(j->verdict));
    pp_markup_add(p->out, p->s->headline);
    pp_text_add(p->out, "</p><p class=\"basis\">Basis: ");
    pp_markup_add(p->out, j->basis);
    pp_text_add(p->out, ". Decision rule: ");
    pp_markup_add(p->out, j->decision_rule);
    pp_text_add(p->out, ".</p></div></div>\n</header>\n<main>\n");
}

static void add_summary(const page *p)
{
    const pp_bundle_judgement *j = p->r->judgement;
    pp_html_section(p->out, "summary", "Results");
    pp_text_add(p->out, "<dl class=\"facts\">\n");
    for (size_t i = 0; i < p->s->fact_count; i++) {
        pp_text_add(p->out, "<dt>");
        pp_markup_add(p->out, p->s->facts[i].name);
        pp_text_add(p->out, "</dt><dd>");
        pp_markup_add(p->out, p->s->facts[i].value);
        pp_text_add(p->out, "</dd>\n");
    }
    pp_text_add(p->out, "</dl>\n<ul class=\"cautions\" aria-label=\"Cautions\">\n");
    for (size_t i = 0; i < j->caution_count; i++) {
        pp_text_add(p->out, "<li>");
        pp_markup_add(p->out, j->cautions[i]);
        pp_text_add(p->out, "</li>\n");
    }
    pp_text_add(p->out, "</ul>\n");
    pp_html_end_section(p->out);
}

static void add_state_keys(const page *p, const size_t counts[PP_BUNDLE_STATES])
{
    for (int s = 0; s < PP_BUNDLE_STATES; s++)
        if (counts[s])
            pp_text_print(p->out, "<li><span class=\"key t%d%s\"></span>%zu %s</li>", s,
                          s == 1 ? " m2" : "", counts[s], pp_bundle_state_words(s));
}

/* The shades of tubes that pass straight, from little to spare to much. */
static void add_shade_keys(const page *p)
{
    double most = pp_bundle_most_to_spare(p->r);
    if (!(most > 0)) return;
    pp_text_add(p->out, "<ul class=\"legend\" aria-label=\"Room to spare\">");
    for (int k = 0; k < PP_BUNDLE_SHADES; k++) {
        pp_text piece = {0};
        pp_people_length(&piece, p->r->bundle->set->units, most * (k + 1) / PP_BUNDLE_SHADES);
        pp_text_print(p->out, "<li><span class=\"key t1 m%d\"></span>up to %s to spare</li>", k,
                      piece.length ? piece.data : "");
        if (piece.failed) p->out->failed = true;
        pp_text_free(&piece);
    }
    pp_text_add(p->out, "</ul>\n");
}

static void add_map(const page *p)
{
    size_t counts[PP_BUNDLE_STATES] = {0}, windows = 0;
    const pp_bundle *b = p->r->bundle;
    for (size_t k = 0; k < b->mates.tubes.count; k++) {
        counts[pp_bundle_state(p->r, k)]++;
        windows += b->tube[k].plates < b->set->plate_count;
    }
    pp_html_section(p->out, "tubes", "The tubes, seen from the front");
    pp_bundle_map(p->out, p->r);
    pp_text_add(p->out, "<ul class=\"legend\" aria-label=\"Tubes by state\">");
    add_state_keys(p, counts);
    if (windows)
        pp_text_print(p->out,
                      "<li><span class=\"key window\"></span>%zu with a broken rim: not in every "
                      "plate</li>",
                      windows);
    pp_text_add(p->out, "</ul>\n");
    add_shade_keys(p);
    pp_text_add(p->out, "<p class=\"note\">A cross: does not pass or has a wrong hole; one "
                        "stroke: by bending, or not proven. Point at a tube for its numbers; "
                        "bundle_tubes.csv has them all.</p>\n");
    pp_html_end_section(p->out);
}

static void add_plate_row(const page *p, size_t plate)
{
    const pp_bundle *b = p->r->bundle;
    const pp_set_plate *set = &b->set->plates[plate];
    const pp_play *play = &b->play[plate];
    double room = fmax(play->radius, play->angle * play->rim), share;
    pp_text piece = {0};
    pp_text_add(p->out, "<tr><th scope=\"row\">");
    pp_markup_add(p->out, set->name);
    pp_text_add(p->out, "</th>");
    add_cell(p, "Where to put it", p->s->fitter[plate]);
    pp_text_add(p->out, "<td data-label=\"Play used\">");
    if (room > 0) {
        pp_bundle_bar(p->out, pp_bundle_moved(b, plate) / room);
        pp_people_length(&piece, b->set->units, pp_bundle_moved(b, plate));
        pp_text_add(&piece, " of ");
        pp_people_size(&piece, b->set->units, room);
        pp_markup_add(p->out, piece.length ? piece.data : "");
    }
    pp_text_add(p->out, "</td><td data-label=\"Share in the decision\">");
    share = b->placed_given ? pp_bundle_plate_share(b, plate) : NAN;
    if (!isnan(share)) {
        pp_bundle_bar(p->out, share);
        pp_text_print(p->out, "%.0f %%", 100 * share);
    }
    pp_text_print(p->out, "</td><td data-label=\"Holes\">%zu, %zu missing</td></tr>\n",
                  b->mates.plate[plate].holes, b->mates.plate[plate].missing);
    if (piece.failed) p->out->failed = true;
    pp_text_free(&piece);
}

static void add_plates(const page *p)
{
    pp_html_section(p->out, "plates", "Where to put the plates");
    pp_text_add(p->out, "<p class=\"note\">");
    pp_markup_add(p->out, p->s->fitter_note);
    pp_text_add(p->out,
                ".</p>\n<div class=\"scroll\"><table class=\"stack\"><caption>From the front "
                "to the rear</caption><thead><tr><th scope=\"col\">Plate</th><th "
                "scope=\"col\">Where to put it</th><th scope=\"col\">Play used</th><th "
                "scope=\"col\">Share in the decision</th><th scope=\"col\">Holes</th></tr>"
                "</thead><tbody>\n");
    for (size_t i = 0; i < p->r->set->plate_count; i++) add_plate_row(p, i);
    pp_text_add(p->out, "</tbody></table></div>\n");
    pp_html_end_section(p->out);
}

static void add_worst(const page *p)
{
    const pp_bundle *b = p->r->bundle;
    if (b->worst == PP_NONE) return;
    pp_text words = {0};
    pp_html_section(p->out, "worst", "The worst tube unrolled");
    pp_text_add(p->out, "<p>");
    pp_markup_add(p->out, b->mates.tubes.name[b->worst]);
    pp_text_add(p->out, ": ");
    pp_bundle_tube_words(&words, p->r, b->worst);
    pp_markup_add(p->out, words.length ? words.data : "");
    pp_text_add(p->out, ".</p>\n");
    double scale = pp_bundle_tube_strips(p->out, p->r, b->worst);
    pp_text_print(p->out,
                  "<p class=\"note\">Each bar is the room of the tube's axis in one edge of a hole "
                  "(%s); vermilion where the hole is smaller than the tube. The level line is the "
                  "best straight tube%s. Crosswise drawn %.0f times as large as lengthwise.</p>\n",
                  pp_people_unit(p->r->set->units),
                  b->tube[b->worst].bends && b->bending ? ", the broken line the bent one" : "",
                  scale);
    pp_html_end_section(p->out);
    if (words.failed) p->out->failed = true;
    pp_text_free(&words);
}

static pp_status add_margins(const page *p, pp_memory *memory, pp_error *error)
{
    bool placed = p->r->bundle->judged != PP_JUDGED_AS_SET_OUT;
    pp_html_section(p->out, "margins", "How much room the tubes have");
    PP_TRY(pp_bundle_margins(p->out, p->r, memory, error));
    pp_text_print(p->out,
                  "<p class=\"note\">Share of the tubes that pass straight with at least this to "
                  "spare, diametral, in %s%s. The dashed line is what is wanted.</p>\n",
                  pp_people_unit(p->r->set->units),
                  placed ? ": full line as placed, dotted as set out" : "");
    pp_html_end_section(p->out);
    return PP_OK;
}

static void add_failing(const page *p)
{
    const pp_bundle_judgement *j = p->r->judgement;
    size_t failing = j->not_conform + j->not_proven, shown = 0;
    if (!failing) return;
    pp_html_section(p->out, "failing", "Tubes that do not conform, or are not proven");
    if (failing > FAILING_MAX)
        pp_text_print(p->out,
                      "<p class=\"note\">The first %d of %zu; bundle_tubes.csv has all."
                      "</p>\n",
                      FAILING_MAX, failing);
    pp_text_add(p->out, "<div class=\"scroll\"><table class=\"stack\"><thead><tr><th scope=\"col\">"
                        "Tube</th><th scope=\"col\">Verdict</th><th scope=\"col\">What</th><th "
                        "scope=\"col\">Decided by</th></tr></thead><tbody>\n");
    pp_text piece = {0};
    for (size_t k = 0; k < p->r->bundle->mates.tubes.count && shown < FAILING_MAX; k++) {
        pp_verdict verdict = (pp_verdict)j->tube[k].verdict;
        const pp_bundle_tube *t = &p->r->bundle->tube[k];
        if (verdict != PP_DOES_NOT_CONFORM && verdict != PP_NOT_PROVEN) continue;
        shown++;
        pp_text_add(p->out, "<tr><th scope=\"row\">");
        pp_markup_add(p->out, p->r->bundle->mates.tubes.name[k]);
        pp_text_print(p->out, "</th><td data-label=\"Verdict\" class=\"said v%d\">", (int)verdict);
        pp_html_sign(p->out, verdict);
        pp_text_print(p->out, " %s</td>", pp_verdict_words(verdict));
        piece.length = 0;
        pp_bundle_tube_words(&piece, p->r, k);
        add_cell(p, "What", piece.length ? piece.data : "");
        piece.length = 0;
        for (size_t i = 0; i < t->decisive_count && i < 3; i++) {
            if (i) pp_text_add(&piece, "; ");
            pp_bundle_disc_words(&piece, p->r->bundle, &t->decisive[i]);
        }
        add_cell(p, "Decided by", piece.length ? piece.data : "");
        pp_text_add(p->out, "</tr>\n");
    }
    pp_text_add(p->out, "</tbody></table></div>\n");
    pp_html_end_section(p->out);
    if (piece.failed) p->out->failed = true;
    pp_text_free(&piece);
}

static void add_mate(const page *p, const char *kind, const char *tube, uint32_t plate,
                     const char *hole)
{
    pp_text_print(p->out, "<tr><td>%s</td>", kind);
    add_cell(p, "Tube", tube);
    add_cell(p, "Plate", p->r->set->plates[plate].name);
    add_cell(p, "Hole", hole);
    pp_text_add(p->out, "</tr>\n");
}

static void add_mates(const page *p)
{
    const pp_mates *m = &p->r->bundle->mates;
    if (!m->missing_count && !m->stray_count && !m->doubled_count) return;
    pp_html_section(p->out, "mates", "Holes that do not mate");
    pp_text_add(p->out, "<div class=\"scroll\"><table class=\"stack\"><thead><tr><th scope=\"col\">"
                        "What</th><th scope=\"col\">Tube</th><th scope=\"col\">Plate</th><th "
                        "scope=\"col\">Hole</th></tr></thead><tbody>\n");
    for (size_t i = 0; i < m->missing_count && i < MATES_MAX; i++)
        add_mate(p, "missing", m->tubes.name[m->missing[i].tube], m->missing[i].plate, NULL);
    for (size_t i = 0; i < m->stray_count && i < MATES_MAX; i++)
        add_mate(p, "no tube for it", NULL, m->stray[i].plate, m->stray[i].hole);
    for (size_t i = 0; i < m->doubled_count && i < MATES_MAX; i++)
        for (size_t k = 0; k < m->doubled[i].count; k++)
            add_mate(p, "one of several", m->tubes.name[m->doubled[i].tube], m->doubled[i].plate,
                     m->doubled[i].hole[k]);
    pp_text_add(p->out, "</tbody></table></div>\n<p class=\"note\">At most 200 of each kind; "
                        "bundle_mates.csv has all.</p>\n");
    pp_html_end_section(p->out);
}

/* Columns, units, decimal marks and skipped lines of every list: a unit taken wrong shows here. */
static void add_readings(const page *p)
{
    pp_text words = {0};
    pp_text_add(p->out, "<h3>How each file was read</h3>\n<dl class=\"facts reading\">\n");
    for (size_t i = 0; i < p->r->input_count; i++) {
        const pp_input_file *input = &p->r->inputs[i];
        if (!input->reading) continue;
        words.length = 0;
        pp_reading_words(&words, input->reading);
        pp_text_add(p->out, "<dt>");
        pp_markup_add(p->out, input->written);
        pp_text_add(p->out, "</dt><dd>");
        pp_markup_add(p->out, words.data);
        pp_text_add(p->out, "</dd>\n");
    }
    p->out->failed = p->out->failed || words.failed;
    pp_text_free(&words);
    pp_text_add(p->out, "</dl>\n");
}

static void add_inputs(const page *p)
{
    pp_html_section(p->out, "inputs", "What this was computed from");
    pp_text_add(p->out, "<div class=\"scroll\"><table class=\"stack\"><thead><tr><th scope=\"col\">"
                        "File</th><th scope=\"col\">Rows</th><th scope=\"col\">SHA-256</th></tr>"
                        "</thead><tbody>\n");
    for (size_t i = 0; i < p->r->input_count; i++) {
        const pp_input_file *input = &p->r->inputs[i];
        bool set = strcmp(input->role, "job") == 0;
        pp_text_add(p->out, "<tr>");
        add_cell(p, "File", set ? p->set_file : input->written);
        if (input->rows)
            pp_text_print(p->out, "<td data-label=\"Rows\">%zu</td>", input->rows);
        else
            pp_text_add(p->out, "<td></td>");
        pp_text_print(p->out, "<td class=\"hash\">%s</td></tr>\n", input->sha256);
    }
    pp_text_add(p->out, "</tbody></table></div>\n");
    add_readings(p);
    pp_html_end_section(p->out);
}

pp_status pp_bundle_page_write(const pp_bundle_results *results, const char *set_file,
                               pp_memory *memory, pp_text *out, pp_error *error)
{
    pp_bundle_summary summary;
    const pp_job *job = results->set->job;
    page p = {.out = out, .r = results, .s = &summary, .set_file = set_file};
    PP_TRY(pp_bundle_summary_make(results, memory, &summary, error));
    PP_TRY(pp_html_open(out, job->title ? job->title : job->name,
                        pp_verdict_words(results->judgement->verdict), false, error));
    add_header(&p);
    add_summary(&p);
    add_plates(&p);
    if (results->bundle->mates.tubes.count) add_map(&p);
    add_worst(&p);
    PP_TRY(add_margins(&p, memory, error));
    add_failing(&p);
    add_mates(&p);
    add_inputs(&p);
    pp_html_footer(out);
    pp_text_add(out, "</body>\n</html>\n");
    return out->failed ? pp_fail_memory(error) : PP_OK;
}

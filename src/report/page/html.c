#include "report/page/html.h"

#include <sodium.h>
#include <string.h>

#include "answer/for_people.h"
#include "answer/left_out.h"
#include "answer/summary.h"
#include "base/embedded.h"
#include "plateproof/version.h"
#include "report/page/html_parts.h"
#include "report/page/markup.h"

extern const pp_embedded_file pp_page_files[]; /* page.css, page.js */
extern const size_t pp_page_file_count;

static const pp_embedded_file *page_file(const char *name)
{
    for (size_t i = 0; i < pp_page_file_count; i++)
        if (strcmp(pp_page_files[i].name, name) == 0) return &pp_page_files[i];
    return NULL;
}

/* 'sha256-...' of an inline style or script, as the Content-Security-Policy wants it */
static void add_source_hash(pp_text *out, const pp_embedded_file *file)
{
    unsigned char digest[crypto_hash_sha256_BYTES];
    char encoded[sodium_base64_ENCODED_LEN(crypto_hash_sha256_BYTES,
                                           sodium_base64_VARIANT_ORIGINAL)];
    crypto_hash_sha256(digest, (const unsigned char *)file->bytes, file->length);
    sodium_bin2base64(encoded, sizeof encoded, digest, sizeof digest,
                      sodium_base64_VARIANT_ORIGINAL);
    pp_text_print(out, "'sha256-%s'", encoded);
}

pp_status pp_html_open(pp_text *out, const char *title, const char *words, bool script,
                       pp_error *error)
{
    const pp_embedded_file *css = page_file("page.css"), *js = page_file("page.js");
    if (sodium_init() < 0 || !css || !js)
        return pp_fail(error, PP_EIO, "the parts of the page are not there; reinstall plateproof");
    pp_text_add(out, "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
                     "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
                     "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
                     "style-src ");
    add_source_hash(out, css);
    if (script) {
        pp_text_add(out, "; script-src ");
        add_source_hash(out, js);
    }
    pp_text_add(out, "; base-uri 'none'; form-action 'none'\">\n<title>");
    pp_markup_add(out, title);
    pp_text_print(out, ": %s</title>\n<style>", words);
    pp_text_add_bytes(out, css->bytes, css->length);
    pp_text_add(out, "</style>\n</head>\n<body>\n");
    return PP_OK;
}

void pp_html_sign(pp_text *out, pp_verdict verdict)
{
    static const char *const signs[] = {
        [PP_NOT_JUDGED] = "<circle cx=\"12\" cy=\"12\" r=\"9\" fill=\"none\"/>",
        [PP_CONFORMS] =
            "<circle cx=\"12\" cy=\"12\" r=\"10\"/><path d=\"M7 12.5l3.5 3.5L17 8.5\"/>",
        [PP_NOT_PROVEN] =
            "<path class=\"fill\" d=\"M12 1l11 11-11 11L1 12z\"/><path d=\"M9 9.5a3 3 0 1 1 4 "
            "2.8c-.7.3-1 .8-1 1.7M12 17.4v.2\"/>",
        [PP_DOES_NOT_CONFORM] =
            "<path class=\"fill\" d=\"M7.5 1.5h9l6 6v9l-6 6h-9l-6-6v-9z\"/><path d=\"M8 8l8 "
            "8M16 8l-8 8\"/>",
    };
    pp_text_print(out,
                  "<svg class=\"sign v%d\" viewBox=\"0 0 24 24\" aria-hidden=\"true\">%s</svg>",
                  (int)verdict, signs[verdict]);
}

/* Which plate this is, in one line. */
static void add_identity(pp_text *out, const pp_results *r)
{
    const pp_job *j = r->job;
    const struct {
        const char *word, *value;
    } parts[] = {
        {"plate ", j->plate_id},       {"serial ", j->serial},
        {"drawing ", j->drawing},      {"revision ", j->drawing ? j->drawing_revision : NULL},
        {"order ", j->order},          {"item ", j->item},
        {"report ", j->report_number}, {"", r->date}};
    size_t said = 0;
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        if (!parts[i].value || !*parts[i].value) continue;
        pp_text_print(out, "%s%s", said++ ? ", " : "<p class=\"identity\">", parts[i].word);
        pp_markup_add(out, parts[i].value);
    }
    if (said) pp_text_add(out, "</p>\n");
}

static void add_header(pp_text *out, const pp_results *r, const pp_summary *summary)
{
    const pp_judgement *j = r->judgement;
    pp_text_add(out, "<a class=\"skip\" href=\"#summary\">Skip to the results</a>\n<header>\n<p "
                     "class=\"kind\">");
    pp_text_add(out, pp_is_whole(r) ? "Dimensional inspection report" : pp_paper_title(r));
    pp_text_add(out, "</p>\n<h1>");
    pp_markup_add(out, r->job->title ? r->job->title : r->job->name);
    pp_text_add(out, "</h1>\n");
    add_identity(out, r);
    pp_verdict shown = pp_headline_verdict(r);
    pp_text_print(out, "<div class=\"verdict v%d\" id=\"verdict\">", (int)shown);
    pp_html_sign(out, shown);
    pp_text_print(out, "<div><p class=\"word\">%s</p><p>", pp_headline_words(r));
    if (pp_headline_caveat(out, r)) pp_text_add(out, " ");
    pp_markup_add(out, summary->deciding);
    pp_text_add(out, "</p><p class=\"basis\">");
    if (j->basis[0]) {
        pp_text_add(out, "Basis: ");
        pp_markup_add(out, j->basis);
        pp_text_add(out, ". ");
    }
    if (!r->stack || r->drilled) {
        pp_text_add(out, "Decision rule: ");
        pp_markup_add(out, j->decision_rule);
        pp_text_add(out, ".");
    }
    pp_text_add(out, "</p>");
    for (size_t i = 0; i < j->doubt_count; i++) {
        pp_text_add(out, "<p class=\"doubt\">");
        pp_markup_add(out, j->cautions[i]);
        pp_text_add(out, "</p>");
    }
    pp_text_add(out, "</div></div>\n");
    pp_html_work_tiles(out, r);
    pp_text_add(out, "</header>\n<main>\n");
}

static void add_cautions(pp_text *out, const pp_judgement *j)
{
    if (!j->caution_count) return;
    pp_text_add(out, "<ul class=\"cautions\" aria-label=\"Cautions\">\n");
    for (size_t i = 0; i < j->caution_count; i++) {
        pp_text_add(out, "<li>");
        pp_markup_add(out, j->cautions[i]);
        pp_text_add(out, "</li>\n");
    }
    pp_text_add(out, "</ul>\n");
}

static void add_cell(pp_text *out, const char *label, const char *untrusted)
{
    pp_text_print(out, "<td data-label=\"%s\">", label);
    pp_markup_add(out, untrusted);
    pp_text_add(out, "</td>");
}

static void add_judged(pp_text *out, const pp_summary *summary)
{
    pp_text_add(out,
                "<div class=\"scroll\"><table class=\"stack\"><caption>What was judged, against "
                "which limit</caption><thead><tr><th scope=\"col\">Characteristic</th><th "
                "scope=\"col\">Verdict</th><th scope=\"col\">Result</th><th scope=\"col\">Limit"
                "</th><th scope=\"col\">Counts and notes</th><th scope=\"col\">Uncertainty</th>"
                "</tr></thead><tbody>\n");
    for (size_t i = 0; i < summary->count; i++) {
        const pp_summary_row *row = &summary->rows[i];
        pp_text_add(out, "<tr><th scope=\"row\">");
        pp_markup_add(out, row->name);
        pp_text_print(out, "</th><td data-label=\"Verdict\" class=\"said v%d\">",
                      (int)row->verdict);
        pp_html_sign(out, row->verdict);
        pp_text_print(out, " %s</td>", pp_verdict_words(row->verdict));
        add_cell(out, "Result", row->result);
        add_cell(out, "Limit", row->limit);
        add_cell(out, "Notes", row->detail);
        add_cell(out, "Uncertainty", row->uncertainty);
        pp_text_add(out, "</tr>\n");
    }
    pp_text_add(out, "</tbody></table></div>\n");
}

/* Where nothing was judged the cautions stand alone. */
static void add_summary(pp_text *out, const pp_results *r, const pp_summary *summary)
{
    if (!summary->count && !r->judgement->caution_count) return; /* a plan of its own */
    pp_html_section(out, "summary", summary->count ? "Results" : "Cautions");
    if (summary->count) add_judged(out, summary);
    if (*summary->assumed) pp_text_print(out, "<p class=\"note\">%s</p>\n", summary->assumed);
    if (*summary->taken) pp_text_print(out, "<p class=\"note\">%s</p>\n", summary->taken);
    add_cautions(out, r->judgement);
    pp_html_end_section(out);
}

static void add_legend(pp_text *out, const pp_plate_view *view)
{
    pp_text_add(out, "<ul class=\"legend\" aria-label=\"Holes by state\">");
    for (int s = 0; s < PP_HOLE_STATES; s++) {
        if (!view->counts[s]) continue;
        pp_text_add(out, "<li>");
        pp_html_key(out, (pp_hole_state)s);
        pp_people_count(out, view->counts[s]);
        pp_text_print(out, " %s</li>", pp_hole_state_words((pp_hole_state)s));
    }
    pp_text_add(out, "</ul>\n");
}

static void add_plate(pp_text *out, const pp_results *r, const pp_plate_view *view)
{
    if ((pp_is_plan(r) || r->drilled) && !r->flatness) return; /* its own pictures say more */
    if (!view->count && !(r->flatness && r->flatness->surface_valid)) return;
    pp_html_section(out, "plate", "The plate");
    if (view->count > PP_PAGE_HOLES_MAX)
        pp_text_print(
            out,
            "<p class=\"note\">The plate has %zu holes: the map to move about in shows those "
            "that fail, are not proven or plugged; holes.csv has all.</p>\n",
            view->count);
    pp_text_add(
        out,
        "<div id=\"explorer\" hidden>\n<div class=\"tools\"><div id=\"layers\" role=\"radiogroup\" "
        "aria-label=\"What the plate shows\"></div>\n<form id=\"find\" role=\"search\"><label>Find "
        "a "
        "hole <input id=\"find-text\" type=\"search\" autocomplete=\"off\" "
        "placeholder=\"name, or row 12 column 5\"></label><button>Find</button></form></div>\n"
        "<div class=\"stage\"><canvas id=\"map\" tabindex=\"0\" role=\"application\" "
        "aria-roledescription=\"plate map\" aria-label=\"Plate map. Arrow keys step from hole to "
        "hole, "
        "plus and minus zoom, zero shows all.\"></canvas><div class=\"zoom\"><button "
        "type=\"button\" "
        "id=\"closer\" aria-label=\"Zoom in\">+</button><button type=\"button\" id=\"wider\" "
        "aria-label=\"Zoom out\">\u2212</button><button type=\"button\" id=\"whole\" "
        "aria-label=\"Show the whole plate\">all</button></div>\n<div id=\"card\" role=\"status\" "
        "aria-live=\"polite\">Point at a hole, tap it, or step with the arrow keys.</div></div>\n"
        "<p id=\"walk\" class=\"tools\" hidden><button type=\"button\" id=\"previous\">Previous "
        "<kbd>p</kbd></button><button type=\"button\" id=\"next\">Next <kbd>n</kbd></button> <span "
        "id=\"walked\">Step through the work list; the keys work while the map has the focus."
        "</span></p>\n"
        "<p id=\"scale\" class=\"note\"></p>\n</div>\n");
    pp_html_still(out, r, view);
    if (view->place > 0)
        pp_text_add(out, "<p class=\"note\">The plate has more holes than this picture can show: a "
                         "dot stands for the worst hole around it.</p>\n");
    if (view->count) add_legend(out, view);
    pp_html_end_section(out);
}

static void add_exceptions(pp_text *out, const pp_results *r)
{
    const pp_judgement *j = r->judgement;
    if (!j->exception_count) return;
    pp_html_section(out, "exceptions", "What does not conform or is not proven");
    if (j->exception_count > PP_PAGE_EXCEPTIONS_MAX)
        pp_text_print(out, "<p class=\"note\">The worst %d of %zu; the CSVs have all.</p>\n",
                      PP_PAGE_EXCEPTIONS_MAX, j->exception_count);
    pp_text_add(
        out,
        "<div class=\"scroll\"><table id=\"faults\"><caption>Worst first; a heading sorts</caption>"
        "<thead><tr><th scope=\"col\"><button type=\"button\">Where</button></th><th scope=\"col\">"
        "<button type=\"button\">Characteristic</button></th><th scope=\"col\"><button "
        "type=\"button\">"
        "Verdict</button></th><th scope=\"col\"><button type=\"button\">What is wrong</button></th>"
        "</tr></thead><tbody>\n");
    pp_text piece = {0};
    for (size_t i = 0; i < j->exception_count && i < PP_PAGE_EXCEPTIONS_MAX; i++) {
        const pp_finding *f = &j->findings[j->exceptions[i]];
        piece.length = 0;
        pp_finding_subject(&piece, r, f);
        pp_text_add(out, "<tr><td>");
        pp_markup_add(out, piece.data);
        pp_verdict verdict = pp_exception_verdict(j, f);
        pp_text_print(out, "</td><td>%s</td><td class=\"said v%d\">",
                      pp_characteristic_people((pp_characteristic)f->characteristic), (int)verdict);
        pp_html_sign(out, verdict);
        pp_text_print(out, " %s</td><td>", pp_verdict_words(verdict));
        piece.length = 0;
        pp_finding_fault(&piece, r, f);
        pp_markup_add(out, piece.data);
        pp_text_add(out, "</td></tr>\n");
    }
    if (piece.failed) out->failed = true;
    pp_text_free(&piece);
    pp_text_add(out, "</tbody></table></div>\n");
    pp_html_end_section(out);
}

void pp_html_footer(pp_text *out)
{
    pp_text_print(
        out,
        "</main>\n<footer><p>plateproof %s. This report does not replace the pressure-vessel code, "
        "the drawing or the authorised inspector. It can be recomputed with "
        "<code>plateproof verify</code>.</p></footer>\n",
        pp_version());
}

pp_status pp_html_write(const pp_results *results, pp_memory *memory, pp_text *out, pp_error *error)
{
    const pp_embedded_file *js = page_file("page.js");
    const pp_job *job = results->job;
    pp_summary summary;
    pp_plate_view view;
    PP_TRY(pp_summary_make(results, memory, &summary, error));
    PP_TRY(pp_plate_view_make(results, memory, &view, error));
    PP_TRY(pp_html_open(out, job->title ? job->title : job->name, pp_headline_words(results), true,
                        error));
    add_header(out, results, &summary);
    bool first = pp_is_holddown_study(results); /* what to do comes before how it is known */
    if (first) PP_TRY(pp_html_holddown_section(out, results, memory, error));
    add_summary(out, results, &summary);
    add_plate(out, results, &view);
    pp_html_work(out, results);
    add_exceptions(out, results);
    if (results->measures) PP_TRY(pp_html_histograms(out, results, memory, error));
    pp_html_stack_sections(out, results);
    pp_html_plate_sections(out, results);
    if (results->holddown && !first) PP_TRY(pp_html_holddown_section(out, results, memory, error));
    pp_html_cause_sections(out, results);
    pp_html_record_sections(out, results);
    pp_html_footer(out);
    pp_text_add(out, "<script type=\"application/json\" id=\"data\">");
    pp_html_data(out, results, &view);
    pp_text_add(out, "</script>\n<script>");
    pp_text_add_bytes(out, js->bytes, js->length);
    pp_text_add(out, "</script>\n</body>\n</html>\n");
    return out->failed ? pp_fail_memory(error) : PP_OK;
}

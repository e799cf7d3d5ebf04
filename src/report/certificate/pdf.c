#include "report/certificate/pdf.h"

#include <stdio.h>
#include <string.h>

#include "answer/for_people.h"
#include "answer/identity.h"
#include "answer/inputs.h"
#include "answer/left_out.h"
#include "answer/reading_words.h"
#include "answer/summary.h"
#include "report/certificate/pdf_holddown.h"
#include "report/certificate/pdf_maps.h"
#include "report/certificate/pdf_page.h"
#include "report/certificate/pdf_stack.h"

enum { EXCEPTIONS_MAX = 120, HISTORY_MAX = 60 };

typedef struct certificate {
    const pp_results *results;
    const pp_summary *summary;
    const pp_plate_view *view;
    const pp_pdf_hold_maps *maps;
    pp_text piece; /* for one text at a time */
} certificate;

static const char *text_of(certificate *c)
{
    return c->piece.failed || !c->piece.data ? "" : c->piece.data;
}

static void clear(certificate *c)
{
    c->piece.length = 0;
    if (c->piece.data) c->piece.data[0] = '\0';
}

/* ---- the parts, in order ---- */

static void verdict_part(certificate *c, pp_page_writer *w)
{
    const pp_judgement *j = c->results->judgement;
    pp_page_text(w, PP_STYLE_SMALL, pp_paper_title(c->results));
    pp_page_text(w, PP_STYLE_TITLE,
                 c->results->job->title ? c->results->job->title : c->results->job->name);
    pp_page_space(w, 4);
    clear(c);
    pp_text_print(&c->piece, "%s: %s", pp_is_plan(c->results) ? "Result" : "Verdict",
                  pp_headline_words(c->results));
    pp_page_text(w, PP_STYLE_TITLE, text_of(c));
    clear(c);
    pp_headline_caveat(&c->piece, c->results);
    if (c->piece.length) pp_page_text(w, PP_STYLE_BODY, text_of(c));
    pp_page_text(w, PP_STYLE_BODY, c->summary->deciding);
    clear(c);
    if (pp_is_plan(c->results) && !c->results->flatness) return; /* nothing was judged */
    pp_text_print(&c->piece, "Basis: %s. Decision rule: %s.", j->basis, j->decision_rule);
    pp_page_text(w, PP_STYLE_BODY, text_of(c));
    clear(c);
    pp_text_add(&c->piece, "Judged: ");
    for (size_t i = 0; i < j->judged_count; i++)
        pp_text_print(&c->piece, "%s%s", i ? ", " : "", pp_characteristic_said(j->judged[i]));
    if (!j->judged_count) pp_text_add(&c->piece, "nothing");
    pp_text_add(&c->piece, ". Not judged: ");
    pp_not_judged_words(&c->piece, c->results);
    pp_text_add(&c->piece, ".");
    pp_page_text(w, PP_STYLE_BODY, text_of(c));
    for (size_t i = 0; i < j->term_count; i++) {
        clear(c);
        pp_text_print(&c->piece, "\u2022 %s", j->cautions[i]);
        pp_page_text(w, PP_STYLE_BODY, text_of(c));
    }
}

static void identification_part(certificate *c, pp_page_writer *w)
{
    pp_identity identity;
    pp_error error;
    if (pp_identity_make(c->results, &identity, &error) != PP_OK) c->piece.failed = true;
    pp_page_heading(w, "Identification");
    pp_page_pairs(w, identity.texts, PP_IDENTITY_COUNT);
}

static void characteristics_part(certificate *c, pp_page_writer *w)
{
    static const pp_page_column columns[] = {{0.183, "Characteristic"}, {0.14, "Limit"},
                                             {0.155, "Result"},         {0.262, "Counts and notes"},
                                             {0.155, "Uncertainty"},    {0.105, "Verdict"}};
    if (c->summary->count == 0) return;
    pp_page_need(w, 170); /* no head of a table without its first row */
    pp_page_heading(w, "Results");
    pp_page_table(w, columns, 6);
    for (size_t i = 0; i < c->summary->count; i++) {
        const pp_summary_row *row = &c->summary->rows[i];
        const char *cells[] = {row->name,   row->limit,       row->result,
                               row->detail, row->uncertainty, pp_verdict_words(row->verdict)};
        pp_page_row(w, columns, 6, cells);
    }
    pp_page_space(w, 4);
    if (*c->summary->assumed) pp_page_text(w, PP_STYLE_SMALL, c->summary->assumed);
    if (*c->summary->taken) pp_page_text(w, PP_STYLE_SMALL, c->summary->taken);
}

static void cautions_part(certificate *c, pp_page_writer *w)
{
    const pp_judgement *j = c->results->judgement;
    pp_page_heading(w, "Cautions");
    for (size_t i = j->term_count; i < j->caution_count; i++) { /* the terms stand above */
        clear(c);
        pp_text_print(&c->piece, "\u2022 %s", j->cautions[i]);
        pp_page_text(w, PP_STYLE_BODY, text_of(c));
    }
    if (c->results->holddown) pp_page_text(w, PP_STYLE_BODY, "\u2022 " PP_SAFETY_WORDS);
    clear(c);
    pp_text_print(&c->piece,
                  "\u2022 This %s does not replace the pressure-vessel code, the drawing or the "
                  "authorised inspector.",
                  pp_is_plan(c->results)                                 ? "study"
                  : pp_is_whole(c->results) && j->verdict == PP_CONFORMS ? "certificate"
                                                                         : "report");
    pp_page_text(w, PP_STYLE_BODY, text_of(c));
}

static void maps_part(certificate *c, pp_page_writer *w)
{
    const pp_flatness *f = c->results->flatness;
    const double picture = 250;
    if (c->view->count && c->results->measures) {
        pp_page_need(w, picture + 60);
        pp_page_heading(w, "Holes by state, entry face seen from the machine");
        pp_pdf_plate_map(w, c->results, c->view, picture);
    }
    if (f && f->surface_valid) {
        pp_page_need(w, picture + 60);
        pp_page_heading(
            w, "Surface as supported during the survey, above and below the least-squares plane");
        pp_pdf_surface_map(w, c->results, c->view, picture);
    }
}

static bool has_disposition(const pp_results *r, size_t row)
{
    const pp_readings *readings = r->measures->readings;
    return readings->disposition && readings->disposition[row] && *readings->disposition[row];
}

/* "reamed (NCR 12)" */
static void add_disposition(pp_text *text, const pp_readings *readings, size_t row)
{
    pp_text_add(text, readings->disposition[row]);
    const char *reference = readings->reference ? readings->reference[row] : NULL;
    if (reference && *reference) pp_text_print(text, " (%s)", reference);
}

/* The last one of the finding's hole. */
static void disposition_of(const pp_results *r, const pp_finding *f, pp_text *text)
{
    const pp_measures *m = r->measures;
    pp_subject_kind kind = pp_characteristic_of(f->characteristic)->subject;
    if (!m || pp_is_of_plate(f->characteristic) || kind == PP_OF_BORE || kind == PP_OF_TWO_BORES)
        return;
    uint32_t hole = kind == PP_OF_CHECK ? pp_finding_other(r->judgement, f) : f->subject;
    for (size_t i = m->readings->count; i-- > 0;)
        if (m->hole_of_row[i] == hole && has_disposition(r, i)) {
            add_disposition(text, m->readings, i);
            return;
        }
}

static void exceptions_part(certificate *c, pp_page_writer *w)
{
    static const pp_page_column columns[] = {
        {0.25, "Where"}, {0.42, "What is wrong"}, {0.15, "Verdict"}, {0.18, "Disposition"}};
    const pp_judgement *j = c->results->judgement;
    if (!j->exception_count) return;
    pp_page_heading(w, "What does not conform or is not proven");
    pp_page_table(w, columns, 4);
    pp_text where = {0}, fate = {0};
    for (size_t i = 0; i < j->exception_count && i < EXCEPTIONS_MAX; i++) {
        const pp_finding *f = &j->findings[j->exceptions[i]];
        clear(c);
        pp_finding_fault(&c->piece, c->results, f);
        where.length = 0;
        pp_finding_subject(&where, c->results, f);
        fate.length = 0;
        pp_text_add(&fate, "");
        disposition_of(c->results, f, &fate);
        const char *cells[] = {where.data ? where.data : "", text_of(c),
                               pp_verdict_words(pp_exception_verdict(j, f)),
                               fate.data ? fate.data : ""};
        pp_page_row(w, columns, 4, cells);
    }
    if (where.failed || fate.failed) c->piece.failed = true;
    pp_text_free(&where);
    pp_text_free(&fate);
    if (j->exception_count > EXCEPTIONS_MAX) {
        clear(c);
        pp_text_print(&c->piece, "The worst %d of %zu; holes.csv and ligaments.csv have all.",
                      EXCEPTIONS_MAX, j->exception_count);
        pp_page_text(w, PP_STYLE_BODY, text_of(c));
    }
}

/* "and 12 more ..." below a table that was cut. */
static void and_more(certificate *c, pp_page_writer *w, size_t count, const char *where)
{
    if (count <= HISTORY_MAX) return;
    clear(c);
    pp_text_print(&c->piece, "and %zu more; %s", count - HISTORY_MAX, where);
    pp_page_text(w, PP_STYLE_BODY, text_of(c));
}

static void history_part(certificate *c, pp_page_writer *w)
{
    static const pp_page_column columns[] = {
        {0.2, "Hole"}, {0.2, "Face"}, {0.15, "Round"}, {0.45, "Diameter then"}};
    const pp_measures *m = c->results->measures;
    if (!m || !m->history_count) return;
    pp_page_heading(w, "Earlier rounds, for the record");
    pp_page_table(w, columns, 4);
    for (size_t i = 0; i < m->history_count && i < HISTORY_MAX; i++) {
        const pp_reading_history *h = &m->history[i];
        char round[16];
        snprintf(round, sizeof round, "%u", (unsigned)h->round);
        clear(c);
        pp_people_length(&c->piece, c->results->job->units, h->diameter_min);
        const char *cells[] = {m->nominal->name[h->hole], pp_face_words(h->face), round,
                               text_of(c)};
        pp_page_row(w, columns, 4, cells);
    }
    and_more(c, w, m->history_count, "the report's page and the measured list have them.");
}

/* What became of single holes, whether or not they conform: a concession belongs on a certificate.
 */
static void dispositions_part(certificate *c, pp_page_writer *w)
{
    static const pp_page_column columns[] = {
        {0.2, "Hole"}, {0.2, "Face"}, {0.1, "Round"}, {0.5, "Disposition (reference)"}};
    const pp_measures *m = c->results->measures;
    size_t count = 0;
    for (size_t i = 0; m && i < m->readings->count; i++) {
        if (!has_disposition(c->results, i) || ++count > HISTORY_MAX) continue;
        if (count == 1) {
            pp_page_heading(w, "Dispositions");
            pp_page_table(w, columns, 4);
        }
        char round[16], row[32];
        snprintf(round, sizeof round, "%u", (unsigned)m->readings->round[i]);
        snprintf(row, sizeof row, "row %zu", i + 1);
        clear(c);
        add_disposition(&c->piece, m->readings, i);
        uint32_t hole = m->hole_of_row[i];
        const char *name = m->readings->name ? m->readings->name[i] : "";
        const char *cells[] = {hole != PP_NONE ? m->nominal->name[hole]
                               : *name         ? name
                                               : row,
                               pp_face_words(m->readings->face[i]), round, text_of(c)};
        pp_page_row(w, columns, 4, cells);
    }
    and_more(c, w, count, "the report's page and the measured list have them.");
}

static void limits_part(certificate *c, pp_page_writer *w)
{
    static const pp_page_column columns[] = {{0.26, "Limit"}, {0.18, "Value"}, {0.56, "Source"}};
    const pp_limits *l = c->results->limits;
    size_t count = 0;
    for (size_t i = 0; i < l->count; i++) {
        if (!c->results->measures && !l->all[i].of_plate) continue; /* judges nothing here */
        if (count++ == 0) {
            pp_page_heading(w, "Limits and their sources");
            pp_page_table(w, columns, 3);
        }
        clear(c);
        pp_people_limit_of(&c->piece, c->results->job->units, l->all[i].quantity, l->all[i].value);
        const char *cells[] = {l->all[i].words, text_of(c), l->all[i].source};
        pp_page_row(w, columns, 3, cells);
    }
}

static void reading_part(certificate *c, pp_page_writer *w)
{
    const pp_results *r = c->results;
    pp_page_heading(w, "How each file was read");
    for (size_t i = 0; i < r->input_count; i++) {
        const pp_input_file *f = &r->inputs[i];
        if (!f->reading) continue;
        clear(c);
        pp_text_print(&c->piece, "%s: ", pp_input_words(f->role));
        pp_reading_words(&c->piece, f->reading);
        pp_text_add(&c->piece, " ");
        if (strcmp(f->role, "measured") == 0) pp_matching_words(&c->piece, r);
        pp_page_text(w, PP_STYLE_SMALL, text_of(c));
    }
}

static void traceability_part(certificate *c, pp_page_writer *w)
{
    static const pp_page_column files[] = {
        {0.13, "Role"}, {0.23, "File"}, {0.10, "Rows"}, {0.54, "SHA-256"}};
    static const pp_page_column tools[] = {{0.16, "Instrument"},
                                           {0.30, "Kind"},
                                           {0.14, "Serial"},
                                           {0.20, "Certificate"},
                                           {0.20, "Calibration due"}};
    const pp_results *r = c->results;
    if (r->job->instrument_count) {
        pp_page_heading(w, "Instruments");
        pp_page_table(w, tools, 5);
        for (size_t i = 0; i < r->job->instrument_count; i++) {
            const pp_instrument *t = &r->job->instruments[i];
            const char *cells[] = {t->name, t->kind, t->serial, t->certificate, t->calibration_due};
            pp_page_row(w, tools, 5, cells);
        }
    }
    pp_page_heading(w, "Input files");
    pp_page_table(w, files, 4);
    for (size_t i = 0; i < r->input_count; i++) {
        char rows[24] = "";
        if (r->inputs[i].rows) snprintf(rows, sizeof rows, "%zu", r->inputs[i].rows);
        const char *cells[] = {pp_input_words(r->inputs[i].role), r->inputs[i].written, rows,
                               r->inputs[i].sha256};
        pp_page_row(w, files, 4, cells);
    }
    reading_part(c, w);
}

static void signature_part(pp_page_writer *w)
{
    static const char *const who[] = {"Inspector", "Customer", "Third party"};
    static const char *const points[] = {"review", "witness", "hold point"};
    const double height = 74, width = (w->right - w->left) / 3;
    pp_page_need(w, height + 40);
    pp_page_heading(w, "Signatures");
    for (int i = 0; i < 3; i++) {
        double x = w->left + i * width, y = w->y + 4;
        pp_page_word(w, PP_STYLE_BOLD, x, y, who[i]);
        double at = x;
        for (int k = 0; k < 3; k++) { /* boxes to tick by hand */
            cairo_set_line_width(w->cairo, 0.6);
            cairo_rectangle(w->cairo, at, y + 16, 7, 7);
            cairo_stroke(w->cairo);
            at += 9 + pp_page_word(w, PP_STYLE_SMALL, at + 9, y + 15, points[k]) + 6;
        }
        cairo_move_to(w->cairo, x, y + 54);
        cairo_line_to(w->cairo, x + width - 14, y + 54);
        cairo_stroke(w->cairo);
        pp_page_word(w, PP_STYLE_SMALL, x, y + 57, "name, date, signature");
    }
    w->y += height;
}

static void lay_out(void *context, pp_page_writer *w)
{
    certificate *c = context;
    pp_page_begin(w);
    verdict_part(c, w);
    identification_part(c, w);
    if (pp_is_holddown_study(c->results) && !pp_pdf_holddown_part(w, c->results, c->maps))
        c->piece.failed = true;
    characteristics_part(c, w);
    cautions_part(c, w);
    if (!pp_pdf_stack_parts(w, c->results)) c->piece.failed = true;
    bool layers = pp_is_plan(c->results) || c->results->drilled; /* with pictures of their own */
    if (!layers || c->results->flatness) maps_part(c, w);
    exceptions_part(c, w);
    dispositions_part(c, w);
    history_part(c, w);
    limits_part(c, w);
    traceability_part(c, w);
    if (!pp_is_plan(c->results)) signature_part(w); /* nothing is accepted by a plan */
    pp_page_finish(w);
    if (c->piece.failed) w->failed = true;
}

/* At the top of every page but the first: which report this is. */
static const char *head_of(const pp_results *r, pp_arena *arena)
{
    bool part = !pp_is_whole(r) || pp_is_plan(r);
    /* the verdict first: a long title is cut */
    return pp_text_kept(arena, "%s: %s%s%s", pp_headline_words(r), part ? pp_paper_title(r) : "",
                        part ? ". " : "", r->job->title ? r->job->title : r->job->name);
}

pp_status pp_pdf_write(const pp_results *results, const pp_paper_options *options,
                       pp_memory *memory, pp_text *out, pp_error *error)
{
    pp_summary summary;
    pp_plate_view view;
    PP_TRY(pp_summary_make(results, memory, &summary, error));
    PP_TRY(pp_plate_view_make(results, memory, &view, error));
    certificate c = {.results = results, .summary = &summary, .view = &view};
    const pp_paper paper = {.job = results->job,
                            .subject = pp_paper_title(results),
                            .date = results->date,
                            .running_head = head_of(results, &memory->keep),
                            .options = options,
                            .lay_out = lay_out,
                            .context = &c};
    if (pp_is_holddown_study(results))
        PP_TRY(pp_pdf_hold_maps_make(results, memory, &c.maps, error));
    if (!paper.running_head) return pp_fail_memory(error);
    pp_status status = pp_paper_make(&paper, out, error);
    pp_text_free(&c.piece);
    return status;
}

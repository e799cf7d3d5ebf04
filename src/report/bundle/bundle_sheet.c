#include "report/bundle/bundle_sheet.h"

#include <stdio.h>

#include "answer/bundle_summary.h"
#include "answer/for_people.h"

enum { FAILING_MAX = 60 };

typedef struct sheet {
    const pp_bundle_results *r;
    const pp_bundle_summary *s;
    pp_text piece; /* for one text at a time */
} sheet;

static const char *text_of(sheet *c)
{
    return c->piece.failed || !c->piece.length ? "" : c->piece.data;
}

static void clear(sheet *c) { c->piece.length = 0; }

static void head_part(sheet *c, pp_page_writer *w)
{
    const pp_job *job = c->r->set->job;
    const pp_bundle_judgement *j = c->r->judgement;
    pp_page_text(w, PP_STYLE_SMALL, "Fitter's sheet of a bundle");
    pp_page_text(w, PP_STYLE_TITLE, job->title ? job->title : job->name);
    pp_page_space(w, 4);
    clear(c);
    pp_text_print(&c->piece, "Verdict: %s. ", pp_verdict_words(j->verdict));
    pp_text_add(&c->piece, c->s->headline);
    pp_text_add(&c->piece, ".");
    pp_page_text(w, PP_STYLE_BOLD, text_of(c));
    clear(c);
    pp_text_print(&c->piece, "Basis: %s. Decision rule: %s.", j->basis, j->decision_rule);
    pp_page_text(w, PP_STYLE_BODY, text_of(c));
    clear(c);
    if (job->order) pp_text_print(&c->piece, "Order %s. ", job->order);
    if (job->drawing) pp_text_print(&c->piece, "Drawing %s. ", job->drawing);
    if (c->r->date) pp_text_print(&c->piece, "Date %s.", c->r->date);
    pp_page_text(w, PP_STYLE_SMALL, text_of(c));
}

static void plates_part(sheet *c, pp_page_writer *w)
{
    static const pp_page_column columns[] = {{0.05, "#"},
                                             {0.15, "Plate"},
                                             {0.14, "Front face at"},
                                             {0.46, "Put it"},
                                             {0.20, "Done, sign"}};
    pp_length_unit units = c->r->set->units;
    pp_page_heading(w, "Where to put the plates, seen from the front");
    pp_page_text(w, PP_STYLE_BODY, c->s->fitter_note);
    pp_page_space(w, 3);
    pp_page_table(w, columns, 5);
    for (size_t p = 0; p < c->r->set->plate_count; p++) {
        char number[24];
        snprintf(number, sizeof number, "%zu", p + 1);
        clear(c);
        pp_people_place(&c->piece, units, c->r->set->plates[p].front);
        const char *cells[] = {number, c->r->set->plates[p].name, text_of(c), c->s->fitter[p],
                               "\u2610"};
        pp_page_row(w, columns, 5, cells);
    }
    pp_page_space(w, 4);
    pp_page_text(w, PP_STYLE_SMALL,
                 "Set each plate to its line, lock the tie rods, then push a few tubes through the "
                 "worst places by hand before the rest.");
}

static void facts_part(sheet *c, pp_page_writer *w)
{
    static const pp_page_column columns[] = {{0.27, "What"}, {0.73, "Result"}};
    pp_page_heading(w, "What to expect");
    pp_page_table(w, columns, 2);
    for (size_t i = 0; i < c->s->fact_count; i++) {
        const char *cells[] = {c->s->facts[i].name, c->s->facts[i].value};
        pp_page_row(w, columns, 2, cells);
    }
}

static void failing_part(sheet *c, pp_page_writer *w)
{
    static const pp_page_column columns[] = {{0.14, "Tube"}, {0.46, "What"}, {0.40, "Decided by"}};
    const pp_bundle *b = c->r->bundle;
    const pp_bundle_judgement *j = c->r->judgement;
    size_t failing = j->not_conform + j->not_proven, shown = 0;
    if (!failing) return;
    pp_page_heading(w, "Tubes that do not conform, or are not proven");
    pp_page_table(w, columns, 3);
    pp_text decided = {0};
    for (size_t k = 0; k < b->mates.tubes.count && shown < FAILING_MAX; k++) {
        const pp_bundle_tube *t = &b->tube[k];
        if (j->tube[k].verdict != PP_DOES_NOT_CONFORM && j->tube[k].verdict != PP_NOT_PROVEN)
            continue;
        shown++;
        clear(c);
        pp_bundle_tube_words(&c->piece, c->r, k);
        decided.length = 0;
        for (size_t i = 0; i < t->decisive_count && i < 2; i++) {
            if (i) pp_text_add(&decided, "; ");
            pp_bundle_disc_words(&decided, b, &t->decisive[i]);
        }
        const char *cells[] = {b->mates.tubes.name[k], text_of(c),
                               decided.length ? decided.data : ""};
        pp_page_row(w, columns, 3, cells);
    }
    if (decided.failed) w->failed = true;
    pp_text_free(&decided);
    if (failing <= shown) return;
    clear(c);
    pp_text_print(&c->piece, "And %zu more; bundle_tubes.csv has all.", failing - shown);
    pp_page_text(w, PP_STYLE_SMALL, text_of(c));
}

static void cautions_part(sheet *c, pp_page_writer *w)
{
    const pp_bundle_judgement *j = c->r->judgement;
    pp_page_heading(w, "Cautions");
    for (size_t i = 0; i < j->caution_count; i++) {
        clear(c);
        pp_text_print(&c->piece, "\u2022 %s", j->cautions[i]);
        pp_page_text(w, PP_STYLE_BODY, text_of(c));
    }
    pp_page_text(w, PP_STYLE_BODY,
                 "\u2022 This sheet does not replace the pressure-vessel code, the drawing, the "
                 "shop's safety rules or the authorised inspector.");
}

static void lay_out(void *context, pp_page_writer *w)
{
    sheet *c = context;
    pp_page_begin(w);
    head_part(c, w);
    plates_part(c, w);
    facts_part(c, w);
    failing_part(c, w);
    cautions_part(c, w);
    pp_page_finish(w);
    if (c->piece.failed) w->failed = true;
}

pp_status pp_bundle_sheet_write(const pp_bundle_results *results, const pp_paper_options *options,
                                pp_memory *memory, pp_text *out, pp_error *error)
{
    pp_bundle_summary summary;
    const pp_job *job = results->set->job;
    const char *title = job->title ? job->title : job->name;
    PP_TRY(pp_bundle_summary_make(results, memory, &summary, error));
    const char *head = pp_text_kept(&memory->keep, "%s \u2013 fitter's sheet", title);
    if (!head) return pp_fail_memory(error);
    sheet c = {.r = results, .s = &summary};
    const pp_paper paper = {.job = job,
                            .subject = "Fitter's sheet of a bundle",
                            .date = results->date,
                            .running_head = head,
                            .options = options,
                            .lay_out = lay_out,
                            .context = &c};
    pp_status status = pp_paper_make(&paper, out, error);
    pp_text_free(&c.piece);
    return status;
}

#include "report/certificate/work_sheet.h"

#include <stdio.h>

#include "answer/for_people.h"
#include "answer/plateview.h"
#include "answer/summary.h"
#include "answer/work_words.h"
#include "report/certificate/pdf_maps.h"

enum { ROWS_MAX = 1000, HASH_SHOWN = 12, MAP_POINTS = 230 };

typedef struct sheet {
    const pp_results *r;
    const pp_plate_view *view;
    const char *sha256;
    pp_text piece, second, third; /* one cell each at a time */
} sheet;

static const char *text_of(const pp_text *text) { return text->length ? text->data : ""; }

static void identity_part(sheet *c, pp_page_writer *w)
{
    const pp_job *job = c->r->job;
    const struct {
        const char *word, *value;
    } parts[] = {{"Plate ", job->plate_id},       {"serial ", job->serial},
                 {"order ", job->order},          {"drawing ", job->drawing},
                 {"report ", job->report_number}, {"date ", c->r->date}};
    c->piece.length = 0;
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        if (!parts[i].value || !*parts[i].value) continue;
        pp_text_print(&c->piece, "%s%s%s", c->piece.length ? ", " : "", parts[i].word,
                      parts[i].value);
    }
    if (c->sha256)
        pp_text_print(&c->piece, "%sresults %.*s", c->piece.length ? ", " : "", HASH_SHOWN,
                      c->sha256);
    pp_page_text(w, PP_STYLE_SMALL, text_of(&c->piece));
}

static void head_part(sheet *c, pp_page_writer *w)
{
    const pp_job *job = c->r->job;
    pp_page_text(w, PP_STYLE_SMALL, "Work list");
    pp_page_text(w, PP_STYLE_TITLE, job->title ? job->title : job->name);
    identity_part(c, w);
    pp_page_space(w, 4);
    c->piece.length = 0;
    pp_work_counts(&c->piece, c->r->work);
    pp_text_add(&c->piece, ". The way over the plate in this order: ");
    pp_people_place(&c->piece, job->units, c->r->work->length);
    pp_text_add(&c->piece, ".");
    pp_page_text(w, PP_STYLE_BOLD, text_of(&c->piece));
    pp_page_text(w, PP_STYLE_BOLD, PP_WORK_CAUTION);
    pp_page_text(w, PP_STYLE_SMALL,
                 "Places are those of the drawing; left, right, up and down as the plate is drawn, "
                 "seen from the entry face.");
    if (c->view->count) pp_pdf_plate_map(w, c->r, c->view, MAP_POINTS);
}

static void rows_part(sheet *c, pp_page_writer *w)
{
    static const pp_page_column columns[] = {
        {0.06, "No."},        {0.10, "Hole"},          {0.15, "Where"}, {0.12, "Do"},
        {0.22, "What to do"}, {0.27, "What is wrong"}, {0.08, "Done"}};
    const pp_work_list *work = c->r->work;
    pp_page_table(w, columns, 7);
    for (size_t i = 0; i < work->count && i < ROWS_MAX; i++) {
        const pp_work_row *row = &work->rows[i];
        char number[24];
        snprintf(number, sizeof number, "%zu", i + 1);
        c->piece.length = c->second.length = c->third.length = 0;
        pp_work_where(&c->piece, c->r, row);
        pp_work_instruction(&c->second, c->r, row);
        pp_work_faults(&c->third, c->r, row);
        pp_work_offset off;
        if (pp_work_offset_of(c->r->measures, row, &off)) {
            pp_text_add(&c->third, ". Off by ");
            pp_work_error(&c->third, c->r, row);
        }
        const char *cells[] = {number,
                               pp_work_name(c->r->measures, row),
                               text_of(&c->piece),
                               pp_todo_words((pp_todo)row->todo),
                               text_of(&c->second),
                               text_of(&c->third),
                               row->todo == PP_TODO_NOTHING ? "" : "\u2610"};
        pp_page_row(w, columns, 7, cells);
    }
    if (work->count <= ROWS_MAX) return;
    c->piece.length = 0;
    pp_text_print(&c->piece, "The first %d of %zu; worklist.csv has all.", ROWS_MAX, work->count);
    pp_page_text(w, PP_STYLE_BOLD, text_of(&c->piece));
}

static void lay_out(void *context, pp_page_writer *w)
{
    sheet *c = context;
    pp_page_begin(w);
    head_part(c, w);
    rows_part(c, w);
    pp_page_space(w, 4);
    pp_page_text(w, PP_STYLE_BOLD, PP_WORK_CAUTION);
    pp_page_finish(w);
    if (c->piece.failed || c->second.failed || c->third.failed) w->failed = true;
}

pp_status pp_work_sheet_write(const pp_results *results, const pp_paper_options *options,
                              pp_memory *memory, pp_text *out, pp_error *error)
{
    const pp_job *job = results->job;
    pp_plate_view view;
    PP_TRY(pp_plate_view_make(results, memory, &view, error));
    sheet c = {.r = results, .view = &view, .sha256 = options->results_sha256};
    const char *head = pp_text_kept(&memory->keep, "Work list, not a repair instruction: %s",
                                    job->title ? job->title : job->name);
    if (!head) return pp_fail_memory(error);
    const pp_paper paper = {.job = job,
                            .subject = "Work list of a plate",
                            .date = results->date,
                            .running_head = head,
                            .options = options,
                            .lay_out = lay_out,
                            .context = &c};
    pp_status status = pp_paper_make(&paper, out, error);
    pp_text_free(&c.piece);
    pp_text_free(&c.second);
    pp_text_free(&c.third);
    return status;
}

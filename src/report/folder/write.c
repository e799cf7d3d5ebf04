#include "report/folder/write.h"

#include <string.h>

#include "answer/inputs.h"
#include "answer/paths.h"
#include "base/parallel.h"
#include "report/certificate/pdf.h"
#include "report/certificate/work_sheet.h"
#include "report/exchange/gzip.h"
#include "report/exchange/qif.h"
#include "report/folder/folder.h"
#include "report/folder/pack.h"
#include "report/json/json.h"
#include "report/page/html.h"
#include "report/setups/pin_dxf.h"
#include "report/setups/pin_sheet.h"
#include "report/setups/setup_sheet.h"
#include "report/tables/csvout.h"
#include "report/tables/xlsx.h"

/* The same results, with the job file called as results.json calls it: the pages must not depend on
 * where the program was started. */
static pp_status name_job_file(const pp_results *results, const char *folder,
                               const pp_report_options *options, pp_arena *arena, pp_results *named,
                               pp_error *error)
{
    const char *job_file = options->job_file;
    if (!folder) folder = pp_path_default_report(results->job, arena);
    if (folder && !job_file) job_file = pp_path_relative(results->job->path, folder, arena);
    pp_input_file *inputs;
    PP_TAKE(inputs, arena, results->input_count);
    if (!job_file) return pp_fail_memory(error);
    for (size_t i = 0; i < results->input_count; i++) {
        inputs[i] = results->inputs[i];
        if (strcmp(inputs[i].role, "job") == 0) inputs[i].written = job_file;
    }
    *named = *results;
    named->inputs = inputs;
    return PP_OK;
}

/* Pages --------------------------------------------------------------------------------- */

typedef struct page_making {
    const pp_results *results, *named; /* as they are, and the job file as the pages call it */
    const char *folder;
    const pp_report_options *options;
    pp_memory *memory; /* pages are made side by side: one each */
} page_making;

typedef pp_status page_maker(const page_making *m, pp_text *text, pp_error *error);

static pp_status make_json(const page_making *m, pp_text *text, pp_error *error)
{
    return pp_json_write(m->results, m->folder, text, error);
}

static pp_status make_html(const page_making *m, pp_text *text, pp_error *error)
{
    return pp_html_write(m->named, m->memory, text, error);
}

/* Papers bear the hash of results.json, so that paper and folder can be held together. */
static pp_status paper_of(const page_making *m, char sha256[65], pp_paper_options *paper,
                          pp_error *error)
{
    *paper = (pp_paper_options){.letter = m->options->letter,
                                .results_sha256 = m->options->results_sha256};
    if (paper->results_sha256) return PP_OK;
    pp_text json = {0};
    pp_status status = make_json(m, &json, error);
    if (status == PP_OK) pp_hash_bytes(json.data, json.length, sha256);
    pp_text_free(&json);
    paper->results_sha256 = sha256;
    return status;
}

static pp_status make_certificate(const page_making *m, pp_text *text, pp_error *error)
{
    char sha256[65];
    pp_paper_options paper;
    PP_TRY(paper_of(m, sha256, &paper, error));
    return pp_pdf_write(m->named, &paper, m->memory, text, error);
}

static pp_status make_work_sheet(const page_making *m, pp_text *text, pp_error *error)
{
    char sha256[65];
    pp_paper_options paper;
    PP_TRY(paper_of(m, sha256, &paper, error));
    return pp_work_sheet_write(m->named, &paper, m->memory, text, error);
}

static pp_status make_qif(const page_making *m, pp_text *text, pp_error *error)
{
    const pp_sink sink = pp_sink_text(text);
    return pp_qif_write(m->named, false, m->memory, &sink, error);
}

static pp_status make_setup_sheet(const page_making *m, pp_text *text, pp_error *error)
{
    char sha256[65];
    pp_paper_options paper;
    PP_TRY(paper_of(m, sha256, &paper, error));
    return pp_setup_sheet_write(m->named, &paper, m->memory, text, error);
}

static pp_status make_pin_sheet(const page_making *m, pp_text *text, pp_error *error)
{
    char sha256[65];
    pp_paper_options paper;
    PP_TRY(paper_of(m, sha256, &paper, error));
    return pp_pin_sheet_write(m->named, &paper, m->memory, text, error);
}

static pp_status make_pin_drawing(const page_making *m, pp_text *text, pp_error *error)
{
    return pp_pin_dxf_write(m->named, m->memory, text, error);
}

static bool has_work(const pp_results *results) { return results->work && results->work->count; }

/* A page of the folder is one row here, and its name in pp_report_page. */
static const struct page_row {
    const char *name;
    bool paper;                                /* A4 or Letter */
    bool (*is_due)(const pp_results *results); /* NULL: always */
    page_maker *make;
} pages[PP_PAGE_COUNT] = {
    [PP_PAGE_JSON] = {"results.json", false, NULL, make_json},
    [PP_PAGE_HTML] = {"report.html", false, NULL, make_html},
    [PP_PAGE_PDF] = {"certificate.pdf", true, NULL, make_certificate},
    [PP_PAGE_QIF] = {"results.qif", false, pp_qif_has_content, make_qif},
    [PP_PAGE_SETUPS] = {"setup-sheet.pdf", true, pp_setup_sheet_is_due, make_setup_sheet},
    [PP_PAGE_PINS] = {"pin-sheet.pdf", true, pp_pin_sheet_is_due, make_pin_sheet},
    [PP_PAGE_PINS_DXF] = {"pins.dxf", false, pp_pin_sheet_is_due, make_pin_drawing},
    [PP_PAGE_WORK] = {"worklist.pdf", true, has_work, make_work_sheet},
};

const char *pp_report_page_name(pp_report_page page) { return pages[page].name; }

bool pp_report_page_is_due(const pp_results *results, pp_report_page page)
{
    return !pages[page].is_due || pages[page].is_due(results);
}

bool pp_report_page_is_paper(pp_report_page page) { return pages[page].paper; }

pp_status pp_report_page_make(const pp_results *results, pp_report_page page, const char *folder,
                              const pp_report_options *options, pp_text *text, pp_error *error)
{
    pp_memory memory = {0};
    pp_results named;
    const page_making m = {results, &named, folder, options, &memory};
    pp_status status = name_job_file(results, folder, options, &memory.keep, &named, error);
    if (status == PP_OK) status = pages[page].make(&m, text, error);
    pp_memory_free(&memory);
    return status;
}

pp_status pp_report_qif_make(const pp_results *results, bool whole, const char *folder,
                             const pp_report_options *options, const pp_sink *sink, pp_error *error)
{
    pp_memory memory = {0};
    pp_results named;
    pp_status status = name_job_file(results, folder, options, &memory.keep, &named, error);
    if (status == PP_OK) status = pp_qif_write(&named, whole, &memory, sink, error);
    pp_memory_free(&memory);
    return status;
}

/* A file of the folder: one of the tables, or one of the pages. */
typedef struct report_file {
    bool is_table;
    pp_csv table;
    pp_report_page page;
    pp_sink file;
} report_file;

typedef struct writing {
    const pp_results *results;
    const char *target;
    const pp_report_options *options;
    pp_folder folder;
    size_t paper_count; /* the first of the files */
    size_t file_count;
    report_file files[PP_CSV_COUNT + PP_PAGE_COUNT];
} writing;

static bool stopped(const pp_report_options *options)
{
    return options->stopped && options->stopped(options->stopped_context);
}

static pp_status give_up(pp_error *error)
{
    return pp_fail(error, PP_ECANCELLED, "stopped as asked; nothing was changed");
}

static pp_status begin_page(writing *w, pp_report_page page, pp_error *error)
{
    report_file *f = &w->files[w->file_count++];
    *f = (report_file){.page = page};
    bool packed = page == PP_PAGE_QIF && w->options->qif_gz;
    return pp_folder_begin(&w->folder, packed ? PP_REPORT_QIF_GZ : pages[page].name, &f->file,
                           error);
}

static pp_status begin_pages(writing *w, bool papers, pp_error *error)
{
    for (pp_report_page page = PP_PAGE_COUNT; page-- > 0;)
        if (pages[page].paper == papers && pp_report_page_is_due(w->results, page))
            PP_TRY(begin_page(w, page, error));
    return PP_OK;
}

/* The papers first, then the large tables, results.json last: the longest begin first. */
static pp_status begin_files(writing *w, pp_error *error)
{
    PP_TRY(begin_pages(w, true, error));
    w->paper_count = w->file_count;
    for (pp_csv which = 0; which < PP_CSV_COUNT; which++) {
        if (pp_csv_rows(w->results, which) == 0) continue;
        report_file *f = &w->files[w->file_count++];
        *f = (report_file){.is_table = true, .table = which};
        PP_TRY(pp_folder_begin(&w->folder, pp_csv_file_name(which), &f->file, error));
    }
    return begin_pages(w, false, error);
}

/* A file that is written piece by piece, and may be stopped between two. */
typedef struct stoppable {
    const pp_sink *file;
    const pp_report_options *options;
} stoppable;

static pp_status pass_on(void *context, const char *bytes, size_t length, pp_error *error)
{
    const stoppable *t = context;
    if (stopped(t->options)) return give_up(error);
    return t->file->write(t->file->context, bytes, length, error);
}

static pp_status write_table(const writing *w, const report_file *f, pp_error *error)
{
    stoppable t = {&f->file, w->options};
    const pp_sink sink = {pass_on, &t};
    /* with threads of its own beside those of the files: the last large one is written by all */
    return pp_csv_write(w->results, f->table, w->options->threads, &sink, error);
}

static pp_status write_exchange(const writing *w, const report_file *f, pp_error *error)
{
    stoppable t = {&f->file, w->options};
    const pp_sink sink = {pass_on, &t};
    if (!w->options->qif_gz)
        return pp_report_qif_make(w->results, false, w->target, w->options, &sink, error);
    pp_gzip *gzip;
    PP_TRY(pp_gzip_begin(&sink, &gzip, error));
    const pp_sink inner = pp_gzip_sink(gzip);
    pp_status status = pp_report_qif_make(w->results, true, w->target, w->options, &inner, error);
    return pp_gzip_end(gzip, status, error);
}

static pp_status write_page(const writing *w, const report_file *f,
                            const pp_report_options *options, pp_error *error)
{
    pp_text text = {0};
    pp_status status = pp_report_page_make(w->results, f->page, w->target, options, &text, error);
    if (status == PP_OK) status = f->file.write(f->file.context, text.data, text.length, error);
    pp_text_free(&text);
    return status;
}

/* One after another: the libraries that draw them keep caches of their own. */
static pp_status write_papers(const writing *w, pp_error *error)
{
    char sha256[65];
    pp_report_options options = *w->options;
    const page_making m = {.results = w->results, .folder = w->target, .options = w->options};
    pp_paper_options paper;
    if (w->paper_count == 0) return PP_OK;
    PP_TRY(paper_of(&m, sha256, &paper, error));
    options.results_sha256 = paper.results_sha256;
    for (size_t i = 0; i < w->paper_count; i++) {
        if (stopped(w->options)) return give_up(error);
        PP_TRY(write_page(w, &w->files[i], &options, error));
    }
    return PP_OK;
}

/* Part 0 is all papers, each other part a file. */
static pp_status write_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    const writing *w = context;
    if (part == 0) return write_papers(w, error);
    const report_file *f = &w->files[w->paper_count + part - 1];
    if (stopped(w->options)) return give_up(error);
    if (f->is_table) return write_table(w, f, error);
    if (f->page == PP_PAGE_QIF) return write_exchange(w, f, error);
    return write_page(w, f, w->options, error);
}

pp_status pp_report_spreadsheet_make(const pp_results *results, const char *folder,
                                     const pp_report_options *options, const char *path,
                                     pp_error *error)
{
    pp_memory memory = {0};
    pp_results named;
    pp_status status = name_job_file(results, folder, options, &memory.keep, &named, error);
    if (status == PP_OK) status = pp_xlsx_write(&named, path, &memory, error);
    pp_memory_free(&memory);
    return status;
}

static pp_status write_spreadsheet(writing *w, pp_error *error)
{
    static const char name[] = "results.xlsx";
    char path[PP_FOLDER_PATH_MAX];
    if (!w->options->xlsx) return PP_OK;
    if (stopped(w->options)) return give_up(error);
    pp_folder_path(&w->folder, name, path);
    PP_TRY(pp_report_spreadsheet_make(w->results, w->target, w->options, path, error));
    return pp_folder_take_over(&w->folder, name, error);
}

static pp_status write_inputs(writing *w, pp_memory *memory, pp_error *error)
{
    const char *job_file = w->options->job_file;
    if (!w->options->pack) return PP_OK;
    if (!job_file) job_file = pp_path_relative(w->results->job->path, w->target, &memory->keep);
    if (!job_file) return pp_fail_memory(error);
    return pp_pack_inputs(&w->folder, w->results->input_count, w->results->inputs, job_file, error);
}

static pp_status write_files(writing *w, pp_memory *memory, pp_error *error)
{
    PP_TRY(begin_files(w, error));
    size_t parts = 1 + w->file_count - w->paper_count;
    PP_TRY(pp_parallel(w->options->threads, parts, write_part, w, error));
    PP_TRY(write_spreadsheet(w, error));
    PP_TRY(write_inputs(w, memory, error));
    if (stopped(w->options)) return give_up(error);
    return pp_folder_commit(&w->folder, error);
}

pp_status pp_report_write(const pp_results *results, const char *folder,
                          const pp_report_options *options, pp_memory *memory, pp_error *error)
{
    writing w = {.results = results, .target = folder, .options = options};
    PP_TRY(pp_folder_open(&w.folder, folder, options->replace_signed, &memory->keep, error));
    pp_status status = write_files(&w, memory, error);
    if (status != PP_OK) pp_folder_abandon(&w.folder);
    return status;
}

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
#include "report/setups/setup_sheet.h"
#include "report/tables/csvout.h"
#include "report/tables/xlsx.h"

static const char *const PAGE_NAMES[PP_PAGE_COUNT] = {
    [PP_PAGE_JSON] = "results.json",      [PP_PAGE_HTML] = "report.html",
    [PP_PAGE_PDF] = "certificate.pdf",    [PP_PAGE_QIF] = "results.qif",
    [PP_PAGE_SETUPS] = "setup-sheet.pdf", [PP_PAGE_WORK] = "worklist.pdf",
};

const char *pp_report_page_name(pp_report_page page) { return PAGE_NAMES[page]; }

bool pp_report_page_is_due(const pp_results *results, pp_report_page page)
{
    if (page == PP_PAGE_WORK) return results->work && results->work->count > 0;
    if (page == PP_PAGE_QIF) return pp_qif_has_content(results);
    return page != PP_PAGE_SETUPS || pp_setup_sheet_is_due(results);
}

bool pp_report_page_is_paper(pp_report_page page)
{
    return page == PP_PAGE_PDF || page == PP_PAGE_SETUPS || page == PP_PAGE_WORK;
}

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

/* Papers bear the hash of results.json, so that paper and folder can be held together. */
static pp_status make_paper(const pp_results *results, const pp_results *named, pp_report_page page,
                            const char *folder, const pp_report_options *options, pp_memory *memory,
                            pp_text *text, pp_error *error)
{
    char sha256[65];
    pp_pdf_options paper = {.letter = options->letter, .results_sha256 = options->results_sha256};
    if (!paper.results_sha256) {
        pp_text json = {0};
        pp_status status = pp_json_write(results, folder, &json, error);
        if (status == PP_OK) pp_hash_bytes(json.data, json.length, sha256);
        pp_text_free(&json);
        PP_TRY(status);
        paper.results_sha256 = sha256;
    }
    return page == PP_PAGE_WORK ? pp_work_sheet_write(named, &paper, memory, text, error)
                                : pp_pdf_write(named, &paper, memory, text, error);
}

pp_status pp_report_page_make(const pp_results *results, pp_report_page page, const char *folder,
                              const pp_report_options *options, pp_text *text, pp_error *error)
{
    pp_memory memory = {0}; /* pages are made side by side: one arena each */
    pp_results named;
    pp_status status = name_job_file(results, folder, options, &memory.keep, &named, error);
    if (status != PP_OK) page = PP_PAGE_COUNT;
    switch (page) {
    case PP_PAGE_JSON:
        status = pp_json_write(results, folder, text, error);
        break;
    case PP_PAGE_HTML:
        status = pp_html_write(&named, &memory, text, error);
        break;
    case PP_PAGE_PDF:
    case PP_PAGE_WORK:
        status = make_paper(results, &named, page, folder, options, &memory, text, error);
        break;
    case PP_PAGE_QIF: {
        const pp_sink sink = pp_sink_text(text);
        status = pp_qif_write(&named, false, &memory, &sink, error);
        break;
    }
    case PP_PAGE_SETUPS:
        status = pp_setup_sheet_write(&named, options->letter, &memory, text, error);
        break;
    case PP_PAGE_COUNT:
        break;
    }
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

/* The large tables first, then the pages, the slowest one first. */
static pp_status begin_files(writing *w, pp_error *error)
{
    static const pp_report_page PAGES[] = {PP_PAGE_PDF,  PP_PAGE_SETUPS, PP_PAGE_WORK,
                                           PP_PAGE_HTML, PP_PAGE_QIF,    PP_PAGE_JSON};
    for (pp_csv which = 0; which < PP_CSV_COUNT; which++) {
        if (pp_csv_rows(w->results, which) == 0) continue;
        report_file *f = &w->files[w->file_count++];
        *f = (report_file){.is_table = true, .table = which};
        PP_TRY(pp_folder_begin(&w->folder, pp_csv_file_name(which), &f->file, error));
    }
    for (int i = 0; i < PP_PAGE_COUNT; i++) {
        if (!pp_report_page_is_due(w->results, PAGES[i])) continue;
        report_file *f = &w->files[w->file_count++];
        *f = (report_file){.page = PAGES[i]};
        bool packed = PAGES[i] == PP_PAGE_QIF && w->options->qif_gz;
        const char *name = packed ? PP_REPORT_QIF_GZ : PAGE_NAMES[PAGES[i]];
        PP_TRY(pp_folder_begin(&w->folder, name, &f->file, error));
    }
    return PP_OK;
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

static pp_status write_page(const writing *w, const report_file *f, pp_error *error)
{
    pp_text text = {0};
    pp_status status =
        pp_report_page_make(w->results, f->page, w->target, w->options, &text, error);
    if (status == PP_OK) status = f->file.write(f->file.context, text.data, text.length, error);
    pp_text_free(&text);
    return status;
}

static pp_status write_file(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    const writing *w = context;
    const report_file *f = &w->files[part];
    if (stopped(w->options)) return give_up(error);
    if (f->is_table) return write_table(w, f, error);
    return f->page == PP_PAGE_QIF ? write_exchange(w, f, error) : write_page(w, f, error);
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
    PP_TRY(pp_parallel(w->options->threads, w->file_count, write_file, w, error));
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

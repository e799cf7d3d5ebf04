#include "report/bundle/bundle_write.h"

#include "answer/inputs.h"
#include "answer/paths.h"
#include "base/parallel.h"
#include "report/bundle/bundle_json.h"
#include "report/bundle/bundle_page.h"
#include "report/bundle/bundle_sheet.h"
#include "report/bundle/bundle_tables.h"
#include "report/folder/folder.h"
#include "report/folder/pack.h"

/* Tables first, then results.json; pages behind. */
enum { FILE_JSON = PP_BUNDLE_TABLES, FILE_PAGE, FILE_SHEET, FILES };

size_t pp_bundle_file_count(void) { return FILES; }

const char *pp_bundle_file_name(size_t file)
{
    if (file == FILE_JSON) return "results.json";
    if (file == FILE_PAGE) return "report.html";
    if (file == FILE_SHEET) return "fitters-sheet.pdf";
    return pp_bundle_table_name((pp_bundle_table)file);
}

bool pp_bundle_file_is_due(const pp_bundle_results *results, size_t file)
{
    return file >= PP_BUNDLE_TABLES || pp_bundle_table_is_due(results, (pp_bundle_table)file);
}

bool pp_bundle_file_is_data(size_t file) { return file <= FILE_JSON; }

/* Papers bear the hash of results.json, so that paper and folder can be held together. */
static pp_status make_sheet(const pp_bundle_results *results, const char *folder,
                            const pp_bundle_report_options *options, pp_memory *memory,
                            pp_text *text, pp_error *error)
{
    char sha256[65];
    pp_paper_options paper = {.letter = options->letter, .results_sha256 = options->results_sha256};
    if (!paper.results_sha256) {
        pp_text json = {0};
        pp_status status = pp_bundle_json_write(results, folder, &json, error);
        if (status == PP_OK) pp_hash_bytes(json.data, json.length, sha256);
        pp_text_free(&json);
        if (status != PP_OK) return status;
        paper.results_sha256 = sha256;
    }
    return pp_bundle_sheet_write(results, &paper, memory, text, error);
}

pp_status pp_bundle_file_make(const pp_bundle_results *results, size_t file, const char *folder,
                              const pp_bundle_report_options *options, pp_text *text,
                              pp_error *error)
{
    if (file == FILE_JSON) return pp_bundle_json_write(results, folder, text, error);
    if (file < FILE_JSON) return pp_bundle_table_write(results, (pp_bundle_table)file, text, error);
    pp_memory memory = {0}; /* pages are made side by side: one arena each */
    pp_status status = PP_OK;
    if (file == FILE_SHEET) {
        status = make_sheet(results, folder, options, &memory, text, error);
    } else {
        if (!folder) folder = pp_path_default_report(results->set->job, &memory.keep);
        const char *set_file = options->set_file;
        if (!set_file && folder)
            set_file = pp_path_relative(results->set->path, folder, &memory.keep);
        status = set_file ? pp_bundle_page_write(results, set_file, &memory, text, error)
                          : pp_fail_memory(error);
    }
    pp_memory_free(&memory);
    return status;
}

typedef struct writing {
    const pp_bundle_results *results;
    const char *target;
    const pp_bundle_report_options *options;
    pp_folder folder;
    size_t count, file[FILES];
    pp_sink sink[FILES];
} writing;

static pp_status give_up(const writing *w, pp_error *error)
{
    if (w->options->stopped && w->options->stopped(w->options->stopped_context))
        return pp_fail(error, PP_ECANCELLED, "stopped as asked; nothing was changed");
    return PP_OK;
}

static pp_status write_file(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    const writing *w = context;
    pp_text text = {0};
    PP_TRY(give_up(w, error));
    pp_status status =
        pp_bundle_file_make(w->results, w->file[part], w->target, w->options, &text, error);
    if (status == PP_OK)
        status = w->sink[part].write(w->sink[part].context, text.data, text.length, error);
    pp_text_free(&text);
    return status;
}

static pp_status write_inputs(writing *w, pp_arena *arena, pp_error *error)
{
    const pp_bundle_results *r = w->results;
    if (!w->options->pack) return PP_OK;
    const char *set_file = pp_path_relative(r->set->path, w->target, arena);
    if (!set_file) return pp_fail_memory(error);
    return pp_pack_inputs(&w->folder, r->input_count, r->inputs, set_file, error);
}

static pp_status write_files(writing *w, pp_arena *arena, pp_error *error)
{
    for (size_t file = 0; file < FILES; file++) {
        if (!pp_bundle_file_is_due(w->results, file)) continue;
        w->file[w->count] = file;
        PP_TRY(pp_folder_begin(&w->folder, pp_bundle_file_name(file), &w->sink[w->count], error));
        w->count++;
    }
    PP_TRY(pp_parallel(w->options->threads, w->count, write_file, w, error));
    PP_TRY(write_inputs(w, arena, error));
    PP_TRY(give_up(w, error));
    return pp_folder_commit(&w->folder, error);
}

pp_status pp_bundle_report_write(const pp_bundle_results *results, const char *folder,
                                 const pp_bundle_report_options *options, pp_memory *memory,
                                 pp_error *error)
{
    writing w = {.results = results, .target = folder, .options = options};
    PP_TRY(pp_folder_open(&w.folder, folder, options->replace_signed, &memory->keep, error));
    pp_status status = write_files(&w, &memory->keep, error);
    if (status != PP_OK) pp_folder_abandon(&w.folder);
    return status;
}

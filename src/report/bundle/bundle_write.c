#include "report/bundle/bundle_write.h"

#include "base/parallel.h"
#include "report/bundle/bundle_json.h"
#include "report/bundle/bundle_tables.h"
#include "report/folder/folder.h"

/* Tables first, then results.json; pages behind. */
enum { FILE_JSON = PP_BUNDLE_TABLES, FILES };

size_t pp_bundle_file_count(void) { return FILES; }

const char *pp_bundle_file_name(size_t file)
{
    return file == FILE_JSON ? "results.json" : pp_bundle_table_name((pp_bundle_table)file);
}

bool pp_bundle_file_is_due(const pp_bundle_results *results, size_t file)
{
    return file >= PP_BUNDLE_TABLES || pp_bundle_table_is_due(results, (pp_bundle_table)file);
}

bool pp_bundle_file_is_data(size_t file) { return file <= FILE_JSON; }

pp_status pp_bundle_file_make(const pp_bundle_results *results, size_t file, const char *folder,
                              const pp_bundle_report_options *options, pp_text *text,
                              pp_error *error)
{
    (void)options;
    if (file == FILE_JSON) return pp_bundle_json_write(results, folder, text, error);
    return pp_bundle_table_write(results, (pp_bundle_table)file, text, error);
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

static pp_status write_files(writing *w, pp_error *error)
{
    for (size_t file = 0; file < FILES; file++) {
        if (!pp_bundle_file_is_due(w->results, file)) continue;
        w->file[w->count] = file;
        PP_TRY(pp_folder_begin(&w->folder, pp_bundle_file_name(file), &w->sink[w->count], error));
        w->count++;
    }
    PP_TRY(pp_parallel(w->options->threads, w->count, write_file, w, error));
    PP_TRY(give_up(w, error));
    return pp_folder_commit(&w->folder, error);
}

pp_status pp_bundle_report_write(const pp_bundle_results *results, const char *folder,
                                 const pp_bundle_report_options *options, pp_memory *memory,
                                 pp_error *error)
{
    writing w = {.results = results, .target = folder, .options = options};
    PP_TRY(pp_folder_open(&w.folder, folder, &memory->keep, error));
    pp_status status = write_files(&w, error);
    if (status != PP_OK) pp_folder_abandon(&w.folder);
    return status;
}

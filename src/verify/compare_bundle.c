/* A bundle's report against a new computation. */
#include <string.h>

#include "report/bundle/bundle_write.h"
#include "verify/compare_parts.h"

/* Where the set gives no date, the page's own: the day it was written. */
static const char *date_of_page(const pp_mapped *page, pp_arena *arena)
{
    static const char before[] = "<p class=\"identity\">", form[] = "dddd-dd-dd";
    const char *text = pp_arena_text(arena, page->bytes, page->length);
    const char *at = text ? strstr(text, before) : NULL;
    for (; at && *at && *at != '\n'; at++) {
        size_t k = 0;
        while (form[k] && (form[k] == 'd' ? at[k] >= '0' && at[k] <= '9' : at[k] == form[k])) k++;
        if (!form[k]) return pp_compare_keep(arena, at, k);
    }
    return NULL;
}

static bool same_bytes(const pp_text *text, const pp_mapped *file)
{
    return text->length == file->length && memcmp(text->data, file->bytes, text->length) == 0;
}

/* A page on A4, and on Letter where that is not it. */
static pp_status compare_page(const pp_recorded *recorded, const pp_bundle_results *now,
                              size_t which, const pp_mapped *file, pp_arena *arena,
                              pp_differences *comparison, pp_error *error)
{
    pp_difference d = {.kind = PP_PAGE_CHANGED, .file = pp_bundle_file_name(which)};
    pp_text text[2] = {{0}};
    bool same = false, paper = file->length > 4 && memcmp(file->bytes, "%PDF", 4) == 0;
    pp_status status = PP_OK;
    for (int letter = 0; letter < (paper ? 2 : 1) && !same && status == PP_OK; letter++) {
        const pp_bundle_report_options options = {.threads = 1,
                                                  .letter = letter,
                                                  .set_file = recorded->job_file,
                                                  .results_sha256 = recorded->results_sha256};
        status = pp_bundle_file_make(now, which, recorded->folder, &options, &text[letter], error);
        same = status == PP_OK && same_bytes(&text[letter], file);
    }
    if (status == PP_OK && !same && paper)
        pp_compare_paper(recorded->folder, d.file, file, text, arena, &d);
    pp_text_free(&text[0]);
    pp_text_free(&text[1]);
    PP_TRY(status);
    if (!same) pp_compare_note(comparison, d);
    return PP_OK;
}

static pp_status compare_data(const pp_recorded *recorded, const pp_bundle_results *now,
                              size_t which, const pp_mapped *file, pp_arena *arena,
                              pp_differences *comparison, pp_error *error)
{
    const pp_bundle_report_options options = {.threads = 1};
    const char *name = pp_bundle_file_name(which);
    pp_text text = {0};
    PP_TRY(pp_bundle_file_make(now, which, recorded->folder, &options, &text, error));
    pp_status status = PP_OK;
    if (strcmp(name, "results.json") == 0)
        status = pp_compare_json_text(recorded, &text, arena, comparison, error);
    else
        pp_compare_table_text(name, file, &text, arena, comparison);
    pp_text_free(&text);
    return status;
}

pp_status pp_compare_bundle(const pp_recorded *recorded, pp_bundle_results *now, pp_memory *memory,
                            pp_differences *comparison, pp_error *error)
{
    for (size_t which = 0; which < pp_bundle_file_count(); which++) {
        const char *name = pp_bundle_file_name(which);
        bool due = pp_bundle_file_is_due(now, which), data = pp_bundle_file_is_data(which);
        pp_mapped file;
        pp_status status = PP_OK;
        PP_TRY(pp_compare_map(recorded->folder, name, &memory->keep, &file, error));
        if (file.there != due)
            pp_compare_note(
                comparison,
                (pp_difference){.kind = due ? PP_REPORT_MISSING : PP_REPORT_SURPLUS, .file = name});
        if (file.there && due && !data && strcmp(name, "report.html") == 0 &&
            !now->set->job->date) {
            const char *date = date_of_page(&file, &memory->keep);
            if (date) now->date = date;
        }
        if (file.there && due) {
            status =
                data ? compare_data(recorded, now, which, &file, &memory->keep, comparison, error)
                     : compare_page(recorded, now, which, &file, &memory->keep, comparison, error);
            comparison->files++;
        }
        pp_compare_unmap(&file);
        PP_TRY(status);
    }
    return PP_OK;
}

#include "verify/compare.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "answer/identity.h"
#include "answer/inputs.h"
#include "answer/paths.h"
#include "base/parallel.h"
#include "report/folder/write.h"
#include "report/json/json.h"
#include "report/tables/csvout.h"
#include "verify/compare_parts.h"

enum { PATH_ROOM = 512 };

/* ---- noting ---- */

void pp_compare_note(pp_differences *comparison, pp_difference difference)
{
    if (comparison->count < PP_DIFFERENCES_KEPT) comparison->items[comparison->count] = difference;
    comparison->count++;
}

const char *pp_compare_keep(pp_arena *arena, const char *text, size_t length)
{
    const char *copy = pp_arena_text(arena, text, length);
    return copy ? copy : "";
}

/* Named here once, so that json, tables and the header's words stay one. */
pp_tolerance pp_compare_tolerance(const char *path)
{
    static const struct {
        const char *prefix;
        pp_tolerance tolerance;
    } looser[] = {
        {"holddown", {1e-4, 1e-5}},
        {"stack_holes", {1e-7, 1e-8}},
        {"stack", {1e-4, 1e-5}},
        {"flatness.straightedge", {1e-6, 1e-6}},
        {"flatness.areas", {1e-6, 1e-6}},
        {"flatness.surface", {1e-6, 1e-6}},
        {"flatness.underside_surface", {1e-6, 1e-6}},
        {"flatness.thickness", {1e-6, 1e-6}},
        {"holes.diagnosis", {1e-6, 1e-6}},
        {"holes.placement", {1e-6, 1e-6}},
        {"bundle", {1e-4, 1e-3}}, /* the values, and the tables bundle_*.csv */
        {"map.csv", {1e-6, 1e-6}},
        {"areas.csv", {1e-6, 1e-6}},
    };
    for (size_t i = 0; i < sizeof looser / sizeof looser[0]; i++)
        if (strncmp(path, looser[i].prefix, strlen(looser[i].prefix)) == 0)
            return looser[i].tolerance;
    return (pp_tolerance){1e-7, 1e-8};
}

bool pp_compare_close(pp_tolerance tolerance, double a, double b)
{
    return fabs(a - b) <= tolerance.absolute + tolerance.relative * fmax(fabs(a), fabs(b));
}

/* ---- inputs ---- */

typedef struct hashing {
    const pp_recorded *recorded;
    char (*sha256)[65]; /* "" where the file cannot be read */
} hashing;

static pp_status hash_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    hashing *h = context;
    const pp_recorded_input *input = &h->recorded->inputs[part];
    h->sha256[part][0] = '\0';
    if (input->standing != PP_INPUT_THERE) return PP_OK;
    pp_status status = pp_hash_file(input->file.path, h->sha256[part], error);
    if (status == PP_EIO) h->sha256[part][0] = '\0';
    return status == PP_EIO ? PP_OK : status;
}

static void note_input(pp_differences *comparison, const pp_recorded_input *input, const char *now)
{
    const pp_input_file *file = &input->file;
    pp_difference d = {.file = file->path, .where = file->role};
    if (input->standing == PP_INPUT_OUTSIDE || input->standing == PP_INPUT_UNFIT)
        d.kind = PP_INPUT_NOT_OPENED,
        d.recorded =
            input->standing == PP_INPUT_OUTSIDE
                ? "outside the job's folder; --outside opens it, --inputs DIR names another"
                : "no regular file, or larger than 8 GiB";
    else if (!now[0])
        d.kind = PP_INPUT_MISSING;
    else if (strcmp(now, file->sha256) != 0)
        d.kind = PP_INPUT_CHANGED, d.recorded = file->sha256, d.now = now;
    else
        return;
    pp_compare_note(comparison, d);
}

pp_status pp_compare_inputs(const pp_recorded *recorded, int threads, pp_memory *memory,
                            pp_differences *comparison, pp_error *error)
{
    hashing h = {.recorded = recorded};
    PP_TAKE(h.sha256, &memory->keep, recorded->input_count);
    PP_TRY(pp_parallel(threads, recorded->input_count, hash_part, &h, error));
    for (size_t i = 0; i < recorded->input_count; i++)
        note_input(comparison, &recorded->inputs[i], h.sha256[i]);
    return PP_OK;
}

/* ---- results.json ---- */

typedef struct json_walk {
    pp_differences *comparison;
    pp_arena *arena;
    char path[PATH_ROOM];
    size_t length;
    bool skip_hashes; /* a changed input has been noted already */
} json_walk;

static const char *shown(json_walk *walk, const json_t *value)
{
    enum { SHOWN_MAX = 80 };
    if (!value) return NULL;
    char *text = json_dumps(value, JSON_ENCODE_ANY | JSON_REAL_PRECISION(15) | JSON_COMPACT);
    if (!text) return "";
    size_t length = strlen(text);
    const char *kept = pp_compare_keep(walk->arena, text, length < SHOWN_MAX ? length : SHOWN_MAX);
    free(text);
    return kept;
}

static void note_value(json_walk *walk, const json_t *recorded, const json_t *now)
{
    pp_compare_note(walk->comparison,
                    (pp_difference){.kind = PP_RESULT_CHANGED,
                                    .file = "results.json",
                                    .where = pp_compare_keep(walk->arena, walk->path, walk->length),
                                    .recorded = shown(walk, recorded),
                                    .now = shown(walk, now)});
}

static void compare_values(json_walk *walk, const json_t *recorded, const json_t *now);

static void step_into(json_walk *walk, const char *format, const char *key, size_t index,
                      const json_t *recorded, const json_t *now)
{
    size_t before = walk->length;
    int added = key ? snprintf(walk->path + before, PATH_ROOM - before, format, key)
                    : snprintf(walk->path + before, PATH_ROOM - before, format, index);
    walk->length = before + (size_t)added < PATH_ROOM ? before + (size_t)added : PATH_ROOM - 1;
    if (recorded && now)
        compare_values(walk, recorded, now);
    else
        note_value(walk, recorded, now);
    walk->length = before;
    walk->path[before] = '\0';
}

/* What the two reports may differ in: the program's version, and where the job lies. */
static bool is_passed_over(const json_walk *walk, const char *key)
{
    if (strcmp(walk->path, "tool") == 0) return strcmp(key, "version") == 0;
    if (strncmp(walk->path, "inputs[", 7) != 0) return false;
    if (strcmp(key, "file") == 0) return strcmp(walk->path, "inputs[0]") == 0;
    return walk->skip_hashes && strcmp(key, "sha256") == 0;
}

static void compare_objects(json_walk *walk, const json_t *recorded, const json_t *now)
{
    const char *format = walk->length ? ".%s" : "%s", *key;
    json_t *value;
    json_object_foreach((json_t *)(uintptr_t)now, key, value)
    {
        if (!is_passed_over(walk, key))
            step_into(walk, format, key, 0, json_object_get(recorded, key), value);
    }
    json_object_foreach((json_t *)(uintptr_t)recorded, key, value)
    {
        if (!is_passed_over(walk, key) && !json_object_get(now, key))
            step_into(walk, format, key, 0, value, NULL);
    }
}

static void compare_arrays(json_walk *walk, const json_t *recorded, const json_t *now)
{
    size_t a = json_array_size(recorded), b = json_array_size(now);
    for (size_t i = 0; i < a || i < b; i++)
        step_into(walk, "[%zu]", NULL, i, json_array_get(recorded, i), json_array_get(now, i));
}

static void compare_values(json_walk *walk, const json_t *recorded, const json_t *now)
{
    bool same_kind = json_typeof(recorded) == json_typeof(now);
    if (same_kind && json_is_object(now)) {
        compare_objects(walk, recorded, now);
    } else if (same_kind && json_is_array(now)) {
        compare_arrays(walk, recorded, now);
    } else {
        walk->comparison->values++;
        bool same = same_kind && json_is_real(now)
                        ? pp_compare_close(pp_compare_tolerance(walk->path),
                                           json_real_value(recorded), json_real_value(now))
                        : json_equal(recorded, now);
        if (!same) note_value(walk, recorded, now);
    }
}

pp_status pp_compare_json_text(const pp_recorded *recorded, const pp_text *now, pp_arena *arena,
                               pp_differences *comparison, pp_error *error)
{
    json_t *root = json_loadb(now->data, now->length, 0, NULL);
    if (!root) return pp_fail_memory(error);
    json_walk walk = {.comparison = comparison, .arena = arena};
    for (size_t i = 0; i < comparison->count && i < PP_DIFFERENCES_KEPT; i++)
        walk.skip_hashes = walk.skip_hashes || comparison->items[i].kind == PP_INPUT_CHANGED;
    compare_values(&walk, recorded->root, root);
    json_decref(root);
    return PP_OK;
}

static pp_status compare_json(const pp_recorded *recorded, const pp_results *now, pp_arena *arena,
                              pp_differences *comparison, pp_error *error)
{
    pp_text text = {0};
    pp_status status = pp_json_write(now, recorded->folder, &text, error);
    if (status == PP_OK) status = pp_compare_json_text(recorded, &text, arena, comparison, error);
    pp_text_free(&text);
    comparison->files += status == PP_OK;
    return status;
}

/* ---- pages ---- */

/* The date that the recorded page bears: without one in the job it was the day of writing. */
static const char *date_of_page(const char *page, bool *from_epoch, pp_arena *arena)
{
    static const char pattern[] = "dddd-dd-dd";
    const char *at = strstr(page, "Report date</");
    for (int i = 0; at && i < 64 && at[i]; i++) {
        size_t k = 0;
        while (pattern[k] && (pattern[k] == 'd' ? at[i + (int)k] >= '0' && at[i + (int)k] <= '9'
                                                : at[i + (int)k] == pattern[k]))
            k++;
        if (pattern[k]) continue;
        *from_epoch = strstr(page, PP_DATE_SOURCE_NAME "</") != NULL;
        return pp_compare_keep(arena, at + i, k);
    }
    return NULL;
}

static pp_status make_page(const pp_results *now, pp_report_page page, bool letter,
                           const pp_recorded *recorded, pp_text *text, pp_error *error)
{
    const pp_report_options options = {.threads = 1,
                                       .letter = letter,
                                       .job_file = recorded->job_file,
                                       .results_sha256 = recorded->results_sha256};
    return pp_report_page_make(now, page, recorded->folder, &options, text, error);
}

static bool same_bytes(const pp_text *text, const pp_mapped *file)
{
    return text->length == file->length && memcmp(text->data, file->bytes, text->length) == 0;
}

/* The page on A4, and a paper on Letter where that is not it. */
static pp_status hold_page_against(const pp_recorded *recorded, const pp_results *now,
                                   pp_report_page page, const pp_mapped *file, pp_arena *arena,
                                   pp_differences *comparison, pp_error *error)
{
    pp_difference d = {.kind = PP_PAGE_CHANGED, .file = pp_report_page_name(page)};
    pp_text text[2] = {{0}};
    bool same = false;
    pp_status status = PP_OK;
    for (int letter = 0;
         letter < (pp_report_page_is_paper(page) ? 2 : 1) && !same && status == PP_OK; letter++) {
        status = make_page(now, page, letter, recorded, &text[letter], error);
        same = status == PP_OK && same_bytes(&text[letter], file);
    }
    if (status == PP_OK && !same && pp_report_page_is_paper(page))
        pp_compare_paper(recorded->folder, d.file, file, text, arena, &d);
    pp_text_free(&text[0]);
    pp_text_free(&text[1]);
    PP_TRY(status);
    comparison->files++;
    if (!same) pp_compare_note(comparison, d);
    return PP_OK;
}

static pp_status compare_page(const pp_recorded *recorded, pp_results *now, pp_report_page page,
                              pp_arena *arena, pp_differences *comparison, pp_error *error)
{
    pp_mapped file;
    const char *name = pp_report_page_name(page);
    PP_TRY(pp_compare_map(recorded->folder, name, arena, &file, error));
    bool due = pp_report_page_is_due(now, page);
    if (file.there != due) {
        pp_difference_kind kind = due ? PP_REPORT_MISSING : PP_REPORT_SURPLUS;
        pp_compare_note(comparison, (pp_difference){.kind = kind, .file = name});
    }
    if (file.there && due && page == PP_PAGE_HTML && !now->job->date) {
        const char *html = pp_arena_text(arena, file.bytes, file.length);
        bool from_epoch = false;
        const char *date = html ? date_of_page(html, &from_epoch, arena) : NULL;
        if (date) now->date = date, now->date_from_epoch = from_epoch;
    }
    pp_status status = PP_OK;
    if (file.there && due)
        status = hold_page_against(recorded, now, page, &file, arena, comparison, error);
    pp_compare_unmap(&file);
    return status;
}

static bool is_spreadsheet_like(const pp_results *now, const pp_recorded *recorded,
                                const char *scratch_path, const char *scratch_folder,
                                const pp_mapped *file, pp_arena *arena, pp_status *status,
                                pp_error *error)
{
    pp_mapped made;
    const pp_report_options options = {.threads = 1, .job_file = recorded->job_file};
    *status = pp_report_spreadsheet_make(now, recorded->folder, &options, scratch_path, error);
    if (*status == PP_OK)
        *status = pp_compare_map(scratch_folder, "results.xlsx", arena, &made, error);
    if (*status != PP_OK) return false;
    bool same = made.length == file->length && memcmp(made.bytes, file->bytes, made.length) == 0;
    pp_compare_unmap(&made);
    return same;
}

/* Only where there is one: it is written on request. */
static pp_status compare_spreadsheet(const pp_recorded *recorded, const pp_results *now,
                                     pp_arena *arena, pp_differences *comparison, pp_error *error)
{
    pp_mapped file;
    PP_TRY(pp_compare_map(recorded->folder, "results.xlsx", arena, &file, error));
    if (!file.there) return PP_OK;
    pp_status status = PP_OK;
    const char *scratch = pp_path_make_temporary(arena);
    const char *path = scratch ? pp_path_join(scratch, "results.xlsx", arena) : NULL;
    bool same =
        path && is_spreadsheet_like(now, recorded, path, scratch, &file, arena, &status, error);
    if (path) unlink(path);
    if (scratch) rmdir(scratch);
    pp_compare_unmap(&file);
    if (!path)
        return pp_fail(error, PP_EIO,
                       "a temporary folder cannot be made; set TMPDIR to a folder "
                       "that can be written");
    PP_TRY(status);
    comparison->files++;
    if (!same)
        pp_compare_note(comparison,
                        (pp_difference){.kind = PP_PAGE_CHANGED, .file = "results.xlsx"});
    return PP_OK;
}

pp_status pp_compare_report(const pp_recorded *recorded, pp_results *now, int threads,
                            pp_memory *memory, pp_differences *comparison, pp_error *error)
{
    pp_arena *arena = &memory->keep;
    PP_TRY(compare_json(recorded, now, arena, comparison, error));
    for (pp_csv table = 0; table < PP_CSV_COUNT; table++)
        PP_TRY(pp_compare_table(recorded->folder, now, table, threads, arena, comparison, error));
    for (pp_report_page page = 0; page < PP_PAGE_COUNT; page++)
        if (page != PP_PAGE_JSON && page != PP_PAGE_QIF)
            PP_TRY(compare_page(recorded, now, page, arena, comparison, error));
    PP_TRY(pp_compare_qif(recorded, now, arena, comparison, error));
    return compare_spreadsheet(recorded, now, arena, comparison, error);
}

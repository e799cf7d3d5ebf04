#include "history/report.h"

#include <errno.h>
#include <fcntl.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "answer/inputs.h"
#include "answer/paths.h"
#include "history/figures.h"
#include "history/holes.h"

#define RESULTS_BYTES_MAX ((long long)256 << 20) /* a million holes: a tenth of it */

/* ---- the file ---- */

typedef struct bytes {
    char *data;
    size_t length;
} bytes;

static pp_status read_all(int handle, const char *path, size_t length, char *data, pp_error *error)
{
    for (size_t done = 0; done < length;) {
        ssize_t got = read(handle, data + done, length - done);
        if (got < 0 && errno == EINTR) continue;
        if (got <= 0)
            return pp_fail_at(error, PP_EIO, path, 0, 0, "cannot be read; check the file");
        done += (size_t)got;
    }
    return PP_OK;
}

static pp_status read_results(const char *path, pp_arena *scratch, bytes *b, pp_error *error)
{
    struct stat facts;
    int handle = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (handle < 0)
        return pp_fail_at(error, PP_EIO, path, 0, 0,
                          "cannot be opened (%s); name a report folder of plateproof",
                          strerror(errno));
    pp_status status = PP_OK;
    if (fstat(handle, &facts) != 0 || !S_ISREG(facts.st_mode) || facts.st_size > RESULTS_BYTES_MAX)
        status = pp_fail_at(error, PP_EINPUT, path, 0, 0,
                            "is no results.json of plateproof; name a report folder");
    if (status == PP_OK) {
        b->length = (size_t)facts.st_size;
        b->data = pp_arena_take(scratch, b->length + 1, 1);
        status =
            b->data ? read_all(handle, path, b->length, b->data, error) : pp_fail_memory(error);
    }
    close(handle);
    return status;
}

pp_status pp_kept_report_hash(const char *folder, char sha256[65], pp_arena *scratch,
                              pp_error *error)
{
    const char *path = pp_path_join(folder, "results.json", scratch);
    if (!path) return pp_fail_memory(error);
    return pp_hash_file(path, sha256, error);
}

/* ---- what identifies it ---- */

typedef struct reading {
    const char *path; /* of results.json */
    const json_t *root;
    pp_arena *keep;
    bool persons, unnamed; /* to be kept; allowed */
    bool failed;           /* memory ran out */
} reading;

static const char *keep_text(reading *r, const char *text)
{
    const char *kept = text ? pp_arena_text(r->keep, text, strlen(text)) : NULL;
    if (text && !kept) r->failed = true;
    return kept;
}

static const char *text_of(reading *r, const char *section, const char *key)
{
    return keep_text(r, json_string_value(json_object_get(json_object_get(r->root, section), key)));
}

static const char *text_or_empty(reading *r, const char *section, const char *key)
{
    const char *text = text_of(r, section, key);
    return text ? text : "";
}

static double real_of(const reading *r, const char *section, const char *key)
{
    const json_t *value = json_object_get(json_object_get(r->root, section), key);
    return json_is_number(value) ? json_number_value(value) : NAN;
}

bool pp_is_iso_date(const char *text)
{
    static const int DAYS[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    if (strlen(text) != 10) return false;
    for (int i = 0; i < 10; i++)
        if (i == 4 || i == 7 ? text[i] != '-' : text[i] < '0' || text[i] > '9') return false;
    int year = atoi(text), month = atoi(text + 5), day = atoi(text + 8);
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    if (month < 1 || month > 12 || day < 1) return false;
    return day <= DAYS[month - 1] + (month == 2 && leap);
}

static pp_status check_date(const reading *r, const char *key, const char *text, pp_error *error)
{
    if (!text || pp_is_iso_date(text)) return PP_OK;
    return pp_fail_at(error, PP_EINPUT, r->path, 0, 0,
                      "%s = '%.40s' is no date YYYY-MM-DD, and other ones do not sort; correct the "
                      "job file and inspect again",
                      key, text);
}

static pp_status check_format(const reading *r, pp_error *error)
{
    const char *format = json_string_value(json_object_get(r->root, "format"));
    if (!format || strcmp(format, "plateproof-results") != 0)
        return pp_fail_at(error, PP_EINPUT, r->path, 0, 0,
                          "is no results.json of plateproof; name a report folder");
    if (json_integer_value(json_object_get(r->root, "version")) != 1)
        return pp_fail_at(error, PP_EINPUT, r->path, 0, 0,
                          "was written by a newer plateproof; add it with that one");
    return PP_OK;
}

static void identify(reading *r, pp_kept_report *k)
{
    k->order_number = text_or_empty(r, "job", "order");
    k->item = text_or_empty(r, "job", "item");
    k->plate_id = text_or_empty(r, "job", "plate_id");
    k->serial = text_or_empty(r, "job", "serial");
    k->stage = text_or_empty(r, "job", "stage");
    k->report_number = text_or_empty(r, "job", "report_number");
    k->revision = text_or_empty(r, "job", "report_revision");
    k->plate_role = text_of(r, "job", "plate_role");
    k->material = text_of(r, "job", "material");
    k->heat_number = text_of(r, "job", "heat_number");
    k->supplier = text_of(r, "job", "supplier");
    k->inspection_date = text_of(r, "job", "inspection_date");
    k->machine = text_of(r, "machine", "name");
    k->machine_serial = text_or_empty(r, "machine", "serial");
    k->program = text_of(r, "machine", "program");
    k->drilled_date = text_of(r, "machine", "drilled");
    k->drilling_temperature = real_of(r, "machine", "drilling_temperature");
    if (r->persons) {
        k->inspector = text_of(r, "job", "inspector");
        k->operator_name = text_of(r, "machine", "operator");
    }
    k->outline = text_of(r, "plate", "outline");
    bool disc = k->outline && strcmp(k->outline, "disc") == 0;
    k->size_x = real_of(r, "plate", disc ? "diameter" : "width");
    k->size_y = real_of(r, "plate", disc ? "diameter" : "height");
    k->thickness = real_of(r, "plate", "thickness");
    k->tool_version = text_or_empty(r, "tool", "version");
    const char *verdict = keep_text(r, json_string_value(json_object_get(r->root, "verdict")));
    const char *basis = keep_text(r, json_string_value(json_object_get(r->root, "basis")));
    k->verdict = verdict ? verdict : "", k->basis = basis ? basis : "";
    const json_t *alignment = json_object_get(json_object_get(r->root, "holes"), "alignment");
    k->alignment = keep_text(r, json_string_value(json_object_get(alignment, "kind")));
    const json_t *scale = json_object_get(alignment, "scale_u");
    k->scale_u = json_is_number(scale) ? json_number_value(scale) : NAN;
}

/* ---- the inputs ---- */

static bool is_judging(const char *role)
{
    return strcmp(role, "job") == 0 || strcmp(role, "rules") == 0 ||
           strcmp(role, "flatness_rules") == 0;
}

static void note_input(reading *r, pp_kept_report *k, const json_t *entry,
                       const pp_kept_input *input)
{
    const char *instrument = json_string_value(json_object_get(entry, "instrument"));
    bool holes = strcmp(input->role, "measured") == 0;
    if (instrument && (holes || !k->instrument)) k->instrument = keep_text(r, instrument);
    if (strcmp(input->role, "nominal") == 0) k->pattern_sha256 = input->sha256;
    if (strcmp(input->role, "commanded") == 0) k->commanded_sha256 = input->sha256;
}

/* The files it was computed from; the measurement is told from its judging by a hash of all but the
 * job and the rules. */
static pp_status take_inputs(reading *r, pp_kept_report *k, pp_error *error)
{
    const json_t *list = json_object_get(r->root, "inputs");
    size_t count = json_array_size(list);
    pp_kept_input *inputs;
    pp_hash hash;
    pp_hash_begin(&hash);
    PP_TAKE(inputs, r->keep, count);
    for (size_t i = 0; i < count; i++) {
        const json_t *entry = json_array_get(list, i);
        const char *role = json_string_value(json_object_get(entry, "role"));
        const char *file = json_string_value(json_object_get(entry, "file"));
        const char *sha256 = json_string_value(json_object_get(entry, "sha256"));
        if (!role || !file || !sha256)
            return pp_fail_at(error, PP_EINPUT, r->path, 0, 0,
                              "has an input without role, file or hash; inspect the plate again");
        inputs[i] = (pp_kept_input){keep_text(r, role), keep_text(r, file), keep_text(r, sha256)};
        if (r->failed) return pp_fail_memory(error);
        note_input(r, k, entry, &inputs[i]);
        if (is_judging(role)) continue;
        pp_hash_add(&hash, role, strlen(role) + 1);
        pp_hash_add(&hash, sha256, strlen(sha256) + 1);
    }
    pp_hash_end(&hash, k->inputs_sha256);
    k->inputs = inputs, k->input_count = count;
    return PP_OK;
}

/* ---- all of it ---- */

static pp_status take(reading *r, pp_kept_report *k, pp_error *error)
{
    PP_TRY(check_format(r, error));
    identify(r, k);
    if (r->failed) return pp_fail_memory(error);
    if (!r->unnamed && !k->plate_id[0] && !k->serial[0])
        return pp_fail_at(error, PP_EINPUT, r->path, 0, 0,
                          "does not say which plate it is of; give [job] plate_id or serial, and "
                          "inspect again");
    PP_TRY(check_date(r, "inspection_date", k->inspection_date, error));
    PP_TRY(check_date(r, "drilled", k->drilled_date, error));
    PP_TRY(take_inputs(r, k, error));
    return pp_kept_figures_take(r->root, r->keep, k, error);
}

static pp_status parse(const bytes *b, const char *path, json_t **root, pp_error *error)
{
    json_error_t why;
    *root = json_loadb(b->data, b->length, JSON_REJECT_DUPLICATES, &why);
    if (*root) return PP_OK;
    if (json_error_code(&why) == json_error_out_of_memory) return pp_fail_memory(error);
    return pp_fail_at(error, PP_EINPUT, path, why.line, why.column,
                      "is no sound JSON (%s); inspect the plate again", why.text);
}

static pp_status read_folder(const char *folder, const reading *how, int threads, pp_memory *memory,
                             pp_kept_report *k, pp_error *error)
{
    bytes b = {0};
    json_t *root;
    char *absolute = realpath(folder, NULL);
    k->folder = absolute ? pp_arena_text(&memory->keep, absolute, strlen(absolute)) : folder;
    free(absolute);
    const char *path = pp_path_join(folder, "results.json", &memory->keep);
    if (!k->folder || !path) return pp_fail_memory(error);
    PP_TRY(read_results(path, &memory->scratch, &b, error));
    pp_hash_bytes(b.data, b.length, k->results_sha256);
    PP_TRY(parse(&b, path, &root, error));
    reading r = *how;
    r.path = path, r.root = root, r.keep = &memory->keep;
    pp_status status = take(&r, k, error);
    if (status == PP_OK) status = pp_kept_holes_take(folder, root, threads, memory, k, error);
    json_decref(root);
    return status;
}

static pp_status read_report(const char *folder, const reading *how, int threads, pp_memory *memory,
                             pp_kept_report *report, pp_error *error)
{
    pp_kept_report k = {.drilling_temperature = NAN};
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = read_folder(folder, how, threads, memory, &k, error);
    pp_arena_release(&memory->scratch, mark);
    if (status == PP_OK) *report = k;
    return status;
}

pp_status pp_kept_report_read(const char *folder, bool persons, int threads, pp_memory *memory,
                              pp_kept_report *report, pp_error *error)
{
    return read_report(folder, &(reading){.persons = persons}, threads, memory, report, error);
}

pp_status pp_kept_report_read_any(const char *folder, int threads, pp_memory *memory,
                                  pp_kept_report *report, pp_error *error)
{
    return read_report(folder, &(reading){.unnamed = true}, threads, memory, report, error);
}

#include "verify/recorded.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "answer/inputs.h"
#include "answer/paths.h"
#include "input/job/job_files.h"
#include "report/folder/pack.h"

enum { FORMAT_VERSION = 1 };
#define INDEX_MAX ((long long)16 << 20)

/* ---- files read with distrust ---- */

static bool fits(int handle, long long most)
{
    struct stat facts;
    if (fstat(handle, &facts) != 0) return false;
    errno = S_ISREG(facts.st_mode) ? EFBIG : EINVAL;
    return S_ISREG(facts.st_mode) && facts.st_size <= most;
}

bool pp_recorded_is_fit(const char *path, long long most)
{
    int handle = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    bool fit = handle >= 0 && fits(handle, most);
    int why = errno;
    if (handle >= 0) close(handle);
    errno = why;
    return fit;
}

json_t *pp_recorded_json(const char *path, long long most, bool *there, json_error_t *why)
{
    struct stat facts;
    json_t *root = NULL;
    *there = lstat(path, &facts) == 0;
    int handle = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (handle < 0) return NULL;
    /* through a stream: json_loadfd reads byte by byte */
    FILE *file = fits(handle, most) ? fdopen(handle, "r") : NULL;
    if (file) root = json_loadf(file, JSON_REJECT_DUPLICATES, why);
    if (file)
        fclose(file);
    else
        close(handle);
    return root;
}

static pp_status load(const char *folder, pp_arena *arena, json_t **root, pp_error *error)
{
    json_error_t where = {.line = 0};
    bool there;
    char *path = pp_path_join(folder, "results.json", arena);
    if (!path) return pp_fail_memory(error);
    *root = NULL;
    json_t *read = pp_recorded_json(path, PP_RECORDED_RESULTS_MAX, &there, &where);
    if (!there) return pp_fail_at(error, PP_EIO, path, 0, 0, "is missing; name a report folder");
    if (!pp_recorded_is_fit(path, PP_RECORDED_RESULTS_MAX))
        return pp_fail_at(error, PP_EIO, path, 0, 0,
                          "cannot be read: no regular file, or larger than a report's can be");
    const char *format = json_string_value(json_object_get(read, "format"));
    json_int_t version = json_integer_value(json_object_get(read, "version"));
    pp_status status = PP_OK;
    if (!read)
        status = pp_fail_at(error, PP_EINPUT, path, where.line, 0, "is damaged: no JSON");
    else if (!format || strcmp(format, "plateproof-results") != 0)
        status = pp_fail_at(error, PP_EINPUT, path, 0, 0, "is no results.json of plateproof");
    else if (version != FORMAT_VERSION)
        status = pp_fail_at(error, PP_EINPUT, path, 0, 0,
                            "has version %lld of the format, this program knows %d; use the "
                            "program that wrote it",
                            (long long)version, FORMAT_VERSION);
    if (status != PP_OK)
        json_decref(read);
    else
        *root = read;
    return status;
}

static const char *keep(pp_arena *arena, const char *text)
{
    const char *kept = text ? pp_arena_text(arena, text, strlen(text)) : "";
    return kept ? kept : "";
}

static const char *text_of(const json_t *object, const char *key, pp_arena *arena)
{
    return keep(arena, json_string_value(json_object_get(object, key)));
}

/* ---- where the inputs are ---- */

typedef struct finding_place {
    const pp_recorded_options *options;
    pp_arena *arena;
    const char *folder;
    json_t *index;          /* of a sealed folder; NULL: it is none */
    char around[PATH_MAX];  /* the folder beside which the report lies, resolved; "": unknown */
    char job_dir[PATH_MAX]; /* of the job, resolved; "": unknown */
    const char *base;       /* what inputs other than the job are relative to */
} finding_place;

/* The packed name of an input: a plain name, so that it cannot lead out of the folder. */
static const char *packed_name(const json_t *index, const char *role, const char *written)
{
    const json_t *files = json_object_get(index, "files");
    for (size_t i = 0; i < json_array_size(files); i++) {
        const json_t *entry = json_array_get(files, i);
        const char *its_role = json_string_value(json_object_get(entry, "role"));
        const char *file = json_string_value(json_object_get(entry, "file"));
        const char *packed = json_string_value(json_object_get(entry, "packed"));
        if (its_role && file && packed && strcmp(its_role, role) == 0 &&
            strcmp(file, written) == 0 && !strchr(packed, '/') && packed[0] != '.')
            return packed;
    }
    return NULL;
}

/* Is the resolved `path` in the resolved `folder` or below it? */
static bool lies_in(const char *path, const char *folder)
{
    size_t length = strlen(folder);
    if (length == 0) return false;
    if (strcmp(folder, "/") == 0) return true;
    return strncmp(path, folder, length) == 0 && path[length] == '/';
}

static void set_standing(pp_recorded_input *input, const char *may_lie_in, bool outside)
{
    char real[PATH_MAX];
    if (!realpath(input->file.path, real))
        input->standing = PP_INPUT_ABSENT;
    else if (may_lie_in && !outside && !lies_in(real, may_lie_in))
        input->standing = PP_INPUT_OUTSIDE;
    else
        input->standing =
            pp_recorded_is_fit(real, PP_RECORDED_INPUT_MAX) ? PP_INPUT_THERE : PP_INPUT_UNFIT;
}

static pp_status place_sealed(finding_place *p, pp_recorded_input *input, const char *packed,
                              pp_error *error)
{
    pp_arena *arena = p->arena;
    const char *inputs = pp_path_join(p->folder, PP_FOLDER_INPUTS, arena);
    input->file.path = inputs ? pp_path_join(inputs, packed, arena) : NULL;
    char real[PATH_MAX];
    if (!input->file.path) return pp_fail_memory(error);
    set_standing(input, realpath(inputs, real) ? real : "", false);
    return PP_OK;
}

static pp_status place_elsewhere(finding_place *p, pp_recorded_input *input, bool is_job,
                                 pp_error *error)
{
    const char *moved = p->options->inputs_folder, *written = input->file.written;
    const char *base = is_job ? p->folder : p->base;
    input->file.path = pp_path_join(base, written, p->arena);
    if (!input->file.path) return pp_fail_memory(error);
    set_standing(input, is_job ? p->around : p->job_dir, p->options->outside);
    if (!moved || (input->standing == PP_INPUT_THERE && !is_job)) return PP_OK;
    const char *there = pp_path_join(moved, pp_path_file_name(written), p->arena);
    if (!there) return pp_fail_memory(error);
    if (!is_job && access(there, F_OK) != 0) return PP_OK;
    input->file.path = there;
    set_standing(input, NULL, true);
    return PP_OK;
}

/* What lies beside the job lies in its folder. */
static void take_job_folder(finding_place *p, const pp_recorded_input *job)
{
    char real[PATH_MAX];
    const char *path = job->file.path;
    p->base = pp_arena_text(p->arena, path, (size_t)(pp_path_file_name(path) - path));
    p->job_dir[0] = '\0';
    if (!realpath(path, real)) return;
    char *slash = strrchr(real, '/');
    slash[slash == real] = '\0';
    snprintf(p->job_dir, sizeof p->job_dir, "%s", real);
}

static pp_status find_inputs(finding_place *p, pp_recorded *recorded, pp_error *error)
{
    const json_t *list = json_object_get(recorded->root, "inputs");
    size_t count = json_array_size(list);
    pp_recorded_input *inputs;
    if (count > PP_PACKED_FILES_MAX)
        return pp_fail_at(error, PP_EINPUT, recorded->folder, 0, 0,
                          "results.json names %zu inputs, which no report has", count);
    PP_TAKE_ZERO(inputs, p->arena, count);
    for (size_t i = 0; i < count; i++) {
        const json_t *entry = json_array_get(list, i);
        pp_recorded_input *input = &inputs[i];
        input->file.role = text_of(entry, "role", p->arena);
        input->file.written = text_of(entry, "file", p->arena);
        snprintf(input->file.sha256, sizeof input->file.sha256, "%s",
                 text_of(entry, "sha256", p->arena));
        bool is_job = strcmp(input->file.role, "job") == 0;
        const char *packed = packed_name(p->index, input->file.role, input->file.written);
        PP_TRY(packed ? place_sealed(p, input, packed, error)
                      : place_elsewhere(p, input, is_job, error));
        if (!is_job) continue;
        recorded->job_file = input->file.written;
        if (input->standing == PP_INPUT_THERE) recorded->job_path = input->file.path;
        take_job_folder(p, input);
    }
    recorded->input_count = count;
    recorded->inputs = inputs;
    if (recorded->job_file) return PP_OK;
    return pp_fail_at(error, PP_EINPUT, recorded->folder, 0, 0,
                      "results.json names no job file, so nothing can be recomputed");
}

static void find_surroundings(finding_place *p)
{
    char real[PATH_MAX];
    if (!realpath(p->folder, real)) return;
    char *slash = strrchr(real, '/');
    slash[slash == real] = '\0';
    snprintf(p->around, sizeof p->around, "%s", real);
}

static json_t *open_index(const char *folder, pp_arena *arena)
{
    bool there;
    const char *path = pp_path_join(folder, PP_FOLDER_INPUTS "/index.json", arena);
    json_t *index = path ? pp_recorded_json(path, INDEX_MAX, &there, NULL) : NULL;
    const char *format = json_string_value(json_object_get(index, "format"));
    if (format && strcmp(format, "plateproof-inputs") == 0) return index;
    json_decref(index);
    return NULL;
}

/* "" where it cannot be read. errors: PP_ENOMEM */
static pp_status hash_results(const char *path, char sha256[65], pp_error *error)
{
    pp_error why;
    pp_status status = pp_hash_file(path, sha256, &why);
    if (status == PP_ENOMEM) return pp_fail_memory(error);
    if (status != PP_OK) sha256[0] = '\0';
    return PP_OK;
}

pp_status pp_recorded_read(const char *folder, const pp_recorded_options *options,
                           pp_memory *memory, pp_recorded *recorded, pp_error *error)
{
    pp_arena *arena = &memory->keep;
    pp_recorded read = {.folder = folder};
    finding_place place = {.options = options, .arena = arena, .folder = folder, .base = folder};
    const char *results = pp_path_join(folder, "results.json", arena);
    if (!results) return pp_fail_memory(error);
    PP_TRY(load(folder, arena, &read.root, error));
    if (hash_results(results, read.results_sha256, error) != PP_OK) {
        json_decref(read.root);
        return PP_ENOMEM;
    }
    read.command = text_of(read.root, "command", arena);
    read.version = text_of(json_object_get(read.root, "tool"), "version", arena);
    place.index = open_index(folder, arena);
    read.sealed = place.index != NULL;
    find_surroundings(&place);
    pp_status status = find_inputs(&place, &read, error);
    json_decref(place.index);
    if (status == PP_OK)
        *recorded = read;
    else
        json_decref(read.root);
    return status;
}

void pp_recorded_free(pp_recorded *recorded)
{
    json_decref(recorded->root);
    recorded->root = NULL;
}

/* ---- into the job ---- */

const char *pp_recorded_place(const void *context, const char *written)
{
    const pp_recorded *recorded = context;
    for (size_t i = 0; i < recorded->input_count; i++) {
        const pp_input_file *input = &recorded->inputs[i].file;
        if (strcmp(input->role, "job") != 0 && strcmp(input->written, written) == 0)
            return input->path;
    }
    return NULL;
}

pp_status pp_recorded_name(const pp_recorded *recorded, pp_arena *arena, const char **job_name,
                           pp_error *error)
{
    const char *name = pp_path_file_name(recorded->job_file);
    const char *dot = strrchr(name, '.');
    size_t length = dot && dot > name ? (size_t)(dot - name) : strlen(name);
    *job_name = pp_arena_text(arena, name, length);
    return *job_name ? PP_OK : pp_fail_memory(error);
}

static pp_status place_file(void *context, pp_job_file *file, pp_error *error)
{
    (void)error;
    const char *path = pp_recorded_place(context, file->written);
    if (path) file->path = path;
    return PP_OK;
}

/* A rule file is named by its set: the same text, looked for at the place where it was found. */
static const char *place_rules(const pp_recorded *recorded, const char *role)
{
    for (size_t i = 0; i < recorded->input_count; i++)
        if (strcmp(recorded->inputs[i].file.role, role) == 0) return recorded->inputs[i].file.path;
    return NULL;
}

pp_status pp_recorded_place_inputs(const pp_recorded *recorded, pp_job *job, pp_arena *arena,
                                   pp_error *error)
{
    PP_TRY(pp_recorded_name(recorded, arena, &job->name, error));
    job->rules.set_place = place_rules(recorded, "rules");
    job->plate.flatness_rule_place = place_rules(recorded, "flatness_rules");
    return pp_job_each_file(job, place_file, (void *)(uintptr_t)recorded, error);
}

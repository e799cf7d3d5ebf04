#include "serve/standing.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <nettle/sha2.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "serve/beneath.h"

json_t *pp_standing_load(int handle)
{
    FILE *file = fdopen(handle, "r"); /* json_loadfd would read byte by byte */
    json_t *value = file ? json_loadf(file, 0, NULL) : NULL;
    if (file)
        fclose(file);
    else
        close(handle);
    return value;
}

json_t *pp_standing_read(int root, const char *report)
{
    char path[PP_BENEATH_PATH_MAX];
    struct stat found;
    json_t *results = NULL;
    if (!pp_beneath_join("", report, "results.json", path)) return NULL;
    int handle = pp_beneath_open_file(root, path, &found);
    if (handle < 0) return NULL;
    if (found.st_size <= PP_RESULTS_MAX)
        results = pp_standing_load(handle);
    else
        close(handle);
    const char *format = json_string_value(json_object_get(results, "format"));
    if (format && strcmp(format, "plateproof-results") == 0) return results;
    json_decref(results);
    return NULL;
}

static void copy(json_t *to, const char *name, const json_t *from, const char *key)
{
    json_t *value = json_object_get(from, key);
    if (value && !json_is_null(value)) json_object_set(to, name, value);
}

json_t *pp_standing_facts(const json_t *results)
{
    json_t *facts = json_object();
    const json_t *flatness = json_object_get(results, "flatness");
    const json_t *holes = json_object_get(results, "holes");
    const json_t *holddown = json_object_get(results, "holddown");
    const json_t *stack = json_object_get(results, "stack");
    copy(facts, "command", results, "command");
    copy(facts, "verdict", results, "verdict");
    copy(facts, "basis", results, "basis");
    copy(facts, "findings", json_object_get(results, "exceptions"), "count");
    if (flatness) {
        json_t *shown = json_object();
        const json_t *zone = json_object_get(flatness, "minimum_zone");
        copy(shown, "value", zone ? zone : json_object_get(flatness, "least_squares"), "flatness");
        copy(shown, "limit", flatness, "limit");
        copy(shown, "verdict", flatness, "verdict");
        json_object_set_new(facts, "flatness", shown);
    }
    if (holes) {
        json_t *shown = json_object();
        copy(shown, "nominal", holes, "nominal");
        copy(shown, "measured", holes, "measured");
        json_object_set_new(facts, "holes", shown);
        copy(facts, "earlier_rounds", json_object_get(holes, "rework"), "earlier_rounds");
    }
    const json_t *bundle = json_object_get(results, "bundle");
    if (bundle) {
        json_t *shown = json_object();
        copy(shown, "count", bundle, "tubes");
        copy(shown, "straight", bundle, "passes_straight");
        copy(shown, "bending", bundle, "passes_by_bending");
        copy(shown, "stuck", bundle, "does_not_pass");
        json_object_set_new(facts, "tubes", shown);
    }
    copy(facts, "holddown", holddown ? holddown : stack, "ready");
    /* a plan is no acceptance: it is ready or not, whatever the surface conforms to */
    const char *command = json_string_value(json_object_get(results, "command"));
    const json_t *ready = json_object_get(facts, "holddown");
    if (command && ready && (strcmp(command, "holddown") == 0 || strcmp(command, "stack") == 0))
        json_object_set_new(
            facts, "verdict",
            json_string(json_is_true(ready) ? "hold-down ready" : "hold-down not ready"));
    return facts;
}

json_t *pp_standing_inputs(const json_t *results, const char *top, const char *job)
{
    json_t *found = json_array();
    char folder[PP_BENEATH_PATH_MAX], path[PP_BENEATH_PATH_MAX];
    const char *slash = strrchr(job, '/');
    snprintf(folder, sizeof folder, "%.*s", slash ? (int)(slash - job) : 0, job);
    size_t index;
    json_t *input;
    json_array_foreach(json_object_get(results, "inputs"), index, input)
    {
        const char *role = json_string_value(json_object_get(input, "role"));
        const char *file = json_string_value(json_object_get(input, "file"));
        const char *hash = json_string_value(json_object_get(input, "sha256"));
        if (!role || !file || !hash) continue;
        if (strcmp(role, "job") == 0)
            snprintf(path, sizeof path, "%s", job);
        else if (!pp_beneath_join(top, folder, file, path) || !pp_beneath_proper(path))
            path[0] = '\0';
        json_array_append_new(found, json_pack("{s:s, s:s, s:s, s:s}", "role", role, "file", file,
                                               "path", path, "sha256", hash));
    }
    return found;
}

json_t *pp_standing_files(int root, const char *report)
{
    json_t *names = json_array();
    int handle = pp_beneath_open(root, report, O_RDONLY | O_DIRECTORY);
    DIR *folder = handle >= 0 ? fdopendir(handle) : NULL;
    if (!folder && handle >= 0) close(handle);
    for (struct dirent *entry; folder && (entry = readdir(folder));)
        if (entry->d_type == DT_REG && pp_beneath_proper(entry->d_name))
            json_array_append_new(names, json_string(entry->d_name));
    if (folder) closedir(folder);
    return names;
}

static const char *member(const json_t *object, const char *key)
{
    const char *text = json_string_value(json_object_get(object, key));
    return text ? text : "";
}

json_t *pp_standing_newer(int root, const json_t *inputs, struct timespec when)
{
    json_t *newer = json_array();
    size_t index;
    json_t *input;
    json_array_foreach(inputs, index, input)
    {
        const char *path = member(input, "path");
        if (!*path) continue;
        int handle = pp_beneath_open(root, path, O_PATH);
        struct stat now;
        bool there = handle >= 0 && fstat(handle, &now) == 0;
        if (handle >= 0) close(handle);
        if (there && (now.st_mtim.tv_sec < when.tv_sec ||
                      (now.st_mtim.tv_sec == when.tv_sec && now.st_mtim.tv_nsec <= when.tv_nsec)))
            continue;
        json_array_append(newer, json_object_get(input, "file"));
    }
    return newer;
}

static bool hash_of(int handle, char text[2 * SHA256_DIGEST_SIZE + 1])
{
    enum { PIECE = 64 * 1024 };
    unsigned char piece[PIECE];
    struct sha256_ctx state;
    unsigned char digest[SHA256_DIGEST_SIZE];
    ssize_t got;
    sha256_init(&state);
    while ((got = read(handle, piece, sizeof piece)) != 0) {
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) return false;
        sha256_update(&state, (size_t)got, piece);
    }
    sha256_digest(&state, sizeof digest, digest);
    for (size_t i = 0; i < sizeof digest; i++) snprintf(text + 2 * i, 3, "%02x", digest[i]);
    return true;
}

bool pp_standing_hash(int root, const char *path, char text[65])
{
    int handle = pp_beneath_open_file(root, path, NULL);
    if (handle < 0) return false;
    bool whole = hash_of(handle, text);
    close(handle);
    return whole;
}

static const char *state_of(int root, const json_t *input)
{
    char hash[2 * SHA256_DIGEST_SIZE + 1];
    const char *path = member(input, "path");
    if (!*path) return "outside";
    int handle = pp_beneath_open_file(root, path, NULL);
    if (handle < 0) return errno == EXDEV || errno == ELOOP ? "outside" : "gone";
    bool read_whole = hash_of(handle, hash);
    close(handle);
    return read_whole && strcmp(hash, member(input, "sha256")) == 0 ? "same" : "changed";
}

json_t *pp_standing_compare(int root, const json_t *inputs)
{
    json_t *states = json_array();
    size_t index;
    json_t *input;
    json_array_foreach(inputs, index, input)
    {
        json_t *state = json_pack("{s:s, s:s, s:s, s:s}", "role", member(input, "role"), "file",
                                  member(input, "file"), "path", member(input, "path"), "state",
                                  state_of(root, input));
        json_array_append_new(states, state);
    }
    return states;
}

#include "verify/manifest.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "answer/inputs.h"
#include "answer/paths.h"
#include "base/parallel.h"
#include "report/folder/folder.h"
#include "verify/keys.h"
#include "verify/recorded.h"

/* ---- the files of a folder ---- */

static int by_name(const void *left, const void *right)
{
    return strcmp(((const pp_signed_file *)left)->name, ((const pp_signed_file *)right)->name);
}

typedef struct listing {
    const char *folder;
    bool signing;
    pp_arena *arena;
    pp_manifest *manifest;
    pp_error *error;
} listing;

static pp_status list_folder(listing *l, const char *below);

/* What is no plain file cannot be signed; when a signature is checked it counts as added. */
static pp_status note_entry(listing *l, const char *name)
{
    struct stat facts;
    pp_signed_file file = {.name = name, .path = pp_path_join(l->folder, name, l->arena)};
    if (!file.path) return pp_fail_memory(l->error);
    if (lstat(file.path, &facts) != 0)
        return pp_fail_at(l->error, PP_EIO, file.path, 0, 0, "cannot be read (%s)",
                          strerror(errno));
    if (S_ISDIR(facts.st_mode) && strcmp(name, PP_FOLDER_INPUTS) == 0) return list_folder(l, name);
    bool plain = S_ISREG(facts.st_mode) && facts.st_size <= PP_RECORDED_INPUT_MAX;
    if (!plain && l->signing)
        return pp_fail_at(l->error, PP_EINPUT, file.path, 0, 0,
                          "is a folder, a link or a device, or too large, which a signature cannot "
                          "cover; take it out of the report folder");
    if (!plain) file.path = NULL;
    if (strpbrk(name, "\r\n") && l->signing)
        return pp_fail_at(l->error, PP_EINPUT, l->folder, 0, 0,
                          "a file name holds a line break; rename it");
    if (l->manifest->count == PP_MANIFEST_FILES_MAX)
        return pp_fail_at(l->error, PP_EINPUT, l->folder, 0, 0, "holds more than %d files",
                          PP_MANIFEST_FILES_MAX);
    l->manifest->files[l->manifest->count++] = file;
    return PP_OK;
}

/* `below`: the subfolder, "" for the folder itself. */
static pp_status list_folder(listing *l, const char *below)
{
    const char *place = *below ? pp_path_join(l->folder, below, l->arena) : l->folder;
    DIR *entries = place ? opendir(place) : NULL;
    if (!entries)
        return pp_fail_at(l->error, PP_EIO, place ? place : l->folder, 0, 0,
                          "cannot be opened (%s); name a report folder", strerror(errno));
    pp_status status = PP_OK;
    for (struct dirent *entry; status == PP_OK && (entry = readdir(entries));) {
        const char *name = entry->d_name;
        if (strcmp(name, ".") == 0 || strcmp(name, "..") == 0) continue;
        if (!*below && strcmp(name, PP_SIGNATURE_FILE) == 0) continue;
        const char *whole = *below ? pp_path_join(below, name, l->arena)
                                   : pp_arena_text(l->arena, name, strlen(name));
        status = whole ? note_entry(l, whole) : pp_fail_memory(l->error);
    }
    closedir(entries);
    return status;
}

static pp_status hash_file(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    pp_signed_file *file = &((pp_manifest *)context)->files[part];
    if (!file->path) return PP_OK;
    return pp_hash_file(file->path, file->sha256, error);
}

static pp_status take_names(const char *folder, bool signing, pp_arena *arena,
                            pp_manifest *manifest, pp_error *error)
{
    listing l = {folder, signing, arena, manifest, error};
    *manifest = (pp_manifest){0};
    PP_TAKE_ZERO(manifest->files, arena, PP_MANIFEST_FILES_MAX);
    PP_TRY(list_folder(&l, ""));
    if (manifest->count > 1)
        qsort(manifest->files, manifest->count, sizeof *manifest->files, by_name);
    return PP_OK;
}

pp_status pp_manifest_list(const char *folder, pp_arena *arena, pp_manifest *manifest,
                           pp_error *error)
{
    return take_names(folder, false, arena, manifest, error);
}

pp_status pp_manifest_take(const char *folder, bool signing, int threads, pp_arena *arena,
                           pp_manifest *manifest, pp_error *error)
{
    PP_TRY(take_names(folder, signing, arena, manifest, error));
    return pp_parallel(threads, manifest->count, hash_file, manifest, error);
}

/* ---- the text that is signed ---- */

static const struct {
    const char *key; /* in signature.json and in the text */
    size_t place;
} FACTS[] = {
    {"name", offsetof(pp_signature_entry, name)},
    {"role", offsetof(pp_signature_entry, role)},
    {"time", offsetof(pp_signature_entry, time)},
    {"plate", offsetof(pp_signature_entry, plate)},
    {"report", offsetof(pp_signature_entry, report)},
    {"revision", offsetof(pp_signature_entry, revision)},
    {"verdict", offsetof(pp_signature_entry, verdict)},
    {"recomputed", offsetof(pp_signature_entry, recomputed)},
};
enum { FACT_COUNT = sizeof FACTS / sizeof FACTS[0] };

static const char **fact(pp_signature_entry *entry, int i)
{
    return (const char **)(void *)((char *)entry + FACTS[i].place);
}

static const char *fact_of(const pp_signature_entry *entry, int i)
{
    return *(const char *const *)(const void *)((const char *)entry + FACTS[i].place);
}

void pp_manifest_text(pp_text *text, const pp_manifest *manifest, const pp_signature_entry *entries,
                      size_t which)
{
    const pp_signature_entry *entry = &entries[which];
    pp_text_print(text, "plateproof-signature %d\nalgorithm Ed25519\n", entry->version);
    for (int i = 0; i < FACT_COUNT; i++)
        if (fact_of(entry, i)) pp_text_print(text, "%s %s\n", FACTS[i].key, fact_of(entry, i));
    for (size_t i = 0; i < which; i++) pp_text_print(text, "after %s\n", entries[i].signature);
    for (size_t i = 0; i < manifest->count; i++)
        pp_text_print(text, "%s  %s\n", manifest->files[i].sha256, manifest->files[i].name);
}

/* ---- signature.json ---- */

static bool put_text(json_t *object, const char *key, const char *text)
{
    return json_object_set_new(object, key, json_string(text)) == 0;
}

static json_t *files_json(const pp_manifest *manifest)
{
    json_t *files = json_array();
    for (size_t i = 0; i < manifest->count; i++)
        if (json_array_append_new(files, json_pack("{s:s, s:s}", "file", manifest->files[i].name,
                                                   "sha256", manifest->files[i].sha256)) != 0) {
            json_decref(files);
            return NULL;
        }
    return files;
}

static bool put_entry(json_t *object, const pp_signature_entry *entry)
{
    for (int i = 0; i < FACT_COUNT; i++)
        if (fact_of(entry, i) && !put_text(object, FACTS[i].key, fact_of(entry, i))) return false;
    return put_text(object, "public_key", entry->public_key);
}

static bool put_signatures(json_t *root, const pp_signature_entry *entries, size_t count)
{
    json_t *list = json_array();
    if (json_object_set_new(root, "signatures", list) != 0) return false;
    for (size_t i = 0; i < count; i++) {
        json_t *object = json_object();
        if (json_array_append_new(list, object) != 0 || !put_entry(object, &entries[i]) ||
            !put_text(object, "signature", entries[i].signature))
            return false;
    }
    return true;
}

char *pp_manifest_json(const pp_manifest *manifest, const pp_signature_entry *entries, size_t count)
{
    int version = entries[0].version;
    json_t *root = json_pack("{s:s, s:i, s:s}", "format", "plateproof-signature", "version",
                             version, "algorithm", "Ed25519");
    bool good = root && (version > 1 || put_entry(root, &entries[0]));
    good = good && json_object_set_new(root, "files", files_json(manifest)) == 0;
    if (good && version == 1) good = put_text(root, "signature", entries[0].signature);
    if (good && version > 1) good = put_signatures(root, entries, count);
    char *text = good ? json_dumps(root, JSON_INDENT(2)) : NULL;
    json_decref(root);
    return text;
}

static const char *keep_text(const json_t *root, const char *key, pp_arena *arena)
{
    const char *text = json_string_value(json_object_get(root, key));
    return text ? pp_arena_text(arena, text, strlen(text)) : NULL;
}

/* A fact is one line of the signed text: no control characters, or it could forge another. */
static bool read_entry(const json_t *object, int version, pp_arena *arena,
                       pp_signature_entry *entry)
{
    *entry = (pp_signature_entry){.version = version};
    for (int i = 0; i < FACT_COUNT; i++) {
        const char *text = keep_text(object, FACTS[i].key, arena);
        if (text && !pp_signer_is_valid(text)) return false;
        if (version == 1 && i > 0 && text) return false; /* it would not be covered */
        *fact(entry, i) = text;
    }
    entry->public_key = keep_text(object, "public_key", arena);
    entry->signature = keep_text(object, "signature", arena);
    return entry->name && entry->public_key && entry->signature &&
           !strpbrk(entry->signature, "\r\n");
}

static bool read_files(const json_t *files, pp_arena *arena, pp_manifest *manifest)
{
    size_t count = json_array_size(files);
    if (!json_is_array(files) || count > PP_MANIFEST_FILES_MAX) return false;
    *manifest = (pp_manifest){.files = pp_arena_take(arena, count, sizeof *manifest->files)};
    if (!manifest->files) return false;
    for (size_t i = 0; i < count; i++) {
        pp_signed_file *file = &manifest->files[manifest->count++];
        const json_t *entry = json_array_get(files, i);
        const char *sha256 = json_string_value(json_object_get(entry, "sha256"));
        file->name = keep_text(entry, "file", arena);
        if (!file->name || !sha256 || strlen(sha256) != 64 || strpbrk(file->name, "\r\n"))
            return false;
        memcpy(file->sha256, sha256, sizeof file->sha256);
        if (i && strcmp(manifest->files[i - 1].name, file->name) >= 0) return false;
    }
    return true;
}

bool pp_manifest_read(const json_t *root, pp_arena *arena, pp_manifest *manifest,
                      pp_signature_entry entries[PP_SIGNATURES_MAX], size_t *count)
{
    const char *format = json_string_value(json_object_get(root, "format"));
    const char *algorithm = json_string_value(json_object_get(root, "algorithm"));
    int version = (int)json_integer_value(json_object_get(root, "version"));
    const json_t *list = json_object_get(root, "signatures");
    *count = version == 1 ? 1 : json_array_size(list);
    if (!format || strcmp(format, "plateproof-signature") != 0 || !algorithm ||
        strcmp(algorithm, "Ed25519") != 0 || version < 1 || version > 2 || *count < 1 ||
        *count > PP_SIGNATURES_MAX)
        return false;
    for (size_t i = 0; i < *count; i++) {
        const json_t *object = version == 1 ? root : json_array_get(list, i);
        if (!read_entry(object, version, arena, &entries[i])) return false;
    }
    return read_files(json_object_get(root, "files"), arena, manifest);
}

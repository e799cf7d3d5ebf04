#include "verify/sign.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <jansson.h>

#include "answer/inputs.h"
#include "answer/paths.h"
#include "base/parallel.h"
#include "base/text.h"
#include "verify/keys.h"

enum {
    SIGNATURE_TEXT_MAX =
        sodium_base64_ENCODED_LEN(crypto_sign_BYTES, sodium_base64_VARIANT_ORIGINAL),
    FILES_MAX = 10000
};

static const char SIGNATURE_FILE[] = "signature.json";
static const char SIGNATURE_DRAFT[] = ".signature.json.new";

/* ---- the files of a folder ---- */

typedef struct signed_file {
    const char *name, *path;
    char sha256[65];
} signed_file;

typedef struct file_list {
    size_t count;
    signed_file *files; /* sorted by name */
} file_list;

static int by_name(const void *left, const void *right)
{
    return strcmp(((const signed_file *)left)->name, ((const signed_file *)right)->name);
}

/* What is no plain file cannot be signed; when a signature is checked it counts as added. */
static pp_status note_entry(const char *folder, const char *name, bool signing, pp_arena *arena,
                            file_list *list, pp_error *error)
{
    struct stat facts;
    signed_file file = {.name = pp_arena_text(arena, name, strlen(name)),
                        .path = pp_path_join(folder, name, arena)};
    if (!file.name || !file.path) return pp_fail_memory(error);
    if (lstat(file.path, &facts) != 0)
        return pp_fail_at(error, PP_EIO, file.path, 0, 0, "cannot be read (%s)", strerror(errno));
    bool plain = S_ISREG(facts.st_mode);
    if (!plain && signing)
        return pp_fail_at(
            error, PP_EINPUT, file.path, 0, 0,
            "is a folder, a link or a device, which a signature cannot cover; take it "
            "out of the report folder");
    if (!plain) file.path = NULL;
    if (strpbrk(name, "\r\n") && signing)
        return pp_fail_at(error, PP_EINPUT, folder, 0, 0,
                          "a file name holds a line break; rename it");
    if (list->count == FILES_MAX)
        return pp_fail_at(error, PP_EINPUT, folder, 0, 0, "holds more than %d files", FILES_MAX);
    list->files[list->count++] = file;
    return PP_OK;
}

static pp_status list_entries(DIR *entries, const char *folder, bool signing, pp_arena *arena,
                              file_list *list, pp_error *error)
{
    for (struct dirent *entry; (entry = readdir(entries));) {
        const char *name = entry->d_name;
        if (strcmp(name, ".") == 0 || strcmp(name, "..") == 0 || strcmp(name, SIGNATURE_FILE) == 0)
            continue;
        PP_TRY(note_entry(folder, name, signing, arena, list, error));
    }
    return PP_OK;
}

static pp_status hash_file(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    signed_file *file = &((file_list *)context)->files[part];
    if (!file->path) return PP_OK;
    return pp_hash_file(file->path, file->sha256, error);
}

/* Every file of the folder but the signature, sorted and hashed. */
static pp_status list_files(const char *folder, bool signing, int threads, pp_arena *arena,
                            file_list *list, pp_error *error)
{
    DIR *entries = opendir(folder);
    if (!entries)
        return pp_fail_at(error, PP_EIO, folder, 0, 0,
                          "cannot be opened (%s); name a report folder", strerror(errno));
    *list = (file_list){0};
    list->files = pp_arena_take(arena, FILES_MAX, sizeof *list->files);
    pp_status status = list->files ? list_entries(entries, folder, signing, arena, list, error)
                                   : pp_fail_memory(error);
    closedir(entries);
    PP_TRY(status);
    if (list->count > 1) qsort(list->files, list->count, sizeof *list->files, by_name);
    return pp_parallel(threads, list->count, hash_file, list, error);
}

static void add_manifest(pp_text *text, const char *signer, const file_list *list)
{
    pp_text_print(text, "plateproof-signature 1\nalgorithm Ed25519\nname %s\n", signer);
    for (size_t i = 0; i < list->count; i++)
        pp_text_print(text, "%s  %s\n", list->files[i].sha256, list->files[i].name);
}

/* ---- signing ---- */

/* signature.json as we write it, to be freed; NULL when memory ran out. */
static char *signature_json(const char *signer, const file_list *list, const char *public_text,
                            const char *signature_text)
{
    json_t *files = json_array();
    for (size_t i = 0; i < list->count; i++)
        if (json_array_append_new(files, json_pack("{s:s, s:s}", "file", list->files[i].name,
                                                   "sha256", list->files[i].sha256)) != 0) {
            json_decref(files);
            return NULL;
        }
    json_t *root =
        json_pack("{s:s, s:i, s:s, s:s, s:s, s:o, s:s}", "format", "plateproof-signature",
                  "version", 1, "algorithm", "Ed25519", "name", signer, "public_key", public_text,
                  "files", files, "signature", signature_text);
    char *text = root ? json_dumps(root, JSON_INDENT(2)) : NULL;
    json_decref(root);
    return text;
}

static pp_status write_signature(const char *folder, const char *text, pp_arena *arena,
                                 pp_error *error)
{
    char *draft = pp_path_join(folder, SIGNATURE_DRAFT, arena);
    char *place = pp_path_join(folder, SIGNATURE_FILE, arena);
    if (!draft || !place) return pp_fail_memory(error);
    int file = open(draft, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    size_t length = strlen(text);
    bool good = file >= 0 && write(file, text, length) == (ssize_t)length && fsync(file) == 0;
    if (file >= 0 && close(file) != 0) good = false;
    good = good && rename(draft, place) == 0;
    if (good) return PP_OK;
    int why = errno;
    if (file >= 0) unlink(draft);
    return pp_fail_at(error, PP_EIO, place, 0, 0,
                      "cannot be written (%s); check the folder and its free space", strerror(why));
}

static pp_status sign_list(const char *folder, const pp_secret_key *key, const file_list *list,
                           pp_arena *arena, pp_error *error)
{
    unsigned char signature[crypto_sign_BYTES], public_bytes[crypto_sign_PUBLICKEYBYTES];
    char signature_text[SIGNATURE_TEXT_MAX], public_text[PP_PUBLIC_KEY_MAX];
    pp_text manifest = {0};
    add_manifest(&manifest, key->signer, list);
    if (manifest.failed) {
        pp_text_free(&manifest);
        return pp_fail_memory(error);
    }
    crypto_sign_detached(signature, NULL, (const unsigned char *)manifest.data, manifest.length,
                         key->bytes);
    pp_text_free(&manifest);
    crypto_sign_ed25519_sk_to_pk(public_bytes, key->bytes);
    sodium_bin2base64(signature_text, sizeof signature_text, signature, sizeof signature,
                      sodium_base64_VARIANT_ORIGINAL);
    sodium_bin2base64(public_text, sizeof public_text, public_bytes, sizeof public_bytes,
                      sodium_base64_VARIANT_ORIGINAL);
    char *text = signature_json(key->signer, list, public_text, signature_text);
    pp_status status = text ? write_signature(folder, text, arena, error) : pp_fail_memory(error);
    free(text);
    return status;
}

static pp_status check_unsigned_report(const char *folder, pp_arena *arena, pp_error *error)
{
    char *signature = pp_path_join(folder, SIGNATURE_FILE, arena);
    char *results = pp_path_join(folder, "results.json", arena);
    if (!signature || !results) return pp_fail_memory(error);
    if (access(folder, F_OK) != 0)
        return pp_fail_at(error, PP_EIO, folder, 0, 0,
                          "cannot be opened (%s); name a report folder", strerror(errno));
    if (access(results, F_OK) != 0)
        return pp_fail_at(error, PP_EINPUT, folder, 0, 0,
                          "holds no results.json; name a report folder of plateproof");
    if (access(signature, F_OK) == 0)
        return pp_fail_at(error, PP_EINPUT, folder, 0, 0,
                          "is signed already; check it with plateproof verify, or remove "
                          "signature.json to sign anew");
    return PP_OK;
}

pp_status pp_sign_folder(const char *folder, const char *key_path, int threads, pp_memory *memory,
                         char signer[PP_SIGNER_MAX + 1], pp_error *error)
{
    file_list list;
    pp_secret_key key;
    PP_TRY(check_unsigned_report(folder, &memory->keep, error));
    PP_TRY(list_files(folder, true, threads, &memory->keep, &list, error));
    PP_TRY(pp_secret_key_read(key_path, &key, error));
    pp_status status = sign_list(folder, &key, &list, &memory->keep, error);
    sodium_memzero(key.bytes, sizeof key.bytes);
    if (status == PP_OK) memcpy(signer, key.signer, sizeof key.signer);
    return status;
}

/* ---- checking ---- */

static const char *keep_text(const json_t *root, const char *key, pp_arena *arena)
{
    const char *text = json_string_value(json_object_get(root, key));
    return text ? pp_arena_text(arena, text, strlen(text)) : NULL;
}

/* The files as the signature lists them; false when it is not in the form we write. */
static bool read_listed(const json_t *root, pp_arena *arena, file_list *listed)
{
    const json_t *files = json_object_get(root, "files");
    size_t count = json_array_size(files);
    if (!json_is_array(files) || count > FILES_MAX) return false;
    *listed = (file_list){.files = pp_arena_take(arena, count, sizeof *listed->files)};
    if (!listed->files) return false;
    for (size_t i = 0; i < count; i++) {
        signed_file *file = &listed->files[listed->count++];
        const json_t *entry = json_array_get(files, i);
        const char *sha256 = json_string_value(json_object_get(entry, "sha256"));
        file->name = keep_text(entry, "file", arena);
        if (!file->name || !sha256 || strlen(sha256) != 64 || strpbrk(file->name, "\r\n"))
            return false;
        memcpy(file->sha256, sha256, sizeof file->sha256);
        if (i && strcmp(listed->files[i - 1].name, file->name) >= 0) return false;
    }
    return true;
}

static bool signature_matches(const json_t *root, const char *signer, const char *public_text,
                              const file_list *listed)
{
    unsigned char signature[crypto_sign_BYTES], public_bytes[crypto_sign_PUBLICKEYBYTES];
    size_t signature_length = 0, public_length = 0;
    const char *text = json_string_value(json_object_get(root, "signature"));
    if (!text || sodium_base642bin(signature, sizeof signature, text, strlen(text), NULL,
                                   &signature_length, NULL, sodium_base64_VARIANT_ORIGINAL) != 0)
        return false;
    if (sodium_base642bin(public_bytes, sizeof public_bytes, public_text, strlen(public_text), NULL,
                          &public_length, NULL, sodium_base64_VARIANT_ORIGINAL) != 0)
        return false;
    if (signature_length != sizeof signature || public_length != sizeof public_bytes) return false;
    pp_text manifest = {0};
    add_manifest(&manifest, signer, listed);
    bool matches = !manifest.failed &&
                   crypto_sign_verify_detached(signature, (const unsigned char *)manifest.data,
                                               manifest.length, public_bytes) == 0;
    pp_text_free(&manifest);
    return matches;
}

/* Compare two sorted lists name by name. */
static pp_status find_faults(const file_list *listed, const file_list *found, pp_arena *arena,
                             pp_signature *signature, pp_error *error)
{
    pp_signature_fault *faults;
    size_t count = 0, i = 0, k = 0;
    PP_TAKE(faults, arena, listed->count + found->count);
    while (i < listed->count || k < found->count) {
        int order = i == listed->count  ? 1
                    : k == found->count ? -1
                                        : strcmp(listed->files[i].name, found->files[k].name);
        if (order < 0) {
            faults[count++] = (pp_signature_fault){PP_FILE_MISSING, listed->files[i++].name};
        } else if (order > 0) {
            faults[count++] = (pp_signature_fault){PP_FILE_ADDED, found->files[k++].name};
        } else {
            if (strcmp(listed->files[i].sha256, found->files[k].sha256) != 0)
                faults[count++] = (pp_signature_fault){PP_FILE_CHANGED, listed->files[i].name};
            i++, k++;
        }
    }
    signature->faults = faults;
    signature->fault_count = count;
    return PP_OK;
}

/* Is the file byte for byte what we would have written? A signed folder has no byte to spare. */
static bool is_as_written(const json_t *root, const char *path, const file_list *listed,
                          const pp_signature *signature)
{
    char *text = signature_json(signature->signer, listed, signature->public_key,
                                json_string_value(json_object_get(root, "signature")));
    char ours[65], theirs[65];
    bool same = text != NULL && pp_hash_file(path, theirs, NULL) == PP_OK;
    if (same) {
        pp_hash_bytes(text, strlen(text), ours);
        same = strcmp(ours, theirs) == 0;
    }
    free(text);
    return same;
}

/* Sets sound, or why_not. */
static void judge(const json_t *root, const char *path, pp_arena *arena, file_list *listed,
                  pp_signature *signature)
{
    const char *format = json_string_value(json_object_get(root, "format"));
    const char *algorithm = json_string_value(json_object_get(root, "algorithm"));
    signature->signer = keep_text(root, "name", arena);
    signature->public_key = keep_text(root, "public_key", arena);
    bool known = format && strcmp(format, "plateproof-signature") == 0 &&
                 json_integer_value(json_object_get(root, "version")) == 1 && algorithm &&
                 strcmp(algorithm, "Ed25519") == 0;
    if (!known || !signature->signer || !signature->public_key ||
        !pp_signer_is_valid(signature->signer) || !read_listed(root, arena, listed)) {
        signature->why_not = "signature.json is damaged or of another kind";
        listed->count = 0;
        return;
    }
    signature->files = listed->count;
    signature->sound = signature_matches(root, signature->signer, signature->public_key, listed);
    if (!signature->sound) {
        signature->why_not = "the signature does not belong to this list of files, name and key";
    } else if (!is_as_written(root, path, listed, signature)) {
        signature->sound = false;
        signature->why_not = "signature.json was changed after signing";
    }
}

pp_status pp_signature_check(const char *folder, int threads, pp_memory *memory,
                             pp_signature *signature, pp_error *error)
{
    pp_arena *arena = &memory->keep;
    pp_signature result = {0};
    file_list listed = {0}, found;
    json_error_t where;
    char *path = pp_path_join(folder, SIGNATURE_FILE, arena);
    if (!path) return pp_fail_memory(error);
    if (sodium_init() < 0) return pp_fail(error, PP_EIO, "the cryptographic library cannot start");
    result.present = access(path, F_OK) == 0;
    if (!result.present) {
        *signature = result;
        return PP_OK;
    }
    json_t *root = json_load_file(path, JSON_REJECT_DUPLICATES, &where);
    judge(root, path, arena, &listed, &result);
    json_decref(root);
    pp_status status = PP_OK;
    if (result.sound) {
        status = list_files(folder, false, threads, arena, &found, error);
        if (status == PP_OK) status = find_faults(&listed, &found, arena, &result, error);
    }
    if (status == PP_OK) *signature = result;
    return status;
}

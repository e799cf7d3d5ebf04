#include "verify/sign.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "answer/inputs.h"
#include "answer/paths.h"
#include "verify/keys.h"
#include "verify/manifest.h"
#include "verify/recorded.h"

enum {
    SIGNATURE_TEXT_MAX =
        sodium_base64_ENCODED_LEN(crypto_sign_BYTES, sodium_base64_VARIANT_ORIGINAL)
};

static const char SIGNATURE_DRAFT[] = ".signature.json.new";
#define SIGNATURE_BYTES_MAX ((long long)16 << 20)

/* ---- signing ---- */

static pp_status write_signature(const char *folder, const char *text, pp_arena *arena,
                                 pp_error *error)
{
    char *draft = pp_path_join(folder, SIGNATURE_DRAFT, arena);
    char *place = pp_path_join(folder, PP_SIGNATURE_FILE, arena);
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

static pp_status seal(const pp_secret_key *key, const pp_manifest *manifest,
                      pp_signature_entry *entries, size_t which,
                      char signature_text[SIGNATURE_TEXT_MAX], pp_error *error)
{
    unsigned char signature[crypto_sign_BYTES];
    pp_text text = {0};
    pp_manifest_text(&text, manifest, entries, which);
    if (text.failed) {
        pp_text_free(&text);
        return pp_fail_memory(error);
    }
    crypto_sign_detached(signature, NULL, (const unsigned char *)text.data, text.length,
                         key->bytes);
    pp_text_free(&text);
    sodium_bin2base64(signature_text, SIGNATURE_TEXT_MAX, signature, sizeof signature,
                      sodium_base64_VARIANT_ORIGINAL);
    entries[which].signature = signature_text;
    return PP_OK;
}

/* A text of the report as one line of what is signed; what does not fit one is left out. */
static const char *line_of(const char *text)
{
    return text && *text && pp_signer_is_valid(text) ? text : NULL;
}

static pp_status sign_with(const char *folder, const pp_signing *signing, const pp_secret_key *key,
                           const pp_manifest *manifest, pp_signature_entry *entries, size_t count,
                           pp_arena *arena, pp_error *error)
{
    unsigned char public_bytes[crypto_sign_PUBLICKEYBYTES];
    char signature_text[SIGNATURE_TEXT_MAX], public_text[PP_PUBLIC_KEY_MAX], now[32] = "";
    time_t when = time(NULL);
    struct tm parts;
    if (gmtime_r(&when, &parts)) strftime(now, sizeof now, "%Y-%m-%dT%H:%M:%SZ", &parts);
    crypto_sign_ed25519_sk_to_pk(public_bytes, key->bytes);
    sodium_bin2base64(public_text, sizeof public_text, public_bytes, sizeof public_bytes,
                      sodium_base64_VARIANT_ORIGINAL);
    for (size_t i = 0; i < count; i++)
        if (strcmp(entries[i].public_key, public_text) == 0)
            return pp_fail_at(error, PP_EINPUT, folder, 0, 0,
                              "is signed with this key already; another signer needs another key");
    entries[count] = (pp_signature_entry){.version = 2,
                                          .name = key->signer,
                                          .role = line_of(signing->role),
                                          .time = now,
                                          .plate = line_of(signing->plate),
                                          .report = line_of(signing->report),
                                          .revision = line_of(signing->revision),
                                          .verdict = line_of(signing->verdict),
                                          .recomputed = signing->recomputed ? "yes" : "no",
                                          .public_key = public_text};
    PP_TRY(seal(key, manifest, entries, count, signature_text, error));
    char *text = pp_manifest_json(manifest, entries, count + 1);
    pp_status status = text ? write_signature(folder, text, arena, error) : pp_fail_memory(error);
    free(text);
    return status;
}

static pp_status check_report(const char *folder, pp_arena *arena, pp_error *error)
{
    char *results = pp_path_join(folder, "results.json", arena);
    if (!results) return pp_fail_memory(error);
    if (access(folder, F_OK) != 0)
        return pp_fail_at(error, PP_EIO, folder, 0, 0,
                          "cannot be opened (%s); name a report folder", strerror(errno));
    if (!pp_recorded_is_fit(results, PP_RECORDED_RESULTS_MAX))
        return pp_fail_at(error, PP_EINPUT, folder, 0, 0,
                          "holds no results.json; name a report folder of plateproof");
    return PP_OK;
}

/* A private key in the folder would be given away with it. */
static pp_status check_key_place(const char *folder, const char *key_path, pp_error *error)
{
    char real_folder[PATH_MAX], real_key[PATH_MAX];
    if (!realpath(folder, real_folder) || !realpath(key_path, real_key)) return PP_OK;
    size_t length = strlen(real_folder);
    if (strncmp(real_key, real_folder, length) != 0 || real_key[length] != '/') return PP_OK;
    return pp_fail_at(
        error, PP_EINPUT, key_path, 0, 0,
        "a private key lies in the folder that it is to sign, and would be given away "
        "with it; move it elsewhere");
}

/* The signatures that are there, which must hold: a new one is put under them. */
static pp_status read_earlier(const char *folder, const pp_signing *signing, pp_memory *memory,
                              pp_signature_entry *entries, size_t *count, pp_error *error)
{
    pp_signature found;
    *count = 0;
    PP_TRY(pp_signature_check(folder, NULL, NULL, signing->threads, memory, &found, error));
    if (!found.present) return PP_OK;
    if (!found.sound || found.fault_count)
        return pp_fail_at(error, PP_EINPUT, folder, 0, 0,
                          "has a signature that no longer holds; see plateproof verify, or remove "
                          "signature.json to sign anew");
    bool there;
    pp_manifest listed;
    const char *path = pp_path_join(folder, PP_SIGNATURE_FILE, &memory->keep);
    json_t *root = path ? pp_recorded_json(path, SIGNATURE_BYTES_MAX, &there, NULL) : NULL;
    bool read = pp_manifest_read(root, &memory->keep, &listed, entries, count);
    json_decref(root);
    if (!read || entries[0].version == 1 || *count == PP_SIGNATURES_MAX)
        return pp_fail_at(error, PP_EINPUT, folder, 0, 0,
                          "has a signature of plateproof 0.1.0, which no other can be put under; "
                          "remove signature.json to sign anew");
    return PP_OK;
}

pp_status pp_sign_folder(const char *folder, const pp_signing *signing, pp_memory *memory,
                         char signer[PP_SIGNER_MAX + 1], pp_error *error)
{
    pp_manifest manifest;
    pp_secret_key key;
    pp_signature_entry *entries;
    size_t count;
    PP_TAKE_ZERO(entries, &memory->keep, PP_SIGNATURES_MAX + 1);
    PP_TRY(check_report(folder, &memory->keep, error));
    PP_TRY(check_key_place(folder, signing->key_path, error));
    PP_TRY(read_earlier(folder, signing, memory, entries, &count, error));
    PP_TRY(pp_manifest_take(folder, true, signing->threads, &memory->keep, &manifest, error));
    PP_TRY(pp_secret_key_read(signing->key_path, signing->passphrase, &key, error));
    pp_status status =
        sign_with(folder, signing, &key, &manifest, entries, count, &memory->keep, error);
    sodium_memzero(key.bytes, sizeof key.bytes);
    if (status == PP_OK) memcpy(signer, key.signer, sizeof key.signer);
    return status;
}

/* ---- checking ---- */

static bool signature_matches(const pp_manifest *manifest, const pp_signature_entry *entries,
                              size_t which)
{
    const pp_signature_entry *entry = &entries[which];
    unsigned char signature[crypto_sign_BYTES], public_bytes[crypto_sign_PUBLICKEYBYTES];
    size_t signature_length = 0, public_length = 0;
    if (sodium_base642bin(signature, sizeof signature, entry->signature, strlen(entry->signature),
                          NULL, &signature_length, NULL, sodium_base64_VARIANT_ORIGINAL) != 0 ||
        sodium_base642bin(public_bytes, sizeof public_bytes, entry->public_key,
                          strlen(entry->public_key), NULL, &public_length, NULL,
                          sodium_base64_VARIANT_ORIGINAL) != 0)
        return false;
    if (signature_length != sizeof signature || public_length != sizeof public_bytes) return false;
    pp_text text = {0};
    pp_manifest_text(&text, manifest, entries, which);
    bool matches =
        !text.failed && crypto_sign_verify_detached(signature, (const unsigned char *)text.data,
                                                    text.length, public_bytes) == 0;
    pp_text_free(&text);
    return matches;
}

/* Compare two sorted lists name by name. */
static pp_status find_faults(const pp_manifest *listed, const pp_manifest *found, pp_arena *arena,
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
static bool is_as_written(const char *path, const pp_manifest *listed,
                          const pp_signature_entry *entries, size_t count)
{
    char *text = pp_manifest_json(listed, entries, count);
    char ours[65], theirs[65];
    bool same = text != NULL && pp_hash_file(path, theirs, NULL) == PP_OK;
    if (same) {
        pp_hash_bytes(text, strlen(text), ours);
        same = strcmp(ours, theirs) == 0;
    }
    free(text);
    return same;
}

static bool is_in(const pp_key_list *list, const char *key)
{
    for (size_t i = 0; list && i < list->count; i++)
        if (strcmp(list->keys[i], key) == 0) return true;
    return false;
}

typedef struct checking {
    const char *path; /* of signature.json */
    const pp_key_list *trusted, *revoked;
    pp_arena *arena;
    pp_manifest listed;
    pp_signature_entry *entries;
    size_t count;
    pp_signature found;
} checking;

/* Sets sound, or why_not. */
static void judge(checking *c)
{
    for (size_t i = 0; i < c->count && !c->found.why_not; i++)
        if (!signature_matches(&c->listed, c->entries, i))
            c->found.why_not = "the signature does not belong to this list of files, name and key";
    if (!c->found.why_not && !is_as_written(c->path, &c->listed, c->entries, c->count))
        c->found.why_not = "signature.json was changed after signing";
    c->found.sound = !c->found.why_not;
    c->found.files = c->listed.count;
}

static pp_status list_signers(checking *c, pp_error *error)
{
    pp_signer *signers;
    PP_TAKE_ZERO(signers, c->arena, c->count);
    for (size_t i = 0; i < c->count; i++) {
        const pp_signature_entry *e = &c->entries[i];
        signers[i] = (pp_signer){.name = e->name,
                                 .role = e->role,
                                 .time = e->time,
                                 .plate = e->plate,
                                 .report = e->report,
                                 .revision = e->revision,
                                 .verdict = e->verdict,
                                 .public_key = e->public_key,
                                 .as_is = e->version > 1 &&
                                          !(e->recomputed && strcmp(e->recomputed, "yes") == 0),
                                 .revoked = is_in(c->revoked, e->public_key),
                                 .trusted = is_in(c->trusted, e->public_key)};
    }
    c->found.signers = signers;
    c->found.signer_count = c->count;
    return PP_OK;
}

static pp_status examine(checking *c, const char *folder, int threads, const json_t *root,
                         pp_error *error)
{
    pp_manifest here;
    if (!pp_manifest_read(root, c->arena, &c->listed, c->entries, &c->count)) {
        c->found.why_not = "signature.json is damaged or of another kind";
        return PP_OK;
    }
    judge(c);
    PP_TRY(list_signers(c, error));
    if (!c->found.sound) return PP_OK;
    PP_TRY(pp_manifest_take(folder, false, threads, c->arena, &here, error));
    return find_faults(&c->listed, &here, c->arena, &c->found, error);
}

pp_status pp_signature_check(const char *folder, const pp_key_list *trusted,
                             const pp_key_list *revoked, int threads, pp_memory *memory,
                             pp_signature *signature, pp_error *error)
{
    checking c = {.trusted = trusted, .revoked = revoked, .arena = &memory->keep};
    c.path = pp_path_join(folder, PP_SIGNATURE_FILE, c.arena);
    if (!c.path) return pp_fail_memory(error);
    PP_TAKE_ZERO(c.entries, c.arena, PP_SIGNATURES_MAX);
    if (sodium_init() < 0) return pp_fail(error, PP_EIO, "the cryptographic library cannot start");
    json_t *root = pp_recorded_json(c.path, SIGNATURE_BYTES_MAX, &c.found.present, NULL);
    pp_status status = PP_OK;
    if (c.found.present) status = examine(&c, folder, threads, root, error);
    json_decref(root);
    if (status == PP_OK) *signature = c.found;
    return status;
}

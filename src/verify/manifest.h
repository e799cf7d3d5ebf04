/* What a signature covers: every file of a report folder but signature.json itself, those in its
 * subfolder of packed inputs included, with their SHA-256. Internal to signing. */
#ifndef PP_VERIFY_MANIFEST_H
#define PP_VERIFY_MANIFEST_H

#include <jansson.h>

#include "base/memory.h"
#include "base/text.h"
#include "verify/sign.h"

#define PP_SIGNATURE_FILE "signature.json"

enum { PP_MANIFEST_FILES_MAX = 10000, PP_SIGNATURES_MAX = 100 };

typedef struct pp_signed_file {
    const char *name; /* "holes.csv", "inputs/001-survey.csv" */
    const char *path; /* NULL: no plain file (a link, a device), or larger than may be */
    char sha256[65];
} pp_signed_file;

typedef struct pp_manifest {
    size_t count;
    pp_signed_file *files; /* sorted by the bytes of their names */
} pp_manifest;

/* One signature as it stands in signature.json. Texts NULL where absent (version 1 has only name,
 * public_key and signature). */
typedef struct pp_signature_entry {
    int version; /* 1 or 2: of the text that is signed */
    const char *name, *role, *time, *plate, *report, *revision, *verdict, *recomputed;
    const char *public_key, *signature; /* base64 */
} pp_signature_entry;

/* List and hash the folder. `signing`: what cannot be signed is an error; else it is listed without
 * a path. errors: PP_EINPUT: what cannot be signed, or too many files; PP_EIO: the folder or a file
 * cannot be read; PP_ENOMEM */
pp_status pp_manifest_take(const char *folder, bool signing, int threads, pp_arena *arena,
                           pp_manifest *manifest, pp_error *error);

/* The same without hashing: the names only, also of what is no plain file.
 * errors   PP_EINPUT: too many files; PP_EIO: the folder cannot be read; PP_ENOMEM */
pp_status pp_manifest_list(const char *folder, pp_arena *arena, pp_manifest *manifest,
                           pp_error *error);

/* The text that entry `which` signs: its own facts, the signatures before it, and the files. */
void pp_manifest_text(pp_text *text, const pp_manifest *manifest, const pp_signature_entry *entries,
                      size_t which);

/* signature.json as we write it, to be freed with free; NULL when memory ran out. All entries are
 * of one version. */
char *pp_manifest_json(const pp_manifest *manifest, const pp_signature_entry *entries,
                       size_t count);

/* Back from JSON; false when it is not in the form we write. */
bool pp_manifest_read(const json_t *root, pp_arena *arena, pp_manifest *manifest,
                      pp_signature_entry entries[PP_SIGNATURES_MAX], size_t *count);

#endif

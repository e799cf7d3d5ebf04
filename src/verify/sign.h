/* Signatures of report folders: Ed25519 (RFC 8032, by libsodium) over a manifest of every file.
 *
 * A key pair is two small text files: NAME.key (private, readable by its owner only, never printed)
 * and NAME.pub, which is given away. `signature.json` in the folder holds the signer's name and
 * public key, the SHA-256 of every other file, and the signature. What is signed is the text
 *
 *     plateproof-signature 1
 *     algorithm Ed25519
 *     name NAME
 *     SHA256  FILE            (one line a file, sorted by the bytes of its name)
 *
 * A signature says who signed these bytes only to one who knows the public key from elsewhere.
 */
#ifndef PP_VERIFY_SIGN_H
#define PP_VERIFY_SIGN_H

#include <stdbool.h>

#include "base/memory.h"

enum {
    PP_SIGNER_MAX = 100,   /* bytes of a signer's name */
    PP_PUBLIC_KEY_MAX = 48 /* a public key as base64, with a zero */
};

/* Make a new key pair: `path`.key (0600) and `path`.pub. The signer's name is the last part of the
 * path. Refuses to overwrite either. errors: PP_EINPUT, PP_EIO */
pp_status pp_keys_make(const char *path, char public_key[PP_PUBLIC_KEY_MAX], pp_error *error);

/* Sign every file of the folder with the private key in `key_path`.
 * errors  PP_EINPUT  it is signed already, is no report, has subfolders or links in it; the key is
 *                    damaged, or readable by others
 *         PP_EIO */
pp_status pp_sign_folder(const char *folder, const char *key_path, int threads, pp_memory *memory,
                         char signer[PP_SIGNER_MAX + 1], pp_error *error);

typedef enum pp_signature_fault_kind {
    PP_FILE_CHANGED,
    PP_FILE_MISSING,
    PP_FILE_ADDED
} pp_signature_fault_kind;

typedef struct pp_signature_fault {
    pp_signature_fault_kind kind;
    const char *file;
} pp_signature_fault;

typedef struct pp_signature {
    bool present;
    bool sound;             /* the manifest is what the key signed; says nothing of the files yet */
    const char *why_not;    /* when it is not sound */
    const char *signer;     /* NULL when it cannot be read */
    const char *public_key; /* base64 */
    size_t files;           /* signed */
    size_t fault_count;     /* 0 and sound: every byte is as signed */
    const pp_signature_fault *faults;
} pp_signature;

/* Check the signature of a folder against its files. A folder without signature.json is no error.
 * errors: PP_EIO, PP_ENOMEM */
pp_status pp_signature_check(const char *folder, int threads, pp_memory *memory,
                             pp_signature *signature, pp_error *error);

/* Read the public key (base64) of a NAME.pub file. errors: PP_EINPUT, PP_EIO */
pp_status pp_public_key_read(const char *path, char public_key[PP_PUBLIC_KEY_MAX], pp_error *error);

#endif

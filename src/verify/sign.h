/* Signatures of report folders: Ed25519 (RFC 8032, by libsodium) over a manifest of every file.
 *
 * A key pair is two small text files: NAME.key (private, readable by its owner only, encrypted with
 * a passphrase unless one was declined) and NAME.pub, which is given away. `signature.json` in the
 * folder holds the SHA-256 of every other file and one signature or several (inspector, customer,
 * third party). What each signs is the text
 *
 *     plateproof-signature 2
 *     algorithm Ed25519
 *     name NAME
 *     role inspector            (inspector, customer or third party)
 *     time 2026-11-20T14:03:11Z (of the signing machine's clock)
 *     plate, report, revision, verdict ...   (one line each, where the report has them)
 *     recomputed yes            (no: signed as it was, without a recomputation that holds)
 *     after SIGNATURE           (one line for each signature before this one)
 *     SHA256  FILE              (one line a file, sorted by the bytes of its name)
 *
 * Version 1, of plateproof 0.1.0, has one signature, and no line between the name and the files. A
 * signature says who signed these bytes only to one who knows the public key from elsewhere.
 */
#ifndef PP_VERIFY_SIGN_H
#define PP_VERIFY_SIGN_H

#include <stdbool.h>

#include "base/memory.h"

enum {
    PP_SIGNER_MAX = 100,    /* bytes of a signer's name */
    PP_PUBLIC_KEY_MAX = 48, /* a public key as base64, with a zero */
    PP_PASSPHRASE_MAX = 200
};

/* Asks for a passphrase; false: there is nobody to ask, or none was given. `again`: a new one, to
 * be typed twice. May be NULL: then only keys without one can be made or read. */
typedef struct pp_passphrase {
    bool (*ask)(void *context, bool again, char passphrase[PP_PASSPHRASE_MAX + 1]);
    void *context;
} pp_passphrase;

/* Make a new key pair: `path`.key (0600) and `path`.pub. The signer's name is the last part of the
 * path. Refuses to overwrite either, and to put them into a report folder. `passphrase` NULL: the
 * private key is not encrypted. Argon2id (libsodium's password hashing), XSalsa20-Poly1305.
 * errors: PP_EINPUT: one of these, a name that cannot be one, no passphrase; PP_EIO: it cannot be
 *         written, or the system gives no random numbers; PP_ENOMEM */
pp_status pp_keys_make(const char *path, const pp_passphrase *passphrase,
                       char public_key[PP_PUBLIC_KEY_MAX], pp_error *error);

/* What the signer states beside the files. Texts may be NULL. */
typedef struct pp_signing {
    const char *key_path;
    const pp_passphrase *passphrase; /* NULL: the key has none */
    const char *role;                /* "inspector", "customer", "third party" */
    const char *plate, *report, *revision, *verdict;
    bool recomputed; /* the folder was recomputed and holds */
    int threads;
} pp_signing;

/* Sign every file of the folder; added to the signatures that are there.
 * errors  PP_EINPUT  it is no report, has subfolders or links in it, or the key file; a signature
 * that is there no longer holds, or is of version 1, or by the same key; the key is damaged, or
 * readable by others, or the passphrase is wrong; PP_EIO: the folder, a file or the key cannot be
 * read, or the signature not written; PP_ENOMEM */
pp_status pp_sign_folder(const char *folder, const pp_signing *signing, pp_memory *memory,
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

typedef struct pp_signer {
    const char *name, *role, *time, *plate, *report, *revision, *verdict; /* NULL: not stated */
    const char *public_key;                                               /* base64 */
    bool as_is;   /* signed without a recomputation that holds */
    bool revoked; /* the key is in the list of revoked ones */
    bool trusted; /* the key is among the trusted ones */
} pp_signer;

typedef struct pp_signature {
    bool present;
    bool sound; /* every signature belongs to the manifest; says nothing of the files yet */
    const char *why_not; /* when it is not sound */
    size_t files;        /* signed */
    size_t fault_count;  /* 0 and sound: every byte is as signed */
    const pp_signature_fault *faults;
    size_t signer_count;
    const pp_signer *signers;
} pp_signature;

/* Public keys read from a file: of one NAME.pub, of several put one behind the other, or one base64
 * text a line (blank lines and lines that begin with # skipped). */
typedef struct pp_key_list {
    size_t count;
    const char (*keys)[PP_PUBLIC_KEY_MAX];
} pp_key_list;
/* Read them. errors: PP_EINPUT: no public key; PP_EIO: it cannot be read; PP_ENOMEM */
pp_status pp_key_list_read(const char *path, pp_arena *arena, pp_key_list *list, pp_error *error);

/* Check the signatures of a folder against its files. A folder without signature.json is no error.
 * `trusted`, `revoked`: may be NULL. errors: PP_EIO: the folder or a file cannot be read;
 * PP_ENOMEM */
pp_status pp_signature_check(const char *folder, const pp_key_list *trusted,
                             const pp_key_list *revoked, int threads, pp_memory *memory,
                             pp_signature *signature, pp_error *error);

#endif

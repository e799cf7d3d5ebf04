/* Key files. Internal to signing. */
#ifndef PP_VERIFY_KEYS_H
#define PP_VERIFY_KEYS_H

#include <sodium.h>

#include "verify/sign.h"

typedef struct pp_secret_key { /* wipe with sodium_memzero after use */
    unsigned char bytes[crypto_sign_SECRETKEYBYTES];
    char signer[PP_SIGNER_MAX + 1];
} pp_secret_key;

/* Read a private key; an encrypted one asks for its passphrase.
 * errors: PP_EINPUT it is none, others may read it, the passphrase is wrong or nobody gave one;
 *         PP_EIO it cannot be read; PP_ENOMEM the password hashing needs more memory than there is
 * */
pp_status pp_secret_key_read(const char *path, const pp_passphrase *passphrase, pp_secret_key *key,
                             pp_error *error);

/* May this be a signer's name: 1 to PP_SIGNER_MAX bytes, no control characters. */
bool pp_signer_is_valid(const char *name);

#endif

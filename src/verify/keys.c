#include "verify/keys.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "answer/paths.h"

enum {
    KEY_FILE_MAX = 512,
    SEED_TEXT_MAX = sodium_base64_ENCODED_LEN(crypto_sign_SEEDBYTES, sodium_base64_VARIANT_ORIGINAL)
};
_Static_assert((int)PP_PUBLIC_KEY_MAX >=
                   (int)sodium_base64_ENCODED_LEN(crypto_sign_PUBLICKEYBYTES,
                                                  sodium_base64_VARIANT_ORIGINAL),
               "a public key must fit its text");

static const char SECRET_HEAD[] = "plateproof-private-key 1\n";
static const char PUBLIC_HEAD[] = "plateproof-public-key 1\n";

bool pp_signer_is_valid(const char *name)
{
    size_t length = strlen(name);
    if (length < 1 || length > PP_SIGNER_MAX) return false;
    for (size_t i = 0; i < length; i++)
        if ((unsigned char)name[i] < 0x20 || name[i] == 0x7f) return false;
    return true;
}

/* ---- writing ---- */

static pp_status write_new_file(const char *path, mode_t mode, const char *text, pp_error *error)
{
    int file = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, mode);
    if (file < 0 && errno == EEXIST)
        return pp_fail_at(error, PP_EINPUT, path, 0, 0,
                          "exists already and is not overwritten; choose another name");
    if (file < 0)
        return pp_fail_at(error, PP_EIO, path, 0, 0, "cannot be written (%s); check the folder",
                          strerror(errno));
    size_t length = strlen(text);
    bool written = write(file, text, length) == (ssize_t)length && fsync(file) == 0;
    int why = errno;
    if (close(file) != 0) written = false;
    if (written) return PP_OK;
    unlink(path);
    return pp_fail_at(error, PP_EIO, path, 0, 0, "cannot be written (%s); check the free space",
                      strerror(why));
}

static pp_status write_pair(const char *path, const char *secret_text, const char *public_text,
                            pp_error *error)
{
    char secret_path[PATH_MAX], public_path[PATH_MAX];
    int a = snprintf(secret_path, sizeof secret_path, "%s.key", path);
    int b = snprintf(public_path, sizeof public_path, "%s.pub", path);
    if (a >= (int)sizeof secret_path || b >= (int)sizeof public_path)
        return pp_fail(error, PP_EINPUT, "the name is too long; choose a shorter one");
    PP_TRY(write_new_file(public_path, 0644, public_text, error));
    pp_status status = write_new_file(secret_path, 0600, secret_text, error);
    if (status != PP_OK) unlink(public_path);
    return status;
}

pp_status pp_keys_make(const char *path, char public_key[PP_PUBLIC_KEY_MAX], pp_error *error)
{
    const char *name = pp_path_file_name(path);
    if (!pp_signer_is_valid(name))
        return pp_fail(error, PP_EINPUT,
                       "the name of a key is 1 to %d bytes without control characters; choose "
                       "another",
                       PP_SIGNER_MAX);
    if (sodium_init() < 0)
        return pp_fail(error, PP_EIO, "the system gives no random numbers; no key was made");
    unsigned char seed[crypto_sign_SEEDBYTES], secret[crypto_sign_SECRETKEYBYTES];
    unsigned char public_bytes[crypto_sign_PUBLICKEYBYTES];
    char seed_text[SEED_TEXT_MAX], secret_text[KEY_FILE_MAX], public_text[KEY_FILE_MAX];
    randombytes_buf(seed, sizeof seed);
    crypto_sign_seed_keypair(public_bytes, secret, seed);
    sodium_bin2base64(seed_text, sizeof seed_text, seed, sizeof seed,
                      sodium_base64_VARIANT_ORIGINAL);
    char shown[PP_PUBLIC_KEY_MAX];
    sodium_bin2base64(shown, sizeof shown, public_bytes, sizeof public_bytes,
                      sodium_base64_VARIANT_ORIGINAL);
    snprintf(secret_text, sizeof secret_text, "%sname: %s\nseed: %s\n", SECRET_HEAD, name,
             seed_text);
    snprintf(public_text, sizeof public_text, "%sname: %s\nkey: %s\n", PUBLIC_HEAD, name, shown);
    pp_status status = write_pair(path, secret_text, public_text, error);
    sodium_memzero(seed, sizeof seed);
    sodium_memzero(secret, sizeof secret);
    sodium_memzero(seed_text, sizeof seed_text);
    sodium_memzero(secret_text, sizeof secret_text);
    if (status == PP_OK) memcpy(public_key, shown, sizeof shown);
    return status;
}

/* ---- reading ---- */

/* "label: VALUE\n" at *text: the value into value[room], and *text behind it. */
static bool take_line(const char **text, const char *label, char *value, size_t room)
{
    size_t head = strlen(label);
    if (strncmp(*text, label, head) != 0) return false;
    const char *start = *text + head;
    size_t length = strcspn(start, "\n");
    if (start[length] != '\n' || length >= room) return false;
    memcpy(value, start, length);
    value[length] = '\0';
    *text = start + length + 1;
    return true;
}

static pp_status read_key_file(const char *path, bool secret, char text[KEY_FILE_MAX],
                               pp_error *error)
{
    struct stat facts;
    int file = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (file < 0)
        return pp_fail_at(error, PP_EIO, path, 0, 0, "cannot be opened (%s); check the path",
                          strerror(errno));
    bool plain = fstat(file, &facts) == 0 && S_ISREG(facts.st_mode);
    bool exposed = plain && secret && (facts.st_mode & 077) != 0;
    ssize_t got = plain && !exposed ? read(file, text, KEY_FILE_MAX - 1) : -1;
    close(file);
    if (exposed)
        return pp_fail_at(error, PP_EINPUT, path, 0, 0,
                          "others may read this private key; take it back with chmod 600, or make "
                          "a new one");
    if (got < 0) return pp_fail_at(error, PP_EIO, path, 0, 0, "cannot be read; name a key file");
    text[got] = '\0';
    return PP_OK;
}

/* The 32 bytes that a key file holds, and the name in it. */
static pp_status read_key(const char *path, bool secret, unsigned char bytes[32],
                          char signer[PP_SIGNER_MAX + 1], pp_error *error)
{
    char text[KEY_FILE_MAX], base64[64];
    size_t length = 0;
    PP_TRY(read_key_file(path, secret, text, error));
    const char *head = secret ? SECRET_HEAD : PUBLIC_HEAD, *at = text;
    bool good = strncmp(at, head, strlen(head)) == 0;
    if (good) at += strlen(head);
    good = good && take_line(&at, "name: ", signer, PP_SIGNER_MAX + 1) &&
           pp_signer_is_valid(signer) &&
           take_line(&at, secret ? "seed: " : "key: ", base64, sizeof base64) &&
           sodium_base642bin(bytes, 32, base64, strlen(base64), NULL, &length, NULL,
                             sodium_base64_VARIANT_ORIGINAL) == 0 &&
           length == 32;
    sodium_memzero(text, sizeof text);
    sodium_memzero(base64, sizeof base64);
    if (good) return PP_OK;
    return pp_fail_at(error, PP_EINPUT, path, 0, 0,
                      secret ? "is no private key of plateproof; name the file that ends in .key"
                             : "is no public key of plateproof; name the file that ends in .pub");
}

pp_status pp_secret_key_read(const char *path, pp_secret_key *key, pp_error *error)
{
    unsigned char seed[crypto_sign_SEEDBYTES], public_bytes[crypto_sign_PUBLICKEYBYTES];
    if (sodium_init() < 0) return pp_fail(error, PP_EIO, "the cryptographic library cannot start");
    PP_TRY(read_key(path, true, seed, key->signer, error));
    crypto_sign_seed_keypair(public_bytes, key->bytes, seed);
    sodium_memzero(seed, sizeof seed);
    return PP_OK;
}

pp_status pp_public_key_read(const char *path, char public_key[PP_PUBLIC_KEY_MAX], pp_error *error)
{
    unsigned char bytes[crypto_sign_PUBLICKEYBYTES];
    char signer[PP_SIGNER_MAX + 1];
    PP_TRY(read_key(path, false, bytes, signer, error));
    sodium_bin2base64(public_key, PP_PUBLIC_KEY_MAX, bytes, sizeof bytes,
                      sodium_base64_VARIANT_ORIGINAL);
    return PP_OK;
}

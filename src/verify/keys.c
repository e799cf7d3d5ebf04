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
    KEY_FILE_MAX = 1024,
    KEY_LIST_MAX = 1 << 20, /* bytes of a list of public keys */
    SEALED_BYTES = crypto_sign_SEEDBYTES + crypto_secretbox_MACBYTES,
    OPS = 4, /* of Argon2id: about a third of a second on a shop computer */
    MEMORY_MIB = 64,
    MEMORY_MIB_MAX = 4096,
    BASE64_MAX = 96,
    SEED_TEXT_MAX = sodium_base64_ENCODED_LEN(crypto_sign_SEEDBYTES, sodium_base64_VARIANT_ORIGINAL)
};
_Static_assert((int)PP_PUBLIC_KEY_MAX >=
                   (int)sodium_base64_ENCODED_LEN(crypto_sign_PUBLICKEYBYTES,
                                                  sodium_base64_VARIANT_ORIGINAL),
               "a public key must fit its text");

static const char SECRET_HEAD[] = "plateproof-private-key 1\n";
static const char SEALED_HEAD[] = "plateproof-private-key 2\n";
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

static void to_base64(char *text, size_t room, const unsigned char *bytes, size_t length)
{
    sodium_bin2base64(text, room, bytes, length, sodium_base64_VARIANT_ORIGINAL);
}

/* The key that a passphrase gives. errors: PP_ENOMEM */
static pp_status stretch(const char *passphrase, const unsigned char salt[crypto_pwhash_SALTBYTES],
                         unsigned long long ops, size_t memory_mib,
                         unsigned char key[crypto_secretbox_KEYBYTES], pp_error *error)
{
    if (crypto_pwhash(key, crypto_secretbox_KEYBYTES, passphrase, strlen(passphrase), salt, ops,
                      memory_mib << 20, crypto_pwhash_ALG_ARGON2ID13) == 0)
        return PP_OK;
    return pp_fail(error, PP_ENOMEM,
                   "the passphrase's key needs %zu MiB of memory, which are not free", memory_mib);
}

static pp_status sealed_text(const char *name, const unsigned char seed[crypto_sign_SEEDBYTES],
                             const pp_passphrase *passphrase, char text[KEY_FILE_MAX],
                             pp_error *error)
{
    unsigned char salt[crypto_pwhash_SALTBYTES], nonce[crypto_secretbox_NONCEBYTES];
    unsigned char key[crypto_secretbox_KEYBYTES], sealed[SEALED_BYTES];
    char words[PP_PASSPHRASE_MAX + 1], salt_text[BASE64_MAX], nonce_text[BASE64_MAX];
    char box_text[BASE64_MAX];
    if (!passphrase->ask || !passphrase->ask(passphrase->context, true, words))
        return pp_fail(
            error, PP_EINPUT,
            "no passphrase was given, so no key was made; --no-passphrase makes one that "
            "whoever has the file can use");
    randombytes_buf(salt, sizeof salt);
    randombytes_buf(nonce, sizeof nonce);
    pp_status status = stretch(words, salt, OPS, MEMORY_MIB, key, error);
    sodium_memzero(words, sizeof words);
    PP_TRY(status);
    crypto_secretbox_easy(sealed, seed, crypto_sign_SEEDBYTES, nonce, key);
    sodium_memzero(key, sizeof key);
    to_base64(salt_text, sizeof salt_text, salt, sizeof salt);
    to_base64(nonce_text, sizeof nonce_text, nonce, sizeof nonce);
    to_base64(box_text, sizeof box_text, sealed, sizeof sealed);
    snprintf(text, KEY_FILE_MAX, "%sname: %s\nargon2id: %d %d\nsalt: %s\nnonce: %s\nsealed: %s\n",
             SEALED_HEAD, name, OPS, MEMORY_MIB, salt_text, nonce_text, box_text);
    return PP_OK;
}

static pp_status secret_text_of(const char *name, const unsigned char seed[crypto_sign_SEEDBYTES],
                                const pp_passphrase *passphrase, char text[KEY_FILE_MAX],
                                pp_error *error)
{
    char seed_text[SEED_TEXT_MAX];
    if (passphrase) return sealed_text(name, seed, passphrase, text, error);
    to_base64(seed_text, sizeof seed_text, seed, crypto_sign_SEEDBYTES);
    snprintf(text, KEY_FILE_MAX, "%sname: %s\nseed: %s\n", SECRET_HEAD, name, seed_text);
    sodium_memzero(seed_text, sizeof seed_text);
    return PP_OK;
}

/* A report folder is given away. */
static pp_status check_place(const char *path, pp_error *error)
{
    char beside[PATH_MAX];
    int folder = (int)(pp_path_file_name(path) - path);
    int length = snprintf(beside, sizeof beside, "%.*sresults.json", folder, path);
    if (length < (int)sizeof beside && access(beside, F_OK) == 0)
        return pp_fail_at(error, PP_EINPUT, path, 0, 0,
                          "would be made in a report folder, which is given away; choose another "
                          "place");
    return PP_OK;
}

pp_status pp_keys_make(const char *path, const pp_passphrase *passphrase,
                       char public_key[PP_PUBLIC_KEY_MAX], pp_error *error)
{
    const char *name = pp_path_file_name(path);
    if (!pp_signer_is_valid(name))
        return pp_fail(error, PP_EINPUT,
                       "the name of a key is 1 to %d bytes without control characters; choose "
                       "another",
                       PP_SIGNER_MAX);
    PP_TRY(check_place(path, error));
    if (sodium_init() < 0)
        return pp_fail(error, PP_EIO, "the system gives no random numbers; no key was made");
    unsigned char seed[crypto_sign_SEEDBYTES], secret[crypto_sign_SECRETKEYBYTES];
    unsigned char public_bytes[crypto_sign_PUBLICKEYBYTES];
    char secret_text[KEY_FILE_MAX], public_text[KEY_FILE_MAX], shown[PP_PUBLIC_KEY_MAX];
    randombytes_buf(seed, sizeof seed);
    crypto_sign_seed_keypair(public_bytes, secret, seed);
    to_base64(shown, sizeof shown, public_bytes, sizeof public_bytes);
    snprintf(public_text, sizeof public_text, "%sname: %s\nkey: %s\n", PUBLIC_HEAD, name, shown);
    pp_status status = secret_text_of(name, seed, passphrase, secret_text, error);
    if (status == PP_OK) status = write_pair(path, secret_text, public_text, error);
    sodium_memzero(seed, sizeof seed);
    sodium_memzero(secret, sizeof secret);
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

static bool take_base64(const char **at, const char *label, unsigned char *bytes, size_t length)
{
    char text[BASE64_MAX];
    size_t got = 0;
    bool good = take_line(at, label, text, sizeof text) &&
                sodium_base642bin(bytes, length, text, strlen(text), NULL, &got, NULL,
                                  sodium_base64_VARIANT_ORIGINAL) == 0 &&
                got == length;
    sodium_memzero(text, sizeof text);
    return good;
}

static pp_status no_key(const char *path, bool secret, pp_error *error)
{
    return pp_fail_at(error, PP_EINPUT, path, 0, 0,
                      secret ? "is no private key of plateproof; name the file that ends in .key"
                             : "is no public key of plateproof; name the file that ends in .pub");
}

/* The name line of a key file whose head is `head`; false: it is no such file. */
static bool take_head(const char **at, const char *head, char signer[PP_SIGNER_MAX + 1])
{
    if (strncmp(*at, head, strlen(head)) != 0) return false;
    *at += strlen(head);
    return take_line(at, "name: ", signer, PP_SIGNER_MAX + 1) && pp_signer_is_valid(signer);
}

/* The seed in an encrypted key file, from behind its name line on. */
static pp_status open_sealed(const char *path, const char *at, const char *signer,
                             const pp_passphrase *passphrase,
                             unsigned char seed[crypto_sign_SEEDBYTES], pp_error *error)
{
    unsigned char salt[crypto_pwhash_SALTBYTES], nonce[crypto_secretbox_NONCEBYTES];
    unsigned char key[crypto_secretbox_KEYBYTES], sealed[SEALED_BYTES];
    char cost[32], words[PP_PASSPHRASE_MAX + 1];
    unsigned ops, memory_mib;
    if (!take_line(&at, "argon2id: ", cost, sizeof cost) ||
        sscanf(cost, "%u %u", &ops, &memory_mib) != 2 || ops < 1 || ops > 100 || memory_mib < 1 ||
        memory_mib > MEMORY_MIB_MAX || !take_base64(&at, "salt: ", salt, sizeof salt) ||
        !take_base64(&at, "nonce: ", nonce, sizeof nonce) ||
        !take_base64(&at, "sealed: ", sealed, sizeof sealed))
        return no_key(path, true, error);
    if (!passphrase || !passphrase->ask || !passphrase->ask(passphrase->context, false, words))
        return pp_fail_at(error, PP_EINPUT, path, 0, 0,
                          "the key of \"%s\" needs its passphrase, and none was given", signer);
    pp_status status = stretch(words, salt, ops, memory_mib, key, error);
    sodium_memzero(words, sizeof words);
    PP_TRY(status);
    bool opened = crypto_secretbox_open_easy(seed, sealed, sizeof sealed, nonce, key) == 0;
    sodium_memzero(key, sizeof key);
    if (opened) return PP_OK;
    return pp_fail_at(error, PP_EINPUT, path, 0, 0,
                      "the passphrase is not that of the key of \"%s\"; try again", signer);
}

pp_status pp_secret_key_read(const char *path, const pp_passphrase *passphrase, pp_secret_key *key,
                             pp_error *error)
{
    unsigned char seed[crypto_sign_SEEDBYTES], public_bytes[crypto_sign_PUBLICKEYBYTES];
    char text[KEY_FILE_MAX];
    if (sodium_init() < 0) return pp_fail(error, PP_EIO, "the cryptographic library cannot start");
    PP_TRY(read_key_file(path, true, text, error));
    const char *at = text, *sealed = text;
    pp_status status = PP_OK;
    if (take_head(&sealed, SEALED_HEAD, key->signer))
        status = open_sealed(path, sealed, key->signer, passphrase, seed, error);
    else if (!take_head(&at, SECRET_HEAD, key->signer) ||
             !take_base64(&at, "seed: ", seed, sizeof seed))
        status = no_key(path, true, error);
    sodium_memzero(text, sizeof text);
    if (status == PP_OK) crypto_sign_seed_keypair(public_bytes, key->bytes, seed);
    sodium_memzero(seed, sizeof seed);
    return status;
}

/* One public key at *at: a .pub file's three lines, or its bare base64 on a line of its own. */
static bool take_public_key(const char **at, char key[PP_PUBLIC_KEY_MAX])
{
    unsigned char bytes[crypto_sign_PUBLICKEYBYTES];
    char signer[PP_SIGNER_MAX + 1];
    const char *behind = *at;
    bool good = take_head(&behind, PUBLIC_HEAD, signer) &&
                take_base64(&behind, "key: ", bytes, sizeof bytes);
    if (!good) {
        behind = *at;
        good = take_base64(&behind, "", bytes, sizeof bytes);
    }
    if (!good) return false;
    to_base64(key, PP_PUBLIC_KEY_MAX, bytes, sizeof bytes);
    *at = behind;
    return true;
}

static pp_status read_keys(const char *path, const char *text, pp_arena *arena, pp_key_list *list,
                           pp_error *error)
{
    char(*keys)[PP_PUBLIC_KEY_MAX];
    size_t most = 0, count = 0;
    long line = 1;
    for (const char *c = text; *c; c++) most += *c == '\n';
    PP_TAKE(keys, arena, most + 1);
    for (const char *at = text; *at;) {
        const char *from = at;
        if (*at == '\n' || *at == '#') {
            at += strcspn(at, "\n");
            at += *at == '\n';
        } else if (!take_public_key(&at, keys[count++])) {
            return pp_fail_at(error, PP_EINPUT, path, line, 0,
                              "is no public key of plateproof; name a file that ends in .pub, or a "
                              "list of public keys, one a line");
        }
        for (; from < at; from++) line += *from == '\n';
    }
    *list = (pp_key_list){count, (const char(*)[PP_PUBLIC_KEY_MAX])keys};
    return count ? PP_OK : no_key(path, false, error);
}

pp_status pp_key_list_read(const char *path, pp_arena *arena, pp_key_list *list, pp_error *error)
{
    struct stat facts;
    int file = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (file < 0)
        return pp_fail_at(error, PP_EIO, path, 0, 0, "cannot be opened (%s); check the path",
                          strerror(errno));
    bool plain = fstat(file, &facts) == 0 && S_ISREG(facts.st_mode) && facts.st_size < KEY_LIST_MAX;
    char *text = plain ? pp_arena_take(arena, (size_t)facts.st_size + 1, 1) : NULL;
    ssize_t got = text ? read(file, text, (size_t)facts.st_size) : -1;
    close(file);
    if (got < 0) return pp_fail_at(error, PP_EIO, path, 0, 0, "cannot be read; name a key file");
    text[got] = '\0';
    return read_keys(path, text, arena, list, error);
}

#include "serve/store.h"

#include <errno.h>
#include <fcntl.h>
#include <nettle/sha2.h>
#include <sodium.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "serve/beneath.h"

void pp_store_version(const char *bytes, size_t length, char version[65])
{
    struct sha256_ctx state;
    unsigned char digest[SHA256_DIGEST_SIZE];
    sha256_init(&state);
    sha256_update(&state, length, (const unsigned char *)bytes);
    sha256_digest(&state, sizeof digest, digest);
    sodium_bin2hex(version, 65, digest, sizeof digest);
}

static bool write_all(int handle, const char *bytes, size_t length)
{
    while (length > 0) {
        ssize_t done = write(handle, bytes, length);
        if (done < 0 && errno == EINTR) continue;
        if (done < 0) return false;
        bytes += done;
        length -= (size_t)done;
    }
    return fsync(handle) == 0 || errno == EINVAL;
}

static pp_status refuse(const char *path, pp_error *error)
{
    return pp_fail_at(error, PP_EIO, path, 0, 0,
                      "cannot be saved (%s); nothing was changed. Is the folder still there, and "
                      "may it be written to?",
                      strerror(errno));
}

pp_status pp_store_write(int root, const char *path, const char *bytes, size_t length,
                         pp_error *error)
{
    char folder[PP_BENEATH_PATH_MAX], temporary[64];
    struct stat old;
    const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path;
    snprintf(folder, sizeof folder, "%.*s", slash ? (int)(slash - path) : 0, path);
    int parent = pp_beneath_open(root, folder, O_RDONLY | O_DIRECTORY);
    if (parent < 0) return refuse(path, error);
    mode_t mode = fstatat(parent, name, &old, AT_SYMLINK_NOFOLLOW) == 0 && S_ISREG(old.st_mode)
                      ? old.st_mode & 0777
                      : 0644;
    snprintf(temporary, sizeof temporary, ".plateproof-%08x%08x", randombytes_random(),
             randombytes_random());
    int handle = openat(parent, temporary, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode);
    bool written = handle >= 0 && write_all(handle, bytes, length);
    int why = errno;
    if (handle >= 0 && close(handle) != 0 && written) written = false, why = errno;
    if (written && renameat(parent, temporary, parent, name) != 0) written = false, why = errno;
    if (!written && handle >= 0) unlinkat(parent, temporary, 0);
    if (written) fsync(parent);
    close(parent);
    errno = why;
    return written ? PP_OK : refuse(path, error);
}

#include "serve/beneath.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/openat2.h>
#include <string.h>
#include <sys/syscall.h>
#include <unistd.h>

#include "base/text.h"

/* ---- names ---- */

static bool plain_bytes(const char *path)
{
    for (const unsigned char *at = (const unsigned char *)path; *at;) {
        if (*at < 0x20 || *at == 0x7f || *at == '\\') return false;
        if (*at < 0x80) {
            at++;
            continue;
        }
        int more = *at >= 0xf0 && *at < 0xf5 ? 3 : *at >= 0xe0 ? 2 : *at >= 0xc2 ? 1 : 0;
        if (more == 0 || *at >= 0xf5) return false;
        for (at++; more > 0; more--, at++)
            if ((*at & 0xc0) != 0x80) return false;
    }
    return true;
}

bool pp_beneath_proper(const char *path)
{
    size_t length = strlen(path);
    if (length == 0 || length >= PP_BENEATH_PATH_MAX || path[length - 1] == '/') return false;
    if (!plain_bytes(path)) return false;
    for (const char *part = path; part; part = strchr(part, '/') ? strchr(part, '/') + 1 : NULL)
        if (*part == '/' || *part == '.' || *part == '\0') return false;
    return true;
}

/* Take "." and ".." out of path[] by the letters alone; false where it leads out. */
static bool flatten(char *path)
{
    char *end = path; /* of what is kept */
    for (char *part = path; part && *part;) {
        char *slash = strchr(part, '/');
        size_t length = slash ? (size_t)(slash - part) : strlen(part);
        char *next = slash ? slash + 1 : NULL;
        if (length == 2 && part[0] == '.' && part[1] == '.') {
            if (end == path) return false;
            while (end > path && end[-1] != '/') end--;
            if (end > path) end--;
        } else if (length > 0 && !(length == 1 && part[0] == '.')) {
            if (end > path) *end++ = '/';
            memmove(end, part, length);
            end += length;
        }
        part = next;
    }
    *end = '\0';
    return true;
}

bool pp_beneath_join(const char *top, const char *folder, const char *written,
                     char path[PP_BENEATH_PATH_MAX])
{
    size_t depth = strlen(top);
    const char *base = folder;
    if (written[0] == '/') {
        if (strncmp(written, top, depth) != 0 || written[depth] != '/') return false;
        written += depth + 1;
        base = "";
    }
    size_t before = strlen(base), after = strlen(written);
    if (before + after + 2 > PP_BENEATH_PATH_MAX) return false;
    memcpy(path, base, before);
    if (before > 0) path[before++] = '/';
    memcpy(path + before, written, after + 1);
    return flatten(path);
}

/* ---- opening ---- */

int pp_beneath_open_by_steps(int root, const char *path, int flags)
{
    char rest[PP_BENEATH_PATH_MAX];
    if (strlen(path) >= sizeof rest || path[0] == '/') {
        errno = path[0] == '/' ? EXDEV : ENAMETOOLONG;
        return -1;
    }
    strcpy(rest, path);
    if (!flatten(rest)) {
        errno = EXDEV;
        return -1;
    }
    int folder = openat(root, ".", O_PATH | O_DIRECTORY | O_CLOEXEC);
    char *part = rest;
    for (char *slash; folder >= 0 && (slash = strchr(part, '/')); part = slash + 1) {
        *slash = '\0';
        int next = openat(folder, part, O_PATH | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
        int why = errno;
        close(folder);
        errno = why;
        folder = next;
    }
    if (folder < 0) return -1;
    int handle = openat(folder, *part ? part : ".", flags | O_NOFOLLOW | O_CLOEXEC, 0666);
    int why = errno;
    close(folder);
    errno = why;
    return handle;
}

int pp_beneath_open(int root, const char *path, int flags)
{
    enum { ATTEMPTS = 8 }; /* EAGAIN: something was moved while the kernel looked */
    struct open_how how = {.flags = (unsigned)(flags | O_CLOEXEC),
                           .mode = flags & O_CREAT ? 0666 : 0,
                           .resolve = RESOLVE_BENEATH | RESOLVE_NO_MAGICLINKS};
    for (int attempt = 0; attempt < ATTEMPTS; attempt++) {
        long handle = syscall(SYS_openat2, root, *path ? path : ".", &how, sizeof how);
        if (handle >= 0) return (int)handle;
        if (errno == ENOSYS || errno == EPERM) return pp_beneath_open_by_steps(root, path, flags);
        if (errno != EAGAIN && errno != EINTR) break;
    }
    return -1;
}

int pp_beneath_open_file(int root, const char *path, struct stat *found)
{
    struct stat here;
    int handle = pp_beneath_open(root, path, O_RDONLY | O_NONBLOCK | O_NOCTTY);
    if (handle < 0) return -1;
    if (fstat(handle, &here) == 0 && S_ISREG(here.st_mode)) {
        if (found) *found = here;
        return handle;
    }
    close(handle);
    errno = EINVAL;
    return -1;
}

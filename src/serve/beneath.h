/* Opening files below one folder and nowhere else, whatever a name says and whoever swaps a link
 * meanwhile: the kernel resolves the whole path below the folder (openat2, Linux 5.6); where it can
 * not, or a container forbids it, the path is walked step by step and no link is followed. */
#ifndef PP_SERVE_BENEATH_H
#define PP_SERVE_BENEATH_H

#include <stdbool.h>
#include <sys/stat.h>

enum { PP_BENEATH_PATH_MAX = 1024 };

/* Whether `path` may be asked for over the wire: relative, no empty part, no "." or "..", nothing
 * that begins with a dot, no control characters, UTF-8, at most PP_BENEATH_PATH_MAX bytes. */
bool pp_beneath_proper(const char *path);

/* Open `path` below the folder `root`; "" is the folder itself. `..` is understood as long as it
 * stays below. Returns a handle (close-on-exec), or -1 with errno: EXDEV for what leads out. */
int pp_beneath_open(int root, const char *path, int flags);

/* The same without openat2: every part opened by itself, links refused (ELOOP). */
int pp_beneath_open_by_steps(int root, const char *path, int flags);

/* Open an ordinary file for reading and say what it is (`found` may be NULL); devices, FIFOs,
 * sockets and folders are refused with EINVAL, and never waited for. */
int pp_beneath_open_file(int root, const char *path, struct stat *found);

/* `written` as it stands in a file in `folder` ("" or "a/b", below the root), put together into a
 * path below the root. `top` is the absolute path of the root, without a slash at its end: an
 * absolute path below it is understood too. False for what leads out, or is too long. */
bool pp_beneath_join(const char *top, const char *folder, const char *written,
                     char path[PP_BENEATH_PATH_MAX]);

#endif

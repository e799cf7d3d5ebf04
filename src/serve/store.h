/* Writing a file of the folder: whole or not at all. */
#ifndef PP_SERVE_STORE_H
#define PP_SERVE_STORE_H

#include <stddef.h>

#include "plateproof/error.h"

/* SHA-256 of bytes as 64 hexadecimal digits and a zero (FIPS 180-4): the version of a text. */
void pp_store_version(const char *bytes, size_t length, char version[65]);

/* Put the bytes at `path` below the root: written beside it under a temporary name, flushed,
 * renamed over it. Its mode stays; a link is not followed. errors  PP_EIO with what is wrong
 * (read-only, full disk); the old file is as it was */
pp_status pp_store_write(int root, const char *path, const char *bytes, size_t length,
                         pp_error *error);

#endif

/* A file that is dropped on the page, streamed to disk: never in memory, never over another. */
#ifndef PP_SERVE_UPLOAD_H
#define PP_SERVE_UPLOAD_H

#include <stdbool.h>
#include <stddef.h>

#include "plateproof/error.h"
#include "serve/beneath.h"

#define PP_UPLOAD_MAX (4LL << 30) /* bytes */

typedef struct pp_upload {
    int parent, file;   /* handles; -1 */
    char name[256];     /* to stand under, in parent */
    char temporary[64]; /* as long as it is not whole */
    long long size;
} pp_upload;

/* Begin a file at `path` ("a.csv" or "folder/a.csv", proper; the folder is made when it is not
 * there): .csv and .txt only. Nothing of that name may stand there.
 * errors  PP_EINPUT: another kind of file, or the name is taken; PP_EIO: it cannot be written */
pp_status pp_upload_begin(int root, const char *path, pp_upload *upload, pp_error *error);

/* errors: PP_EINPUT: larger than PP_UPLOAD_MAX; PP_EIO: a full disk */
pp_status pp_upload_add(pp_upload *upload, const char *bytes, size_t length, pp_error *error);

/* Put it in its place, whole. errors: PP_EINPUT: the name was taken meanwhile; PP_EIO: it cannot be
 * written */
pp_status pp_upload_finish(pp_upload *upload, pp_error *error);

/* Take away what is not finished; harmless after pp_upload_finish. */
void pp_upload_end(pp_upload *upload);

#endif

/* One request, from its first line to its answer. */
#ifndef PP_SERVE_REQUEST_H
#define PP_SERVE_REQUEST_H

#include <microhttpd.h>

#include "base/text.h"
#include "serve/server.h"
#include "serve/upload.h"

enum {
    PP_HEADER_MAX = 16 * 1024,    /* bytes of all header lines and the query */
    PP_JSON_MAX = 2 * 1024 * 1024 /* bytes of a JSON body: a job file is at most one MiB */
};

typedef struct pp_request {
    pp_server *server;
    struct MHD_Connection *connection;
    pp_watched *watched; /* NULL: not watched */
    const char *url, *method;
    const char *host; /* checked */
    long begun;       /* seconds (CLOCK_MONOTONIC) */
    pp_text body;
    bool uploading; /* the body is a file, streamed to disk */
    pp_upload upload;
    pp_error trouble; /* of the upload; told once the body has ended */
} pp_request;

/* A header line's value; NULL when absent. */
const char *pp_request_header(const pp_request *request, const char *name);

/* A value of the query; NULL when absent, or when it has zero bytes in it. */
const char *pp_request_argument(const pp_request *request, const char *name);

/* The same for a path below the folder; NULL unless pp_beneath_proper. */
const char *pp_request_path(const pp_request *request, const char *name);

/* May it be asked at all? Host, cookie, origin, sizes. 0, or the HTTP status to refuse with. */
unsigned pp_request_refusal(pp_request *request);

#endif

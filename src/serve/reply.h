/* Answers: every one with the headers that keep others out. Each function queues the answer and
 * returns what libmicrohttpd's handler is to return. */
#ifndef PP_SERVE_REPLY_H
#define PP_SERVE_REPLY_H

#include <jansson.h>

#include "serve/request.h"

/* Nothing but the status. */
enum MHD_Result pp_reply_nothing(const pp_request *request, unsigned status);

/* {"problem": "what is wrong; what to do"}; `text` is shown to the person as it is. */
enum MHD_Result pp_reply_problem(const pp_request *request, unsigned status, const char *text);

/* A JSON value, which is given away; NULL says that memory ran out. */
enum MHD_Result pp_reply_json(const pp_request *request, unsigned status, json_t *value);

/* A file of the program, which stays where it is. */
enum MHD_Result pp_reply_embedded(const pp_request *request, const char *type, const char *bytes,
                                  size_t length);

typedef struct pp_reply_file {
    int handle; /* given away */
    long long size;
    const char *type;
    const char *policy;   /* Content-Security-Policy; NULL: nothing at all may happen in it */
    const char *download; /* the name to save it under; NULL: shown */
} pp_reply_file;

/* A file of the folder, never whole in memory. */
enum MHD_Result pp_reply_file_of_folder(const pp_request *request, const pp_reply_file *file);

/* What `give` hands out piece by piece, until it ends; `let_go` is called once, whatever happens.
 */
enum MHD_Result pp_reply_stream(const pp_request *request, const char *type, const char *download,
                                size_t piece, MHD_ContentReaderCallback give, void *context,
                                MHD_ContentReaderFreeCallback let_go);

/* What comes out of a pipe, until its other end is closed; the handle is given away. */
enum MHD_Result pp_reply_pipe(const pp_request *request, const char *type, const char *download,
                              int handle);

/* To another page of this server, with the cookie. */
enum MHD_Result pp_reply_welcome(const pp_request *request);

#endif

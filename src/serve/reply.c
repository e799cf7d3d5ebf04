#include "serve/reply.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* Scripts and styles are files of this program under /web/ and nothing else; the report's frame
 * alone may be framed, and brings a policy of its own. */
#define PAGE_POLICY                                                                                \
    "default-src 'none'; script-src http://%s/web/; style-src http://%s/web/; "                    \
    "img-src 'self' data:; connect-src 'self'; frame-src 'self'; base-uri 'none'; "                \
    "form-action 'none'; frame-ancestors 'none'"

static const char *const SHUT_POLICY = "default-src 'none'; sandbox; frame-ancestors 'none'";

static void add_guards(const pp_request *request, struct MHD_Response *response, const char *policy)
{
    char text[512];
    if (!policy && request->host) {
        snprintf(text, sizeof text, PAGE_POLICY, request->host, request->host);
        policy = text;
    }
    MHD_add_response_header(response, "Content-Security-Policy", policy ? policy : SHUT_POLICY);
    MHD_add_response_header(response, "X-Content-Type-Options", "nosniff");
    MHD_add_response_header(response, "Referrer-Policy", "no-referrer");
    MHD_add_response_header(response, "Cross-Origin-Resource-Policy", "same-origin");
    MHD_add_response_header(response, "Cross-Origin-Opener-Policy", "same-origin");
    MHD_add_response_header(response, MHD_HTTP_HEADER_CACHE_CONTROL, "no-store");
}

static enum MHD_Result hand_over(const pp_request *request, unsigned status,
                                 struct MHD_Response *response)
{
    if (!response) return MHD_NO;
    enum MHD_Result queued = MHD_queue_response(request->connection, status, response);
    MHD_destroy_response(response);
    return queued;
}

enum MHD_Result pp_reply_nothing(const pp_request *request, unsigned status)
{
    struct MHD_Response *response =
        MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT);
    if (!response) return MHD_NO;
    add_guards(request, response, SHUT_POLICY);
    if (status >= 400) MHD_add_response_header(response, MHD_HTTP_HEADER_CONNECTION, "close");
    return hand_over(request, status, response);
}

enum MHD_Result pp_reply_json(const pp_request *request, unsigned status, json_t *value)
{
    char *text = value ? json_dumps(value, JSON_COMPACT) : NULL;
    json_decref(value);
    if (!text) return pp_reply_nothing(request, MHD_HTTP_INTERNAL_SERVER_ERROR);
    struct MHD_Response *response =
        MHD_create_response_from_buffer(strlen(text), text, MHD_RESPMEM_MUST_FREE);
    if (!response) {
        free(text);
        return MHD_NO;
    }
    add_guards(request, response, SHUT_POLICY);
    MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, "application/json");
    return hand_over(request, status, response);
}

enum MHD_Result pp_reply_problem(const pp_request *request, unsigned status, const char *text)
{
    return pp_reply_json(request, status, json_pack("{s:s}", "problem", text));
}

enum MHD_Result pp_reply_embedded(const pp_request *request, const char *type, const char *bytes,
                                  size_t length)
{
    struct MHD_Response *response =
        MHD_create_response_from_buffer(length, (void *)(size_t)bytes, MHD_RESPMEM_PERSISTENT);
    if (!response) return MHD_NO;
    add_guards(request, response, NULL);
    MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, type);
    return hand_over(request, MHD_HTTP_OK, response);
}

/* The name in letters that need no quoting; browsers add what is missing. */
static void add_name(struct MHD_Response *response, const char *name)
{
    char text[300];
    size_t length = (size_t)snprintf(text, sizeof text, "attachment; filename=\"");
    for (const char *c = name; *c && length < sizeof text - 2; c++)
        text[length++] = *c < ' ' || *c == '"' || *c == '\\' || *c > '~' ? '_' : *c;
    text[length++] = '"';
    text[length] = '\0';
    MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_DISPOSITION, text);
}

enum MHD_Result pp_reply_file_of_folder(const pp_request *request, const pp_reply_file *file)
{
    struct MHD_Response *response =
        MHD_create_response_from_fd64((uint64_t)file->size, file->handle);
    if (!response) {
        close(file->handle);
        return MHD_NO;
    }
    add_guards(request, response, file->policy ? file->policy : SHUT_POLICY);
    MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, file->type);
    if (file->download) add_name(response, file->download);
    return hand_over(request, MHD_HTTP_OK, response);
}

enum MHD_Result pp_reply_stream(const pp_request *request, const char *type, const char *download,
                                size_t piece, MHD_ContentReaderCallback give, void *context,
                                MHD_ContentReaderFreeCallback let_go)
{
    struct MHD_Response *response =
        MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, piece, give, context, let_go);
    if (!response) {
        let_go(context);
        return MHD_NO;
    }
    add_guards(request, response, SHUT_POLICY);
    MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, type);
    if (download) add_name(response, download);
    return hand_over(request, MHD_HTTP_OK, response);
}

enum MHD_Result pp_reply_pipe(const pp_request *request, const char *type, const char *download,
                              int handle)
{
    struct MHD_Response *response = MHD_create_response_from_pipe(handle);
    if (!response) {
        close(handle);
        return MHD_NO;
    }
    add_guards(request, response, SHUT_POLICY);
    MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, type);
    if (download) add_name(response, download);
    return hand_over(request, MHD_HTTP_OK, response);
}

enum MHD_Result pp_reply_welcome(const pp_request *request)
{
    char cookie[128];
    const pp_guard *guard = &request->server->guard;
    struct MHD_Response *response =
        MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT);
    if (!response) return MHD_NO;
    snprintf(cookie, sizeof cookie, "%s=%s; HttpOnly; SameSite=Strict; Path=/", guard->cookie_name,
             guard->cookie);
    add_guards(request, response, SHUT_POLICY);
    MHD_add_response_header(response, MHD_HTTP_HEADER_SET_COOKIE, cookie);
    MHD_add_response_header(response, MHD_HTTP_HEADER_LOCATION, "/");
    return hand_over(request, MHD_HTTP_SEE_OTHER, response);
}

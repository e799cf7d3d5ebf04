#include "serve/request.h"

#include <string.h>

#include "serve/beneath.h"

const char *pp_request_header(const pp_request *request, const char *name)
{
    return MHD_lookup_connection_value(request->connection, MHD_HEADER_KIND, name);
}

const char *pp_request_argument(const pp_request *request, const char *name)
{
    const char *value = NULL;
    size_t length = 0;
    if (MHD_lookup_connection_value_n(request->connection, MHD_GET_ARGUMENT_KIND, name,
                                      strlen(name), &value, &length) != MHD_YES)
        return NULL;
    return value && strlen(value) == length ? value : NULL;
}

const char *pp_request_path(const pp_request *request, const char *name)
{
    const char *path = pp_request_argument(request, name);
    return path && pp_beneath_proper(path) ? path : NULL;
}

/* Whether it changes something: any method but GET and HEAD. */
static bool changes(const pp_request *request)
{
    return strcmp(request->method, MHD_HTTP_METHOD_GET) != 0 &&
           strcmp(request->method, MHD_HTTP_METHOD_HEAD) != 0;
}

static enum MHD_Result add_size(void *context, enum MHD_ValueKind kind, const char *key,
                                size_t key_size, const char *value, size_t value_size)
{
    (void)kind, (void)key, (void)value;
    *(size_t *)context += key_size + value_size + 4; /* ": " and the line's end */
    return MHD_YES;
}

static size_t header_size(const pp_request *request)
{
    size_t size = strlen(request->url);
    MHD_get_connection_values_n(request->connection, MHD_HEADER_KIND, add_size, &size);
    MHD_get_connection_values_n(request->connection, MHD_GET_ARGUMENT_KIND, add_size, &size);
    return size;
}

/* The cookie, or the address with the token that leads to it. */
static bool known(pp_request *request)
{
    const pp_guard *guard = &request->server->guard;
    const char *cookie =
        MHD_lookup_connection_value(request->connection, MHD_COOKIE_KIND, guard->cookie_name);
    return pp_guard_same(cookie, guard->cookie);
}

static bool asks_for_cookie(const pp_request *request)
{
    return strcmp(request->url, "/") == 0 && !changes(request) &&
           pp_request_argument(request, "token");
}

unsigned pp_request_refusal(pp_request *request)
{
    if (header_size(request) > PP_HEADER_MAX) return MHD_HTTP_REQUEST_HEADER_FIELDS_TOO_LARGE;
    request->host = pp_request_header(request, MHD_HTTP_HEADER_HOST);
    if (!pp_guard_host(request->host, request->server->guard.port))
        return MHD_HTTP_MISDIRECTED_REQUEST;
    if (asks_for_cookie(request)) return 0; /* the token is the ticket; checked where it is used */
    if (!known(request)) return MHD_HTTP_UNAUTHORIZED;
    const char *site = pp_request_header(request, "Sec-Fetch-Site");
    bool allowed = changes(request)
                       ? pp_guard_writes(pp_request_header(request, MHD_HTTP_HEADER_ORIGIN), site,
                                         request->host)
                       : pp_guard_reads(site);
    return allowed ? 0 : MHD_HTTP_FORBIDDEN;
}

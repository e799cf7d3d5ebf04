#include "serve/routes.h"

#include <stdio.h>
#include <string.h>

#include "base/embedded.h"
#include "input/lists/preview.h"
#include "serve/archive.h"
#include "serve/beneath.h"
#include "serve/events.h"
#include "serve/fence.h"
#include "serve/form.h"
#include "serve/orders.h"
#include "serve/reply.h"
#include "serve/scan.h"
#include "serve/standing.h"
#include "serve/ticks.h"

extern const pp_embedded_file pp_serve_files[];
extern const size_t pp_serve_file_count;

/* The report brings its own policy in its head, with the hashes of its style and script; a frame
 * without an origin keeps it from everything else of this server. */
#define REPORT_POLICY                                                                              \
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:; "   \
    "base-uri 'none'; form-action 'none'; frame-ancestors 'self'; sandbox allow-scripts"

/* ---- the program's own pages ---- */

static const char *type_of(const char *name)
{
    static const char *const TYPES[][2] = {
        {".html", "text/html; charset=utf-8"},     {".css", "text/css; charset=utf-8"},
        {".js", "text/javascript; charset=utf-8"}, {".json", "application/json"},
        {".csv", "text/csv; charset=utf-8"},       {".pdf", "application/pdf"},
        {".txt", "text/plain; charset=utf-8"},     {".ini", "text/plain; charset=utf-8"},
    };
    size_t length = strlen(name);
    for (size_t i = 0; i < sizeof TYPES / sizeof *TYPES; i++) {
        size_t end = strlen(TYPES[i][0]);
        if (length > end && strcmp(name + length - end, TYPES[i][0]) == 0) return TYPES[i][1];
    }
    return "application/octet-stream";
}

static enum MHD_Result send_own(const pp_request *request, const char *name)
{
    for (size_t i = 0; i < pp_serve_file_count; i++)
        if (strcmp(pp_serve_files[i].name, name) == 0)
            return pp_reply_embedded(request, type_of(name), pp_serve_files[i].bytes,
                                     pp_serve_files[i].length);
    return pp_reply_nothing(request, MHD_HTTP_NOT_FOUND);
}

/* The first page; or, with the token, the cookie and then the first page. A used token is dead. */
static enum MHD_Result give_page(pp_request *request)
{
    pp_server *server = request->server;
    const char *token = pp_request_argument(request, "token");
    if (!token) return send_own(request, "index.html");
    pthread_mutex_lock(&server->guard_lock);
    bool right = pp_guard_same(token, server->guard.token);
    if (right) pp_guard_renew_token(&server->guard);
    pthread_mutex_unlock(&server->guard_lock);
    if (!right) return pp_reply_nothing(request, MHD_HTTP_UNAUTHORIZED);
    atomic_store(&server->token_used, true);
    pp_serve_wake(server);
    return pp_reply_welcome(request);
}

static enum MHD_Result give_own(pp_request *request)
{
    return send_own(request, request->url + strlen("/web/"));
}

/* ---- plates ---- */

static enum MHD_Result give_error(const pp_request *request, const pp_error *error)
{
    unsigned status = error->status == PP_EINPUT ? MHD_HTTP_UNPROCESSABLE_CONTENT
                      : error->status == PP_EIO  ? MHD_HTTP_NOT_FOUND
                                                 : MHD_HTTP_INTERNAL_SERVER_ERROR;
    char text[PP_ERROR_TEXT_MAX + 32];
    if (error->line == 0) return pp_reply_problem(request, status, error->message);
    snprintf(text, sizeof text, "line %ld: %s", error->line, error->message);
    return pp_reply_problem(request, status, text);
}

static enum MHD_Result give_plates(pp_request *request)
{
    pp_server *server = request->server;
    pp_error error = {0};
    json_t *list = NULL;
    if (pp_plates_list(&server->plates, server->folder, server->root, &list, &error) != PP_OK)
        return give_error(request, &error);
    const char *slash = strrchr(server->folder, '/');
    json_object_set_new(list, "folder",
                        json_string(slash && slash[1] ? slash + 1 : server->folder));
    return pp_reply_json(request, MHD_HTTP_OK, list);
}

/* The histories that stand in the folder. */
static enum MHD_Result give_histories(pp_request *request)
{
    pp_arena arena = {0};
    pp_scan scan;
    pp_error error = {0};
    pp_status status =
        pp_scan_folder(request->server->root, PP_HISTORY_ENDING, &arena, &scan, &error);
    json_t *list = json_array();
    for (size_t i = 0; status == PP_OK && i < scan.count; i++)
        json_array_append_new(list, json_string(scan.paths[i]));
    pp_arena_free(&arena);
    if (status == PP_OK)
        return pp_reply_json(request, MHD_HTTP_OK, json_pack("{s:o}", "histories", list));
    json_decref(list);
    return give_error(request, &error);
}

static enum MHD_Result no_such_name(const pp_request *request)
{
    return pp_reply_problem(request, MHD_HTTP_BAD_REQUEST,
                            "that is no name of a file below the folder");
}

/* What a question about a result is about: its kind, and the folder of it. False: no such kind. */
static bool find_result(const pp_request *request, const char *subject, pp_arena *arena,
                        const pp_run_kind **kind, const char **folder)
{
    *kind = pp_kind_find(pp_request_argument(request, "kind"));
    *folder = *kind ? pp_kind_folder(*kind, subject, arena) : NULL;
    return *folder != NULL;
}

/* What stands of one plate: its report's facts and whether its inputs are still the same bytes. */
static enum MHD_Result give_plate(pp_request *request)
{
    pp_server *server = request->server;
    const char *job = pp_request_path(request, "job");
    if (!job) return no_such_name(request);
    pp_arena arena = {0};
    const char *report = pp_kind_folder(&pp_kind_report, job, &arena);
    json_t *results = report ? pp_standing_read(server->root, report) : NULL;
    json_t *answer =
        json_pack("{s:s, s:b}", "job", job, "bundle", pp_plates_is_set(server->root, job));
    if (results) {
        json_t *inputs = pp_standing_inputs(results, server->folder, job);
        json_object_set_new(answer, "report", json_string(report));
        json_object_set_new(answer, "facts", pp_standing_facts(results));
        json_object_set(answer, "identity", json_object_get(results, "job"));
        json_object_set_new(answer, "inputs", pp_standing_compare(server->root, inputs));
        json_object_set_new(answer, "files", pp_standing_files(server->root, report));
        json_decref(inputs);
    }
    json_decref(results);
    pp_arena_free(&arena);
    return pp_reply_json(request, MHD_HTTP_OK, answer);
}

/* What stands of another result: {"page": its name, "files": [names]}; no files, none yet. */
static enum MHD_Result give_result(pp_request *request)
{
    const char *subject = pp_request_path(request, "job");
    pp_arena arena = {0};
    const pp_run_kind *kind;
    const char *folder;
    if (!subject || !find_result(request, subject, &arena, &kind, &folder)) {
        pp_arena_free(&arena);
        return no_such_name(request);
    }
    json_t *answer = json_pack("{s:s, s:o}", "page", kind->page, "files",
                               pp_standing_files(request->server->root, folder));
    pp_arena_free(&arena);
    return pp_reply_json(request, MHD_HTTP_OK, answer);
}

/* ---- files of a report ---- */

/* A file of a result; its page (name NULL) is shown, every other is saved. */
static enum MHD_Result send_file(const pp_request *request, const char *subject, const char *name)
{
    struct stat found;
    char path[PP_BENEATH_PATH_MAX];
    pp_arena arena = {0};
    const pp_run_kind *kind;
    const char *folder;
    bool known = find_result(request, subject, &arena, &kind, &folder);
    const char *wanted = name ? name : known ? kind->page : "";
    bool named = known && pp_beneath_join("", folder, wanted, path) && pp_beneath_proper(path);
    int handle = named ? pp_beneath_open_file(request->server->root, path, &found) : -1;
    pp_arena_free(&arena);
    if (handle < 0)
        return pp_reply_problem(request, MHD_HTTP_NOT_FOUND,
                                "that file is not there; run the plate again");
    pp_reply_file file = {.handle = handle,
                          .size = found.st_size,
                          .type = type_of(wanted),
                          .policy = name ? NULL : REPORT_POLICY,
                          .download = name};
    return pp_reply_file_of_folder(request, &file);
}

static enum MHD_Result give_report(pp_request *request)
{
    const char *job = pp_request_path(request, "job");
    return job ? send_file(request, job, NULL) : no_such_name(request);
}

static enum MHD_Result give_file(pp_request *request)
{
    const char *job = pp_request_path(request, "job");
    const char *name = pp_request_path(request, "name");
    if (!job || !name || strchr(name, '/')) return no_such_name(request);
    return send_file(request, job, name);
}

static enum MHD_Result give_archive(pp_request *request)
{
    const char *job = pp_request_path(request, "job");
    if (!job) return no_such_name(request);
    pp_arena arena = {0};
    const char *report = pp_kind_folder(&pp_kind_report, job, &arena);
    json_t *results = report ? pp_standing_read(request->server->root, report) : NULL;
    enum MHD_Result queued =
        results ? pp_archive_send(request, report)
                : pp_reply_problem(request, MHD_HTTP_NOT_FOUND, "there is no report yet; run it");
    json_decref(results);
    pp_arena_free(&arena);
    return queued;
}

/* ---- runs ---- */

/* The JSON body; NULL where it is none, and the refusal is queued. */
static json_t *body_of(const pp_request *request, enum MHD_Result *queued)
{
    const char *type = pp_request_header(request, MHD_HTTP_HEADER_CONTENT_TYPE);
    if (!type || strcmp(type, "application/json") != 0) {
        *queued = pp_reply_nothing(request, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE);
        return NULL;
    }
    json_t *body = json_loadb(request->body.length ? request->body.data : "", request->body.length,
                              JSON_REJECT_DUPLICATES, NULL);
    if (json_is_object(body)) return body;
    json_decref(body);
    *queued = pp_reply_nothing(request, MHD_HTTP_BAD_REQUEST);
    return NULL;
}

static enum MHD_Result begin_run(pp_request *request, pp_run_order *order)
{
    long number = pp_runs_ask(&request->server->runs, order);
    if (number < 0)
        return pp_reply_problem(request, MHD_HTTP_SERVICE_UNAVAILABLE,
                                "too many runs wait already; let some end");
    if (number == 0)
        return pp_reply_problem(request, MHD_HTTP_CONFLICT, "this plate is being run already");
    pp_serve_wake(request->server);
    return pp_reply_json(request, MHD_HTTP_ACCEPTED,
                         json_pack("{s:I}", "number", (json_int_t)number));
}

static enum MHD_Result start_run(pp_request *request)
{
    enum MHD_Result queued = MHD_NO;
    json_t *body = body_of(request, &queued);
    if (!body) return queued;
    const char *path = json_string_value(json_object_get(body, "job"));
    pp_error error = {0};
    pp_run_order order;
    if (!path || !pp_beneath_proper(path))
        queued = no_such_name(request);
    else
        queued = pp_order_make(request->server, body, &order, &error) == PP_OK
                     ? begin_run(request, &order)
                     : give_error(request, &error);
    json_decref(body);
    return queued;
}

static enum MHD_Result stop_run(pp_request *request)
{
    enum MHD_Result queued = MHD_NO;
    json_t *body = body_of(request, &queued);
    if (!body) return queued;
    long number = (long)json_integer_value(json_object_get(body, "number"));
    json_decref(body);
    if (!pp_runs_stop(&request->server->runs, number))
        return pp_reply_problem(request, MHD_HTTP_NOT_FOUND, "that run has ended already");
    return pp_reply_json(request, MHD_HTTP_OK, json_object());
}

/* ---- following the instrument ---- */

/* The files that the job names, and the job file. Only what stands below the folder. */
static int files_to_follow(const pp_server *server, const char *path, const pp_job *job,
                           char (*files)[PP_BENEATH_PATH_MAX])
{
    char folder[PP_BENEATH_PATH_MAX];
    const char *slash = strrchr(path, '/');
    int count = 0;
    snprintf(folder, sizeof folder, "%.*s", slash ? (int)(slash - path) : 0, path);
    snprintf(files[count++], PP_BENEATH_PATH_MAX, "%s", path);
    for (size_t i = 0; pp_list_preview_role(i) && count < PP_LIVE_FILES_MAX; i++) {
        const pp_job_file *file = pp_list_preview_file(job, pp_list_preview_role(i));
        if (!file->path) continue;
        if (pp_beneath_join(server->folder, folder, file->written, files[count]) &&
            pp_beneath_proper(files[count]))
            count++;
    }
    return count;
}

static pp_status follow(pp_server *server, const json_t *asked, json_t **answer, pp_error *error)
{
    const char *path = json_string_value(json_object_get(asked, "job"));
    char files[PP_LIVE_FILES_MAX][PP_BENEATH_PATH_MAX];
    pp_memory memory = {0};
    pp_job job;
    pp_status status = PP_OK;
    if (json_is_true(json_object_get(asked, "follow"))) {
        status = pp_plates_job(server->folder, server->root, path, &memory, &job, error);
        if (status == PP_OK)
            status = pp_fence_check(server->folder, server->root, path, &job, error);
        if (status == PP_OK && !job.holes.measured.path)
            status = pp_fail(error, PP_EINPUT,
                             "this job names no list of measured holes; name the file that the "
                             "instrument will write under measured in [holes]");
        if (status == PP_OK &&
            !pp_live_follow(&server->live, path, files_to_follow(server, path, &job, files),
                            (const char(*)[PP_BENEATH_PATH_MAX])files))
            status = pp_fail(error, PP_EINPUT, "%d plates are followed already; leave one of them",
                             PP_LIVE_MAX);
    } else {
        pp_live_leave(&server->live, path);
    }
    pp_memory_free(&memory);
    if (status == PP_OK) pp_serve_wake(server);
    if (status == PP_OK) *answer = json_pack("{s:o}", "followed", pp_live_tell(&server->live));
    return status;
}

/* ---- the job page ---- */

static enum MHD_Result give_keys(pp_request *request)
{
    return pp_reply_json(request, MHD_HTTP_OK, pp_form_keys());
}

typedef pp_status (*form_answer)(pp_server *server, const json_t *asked, json_t **answer,
                                 pp_error *error);

/* JSON in, JSON out; a conflict has its own status. */
static enum MHD_Result answer_form(pp_request *request, form_answer make)
{
    enum MHD_Result queued = MHD_NO;
    json_t *body = body_of(request, &queued), *answer = NULL;
    if (!body) return queued;
    const char *path = json_string_value(json_object_get(body, "job"));
    pp_error error = {0};
    if (!path || !pp_beneath_proper(path))
        queued = no_such_name(request);
    else if (make(request->server, body, &answer, &error) != PP_OK)
        queued = give_error(request, &error);
    else
        queued = pp_reply_json(
            request, json_object_get(answer, "conflict") ? MHD_HTTP_CONFLICT : MHD_HTTP_OK, answer);
    json_decref(body);
    return queued;
}

static enum MHD_Result read_form(pp_request *request) { return answer_form(request, pp_form_read); }
static enum MHD_Result check_form(pp_request *request)
{
    return answer_form(request, pp_form_check);
}
static enum MHD_Result edit_form(pp_request *request) { return answer_form(request, pp_form_edit); }
static enum MHD_Result save_form(pp_request *request) { return answer_form(request, pp_form_save); }
static enum MHD_Result limits_of_form(pp_request *request)
{
    return answer_form(request, pp_form_limits);
}
static enum MHD_Result files_of_form(pp_request *request)
{
    return answer_form(request, pp_form_files);
}

static enum MHD_Result picture_of_form(pp_request *request)
{
    return answer_form(request, pp_form_picture);
}

static enum MHD_Result set_follow(pp_request *request) { return answer_form(request, follow); }

static enum MHD_Result read_ticks(pp_request *request)
{
    return answer_form(request, pp_ticks_read);
}
static enum MHD_Result set_tick(pp_request *request) { return answer_form(request, pp_ticks_set); }

static enum MHD_Result end_upload(pp_request *request)
{
    if (request->trouble.status == PP_OK) pp_upload_finish(&request->upload, &request->trouble);
    return request->trouble.status == PP_OK
               ? pp_reply_json(request, MHD_HTTP_CREATED,
                               json_pack("{s:I}", "size", (json_int_t)request->upload.size))
               : give_error(request, &request->trouble);
}

/* ---- the table ---- */

typedef struct route {
    const char *method, *url;
    bool below; /* everything that begins with url */
    enum MHD_Result (*answer)(pp_request *request);
} route;

static const route ROUTES[] = {
    {"GET", "/", false, give_page},
    {"GET", "/web/", true, give_own},
    {"GET", "/api/plates", false, give_plates},
    {"GET", "/api/plate", false, give_plate},
    {"GET", "/api/histories", false, give_histories},
    {"GET", "/api/result", false, give_result},
    {"GET", "/report", false, give_report},
    {"GET", "/file", false, give_file},
    {"GET", "/archive", false, give_archive},
    {"GET", "/api/events", false, pp_events_stream},
    {"POST", "/api/run", false, start_run},
    {"POST", "/api/stop", false, stop_run},
    {"GET", "/api/keys", false, give_keys},
    {"POST", "/api/job", false, read_form},
    {"POST", "/api/check", false, check_form},
    {"POST", "/api/edit", false, edit_form},
    {"POST", "/api/save", false, save_form},
    {"POST", "/api/limits", false, limits_of_form},
    {"POST", "/api/files", false, files_of_form},
    {"POST", "/api/picture", false, picture_of_form},
    {"POST", "/api/follow", false, set_follow},
    {"POST", "/api/ticks", false, read_ticks},
    {"POST", "/api/tick", false, set_tick},
    {"PUT", "/api/upload", false, end_upload},
};

enum MHD_Result pp_route(pp_request *request)
{
    const char *method = strcmp(request->method, "HEAD") == 0 ? "GET" : request->method;
    bool other_method = false;
    for (size_t i = 0; i < sizeof ROUTES / sizeof *ROUTES; i++) {
        const route *r = &ROUTES[i];
        bool meant = r->below ? strncmp(request->url, r->url, strlen(r->url)) == 0
                              : strcmp(request->url, r->url) == 0;
        if (!meant) continue;
        if (strcmp(r->method, method) == 0) return r->answer(request);
        other_method = true;
    }
    return pp_reply_nothing(request,
                            other_method ? MHD_HTTP_METHOD_NOT_ALLOWED : MHD_HTTP_NOT_FOUND);
}

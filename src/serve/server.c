#include "serve/server.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <signal.h>
#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <sys/poll.h>
#include <sys/signalfd.h>
#include <time.h>
#include <unistd.h>

#include "serve/reply.h"
#include "serve/routes.h"

enum { POOL = 32 * 1024 /* of one connection: its header, twice over */, STACK = 1024 * 1024 };

/* Seconds of a clock that is not set back. */
static long seconds_now(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec;
}

void pp_serve_wake(pp_server *server)
{
    /* fails only when as many wake-ups wait already as fit into 64 bits */
    if (eventfd_write(server->wake, 1) != 0) return;
}

/* ---- what libmicrohttpd calls ---- */

static void note_connection(void *context, struct MHD_Connection *connection, void **kept,
                            enum MHD_ConnectionNotificationCode code)
{
    pp_server *server = context;
    if (code == MHD_CONNECTION_NOTIFY_STARTED) {
        const union MHD_ConnectionInfo *info =
            MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
        *kept = info ? pp_watch_add(&server->watch, info->connect_fd, seconds_now()) : NULL;
    } else if (*kept) {
        pp_watch_remove(&server->watch, *kept);
        *kept = NULL;
    }
}

static pp_watched *watched_of(struct MHD_Connection *connection)
{
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    return info ? info->socket_context : NULL;
}

static void set_deadline(pp_request *request, long deadline)
{
    if (request->watched) pp_watch_set(&request->server->watch, request->watched, deadline);
}

static void note_end(void *context, struct MHD_Connection *connection, void **kept,
                     enum MHD_RequestTerminationCode code)
{
    (void)context, (void)connection, (void)code;
    pp_request *request = *kept;
    if (!request) return;
    set_deadline(request, seconds_now() + PP_IDLE_SECONDS);
    pp_text_free(&request->body);
    if (request->uploading) pp_upload_end(&request->upload);
    free(request);
    *kept = NULL;
}

static enum MHD_Result begin(pp_server *server, struct MHD_Connection *connection, const char *url,
                             const char *method, void **kept)
{
    pp_request *request = calloc(1, sizeof *request);
    if (!request) return MHD_NO;
    *kept = request;
    *request = (pp_request){.server = server,
                            .connection = connection,
                            .watched = watched_of(connection),
                            .url = url,
                            .method = method,
                            .begun = seconds_now()};
    if (atomic_load(&server->ending)) return MHD_NO;
    if (!pp_watch_pace(&server->watch, request->begun))
        return pp_reply_nothing(request, MHD_HTTP_TOO_MANY_REQUESTS);
    unsigned refusal = pp_request_refusal(request);
    if (refusal) return pp_reply_nothing(request, refusal);
    atomic_store(&server->asked, request->begun);
    if (strcmp(url, "/api/upload") == 0 && strcmp(method, MHD_HTTP_METHOD_PUT) == 0) {
        const char *path = pp_request_path(request, "path");
        if (!path) return pp_reply_nothing(request, MHD_HTTP_BAD_REQUEST);
        request->uploading = true;
        pp_upload_begin(server->root, path, &request->upload, &request->trouble);
    }
    return MHD_YES;
}

/* After a mistake the rest is read and dropped, so that the browser hears what was wrong. */
static enum MHD_Result take_file(pp_request *request, const char *bytes, size_t *size)
{
    if (request->trouble.status == PP_OK)
        pp_upload_add(&request->upload, bytes, *size, &request->trouble);
    set_deadline(request,
                 request->begun + PP_IDLE_SECONDS + (long)(request->upload.size / PP_BODY_PACE));
    *size = 0;
    return MHD_YES;
}

static enum MHD_Result take_body(pp_request *request, const char *bytes, size_t *size)
{
    if (request->uploading) return take_file(request, bytes, size);
    if (request->body.length + *size > PP_JSON_MAX)
        return MHD_NO; /* far beyond any job: nothing to say to such a sender */
    pp_text_add_bytes(&request->body, bytes, *size);
    *size = 0;
    if (request->body.failed) return MHD_NO;
    set_deadline(request,
                 request->begun + PP_IDLE_SECONDS + (long)(request->body.length / PP_BODY_PACE));
    return MHD_YES;
}

static enum MHD_Result handle(void *context, struct MHD_Connection *connection, const char *url,
                              const char *method, const char *version, const char *bytes,
                              size_t *size, void **kept)
{
    (void)version;
    if (!*kept) return begin(context, connection, url, method, kept);
    pp_request *request = *kept;
    if (*size > 0) return take_body(request, bytes, size);
    set_deadline(request, 0); /* it has said what it wants */
    return pp_route(request);
}

/* ---- begin and end ---- */

static pp_status open_folder(pp_server *server, pp_error *error)
{
    const char *named = server->options->folder;
    server->folder = realpath(named, NULL);
    if (server->folder) server->root = open(server->folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (server->root >= 0) return PP_OK;
    int why = errno;
    free(server->folder);
    return pp_fail_at(error, why == ENOENT || why == ENOTDIR ? PP_EINPUT : PP_EIO, named, 0, 0,
                      "cannot be served (%s); name a folder that is there and may be read",
                      strerror(why));
}

static struct MHD_Daemon *listen_here(pp_server *server, pp_error *error)
{
    struct sockaddr_in here = {.sin_family = AF_INET,
                               .sin_port = htons((uint16_t)server->options->port),
                               .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    struct MHD_Daemon *daemon = MHD_start_daemon(
        MHD_USE_THREAD_PER_CONNECTION | MHD_USE_INTERNAL_POLLING_THREAD | MHD_USE_POLL |
            MHD_USE_ITC,
        0, NULL, NULL, handle, server, MHD_OPTION_SOCK_ADDR, (struct sockaddr *)&here,
        MHD_OPTION_CONNECTION_LIMIT, (unsigned)PP_CONNECTIONS_MAX, MHD_OPTION_CONNECTION_TIMEOUT,
        (unsigned)PP_IDLE_SECONDS, MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)POOL,
        MHD_OPTION_THREAD_STACK_SIZE, (size_t)STACK, MHD_OPTION_STRICT_FOR_CLIENT, 1,
        MHD_OPTION_NOTIFY_CONNECTION, note_connection, server, MHD_OPTION_NOTIFY_COMPLETED,
        note_end, server, MHD_OPTION_END);
    if (!daemon)
        pp_fail(error, PP_EINPUT,
                "nothing can listen on 127.0.0.1, port %u (%s); choose another with --port, or "
                "leave it out for any free one",
                server->options->port, strerror(errno));
    return daemon;
}

static void tell_address(pp_server *server, bool first)
{
    char address[128];
    pthread_mutex_lock(&server->guard_lock);
    snprintf(address, sizeof address, "http://127.0.0.1:%u/?token=%s", server->guard.port,
             server->guard.token);
    pthread_mutex_unlock(&server->guard_lock);
    server->options->address(server->options->context, address, first);
}

/* ---- waiting ---- */

static bool nobody_there(pp_server *server)
{
    double minutes = server->options->idle_minutes;
    if (atomic_load(&server->watching) > 0) return false;
    return minutes > 0 && (double)(seconds_now() - atomic_load(&server->asked)) >= minutes * 60;
}

/* A signal that ends the server; 0 for none (a child's end is looked at anyway). */
static int take_signal(int signals)
{
    struct signalfd_siginfo caught;
    while (read(signals, &caught, sizeof caught) == sizeof caught)
        if (caught.ssi_signo != SIGCHLD) return (int)caught.ssi_signo;
    return 0;
}

/* Until a signal (returned), or until nobody asks any more (0). */
static int wait_for_end(pp_server *server, int signals)
{
    while (!nobody_there(server)) {
        struct pollfd wanted[3 + 2 * PP_RUNS_MAX] = {
            {.fd = signals, .events = POLLIN},
            {.fd = server->wake, .events = POLLIN},
            {.fd = pp_live_wanted(&server->live), .events = POLLIN}};
        int more = pp_runs_wanted(&server->runs, wanted + 3, 2 * PP_RUNS_MAX);
        poll(wanted, (nfds_t)(3 + more), pp_live_any(&server->live) ? PP_LIVE_LOOK_MS : 1000);
        int signal = take_signal(signals);
        if (signal) return signal;
        eventfd_t times;
        if (wanted[1].revents) eventfd_read(server->wake, &times);
        pp_runs_look(&server->runs);
        pp_live_look(&server->live);
        pp_runs_start_waiting(&server->runs);
        if (atomic_exchange(&server->token_used, false)) tell_address(server, false);
        pp_watch_drop_late(&server->watch, seconds_now());
    }
    return 0;
}

static pp_status run(pp_server *server, int signals, int *ended_by, pp_error *error)
{
    struct MHD_Daemon *daemon = listen_here(server, error);
    if (!daemon) return PP_EINPUT;
    const union MHD_DaemonInfo *info = MHD_get_daemon_info(daemon, MHD_DAEMON_INFO_BIND_PORT);
    pp_guard_begin(&server->guard, info ? info->port : server->options->port);
    tell_address(server, true);
    *ended_by = wait_for_end(server, signals);
    atomic_store(&server->ending, true);
    pp_runs_end(&server->runs);
    MHD_stop_daemon(daemon); /* ends every connection and waits for its thread */
    return PP_OK;
}

static void release(pp_server *server)
{
    pp_plates_end(&server->plates);
    pp_live_end(&server->live);
    pp_runs_release(&server->runs);
    sodium_memzero(&server->guard, sizeof server->guard);
    if (server->wake >= 0) close(server->wake);
    if (server->root >= 0) close(server->root);
    free(server->folder);
}

pp_status pp_serve(const pp_serve_options *options, int *signal, pp_error *error)
{
    pp_server server = {.options = options, .root = -1, .wake = -1};
    sigset_t caught, held, before;
    sigemptyset(&caught);
    sigaddset(&caught, SIGINT);
    sigaddset(&caught, SIGTERM);
    sigaddset(&caught, SIGHUP);
    sigaddset(&caught, SIGCHLD);
    if (sodium_init() < 0) return pp_fail(error, PP_EIO, "no random numbers can be had");
    PP_TRY(open_folder(&server, error));
    pthread_mutex_init(&server.guard_lock, NULL);
    pthread_mutex_init(&server.save_lock, NULL);
    pp_watch_begin(&server.watch);
    pp_plates_begin(&server.plates);
    if (!pp_runs_begin(&server.runs, server.folder) ||
        !pp_live_begin(&server.live, server.root, &server.runs)) {
        release(&server);
        return pp_fail_memory(error);
    }
    atomic_store(&server.asked, seconds_now());
    held = caught;
    sigaddset(&held, SIGPIPE); /* a browser that went away is no reason to end */
    pthread_sigmask(SIG_BLOCK, &held, &before);
    int signals = signalfd(-1, &caught, SFD_CLOEXEC | SFD_NONBLOCK);
    server.wake = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    pp_status status =
        signals >= 0 && server.wake >= 0
            ? run(&server, signals, signal, error)
            : pp_fail(error, PP_EIO, "cannot wait for signals (%s)", strerror(errno));
    if (signals >= 0) close(signals);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    release(&server);
    return status;
}

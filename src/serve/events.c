#include "serve/events.h"

#include <stdlib.h>
#include <string.h>

#include "serve/reply.h"

enum { BEAT_SECONDS = 10, PIECE = 8192 };

typedef struct stream {
    pp_server *server;
    unsigned long version; /* last told; 0: none yet */
    char *text;            /* being sent */
    size_t length, sent;
} stream;

/* The next event, or a comment that keeps the line open; false at the end. */
static bool next_text(stream *s)
{
    unsigned long now = pp_runs_await(&s->server->runs, s->version, BEAT_SECONDS);
    free(s->text);
    s->text = NULL;
    s->length = s->sent = 0;
    if (now == 0) return false;
    pp_text text = {0};
    if (now == s->version) {
        pp_text_add(&text, ":\n\n");
    } else {
        json_t *told = pp_runs_tell(&s->server->runs);
        json_object_set_new(told, "followed", pp_live_tell(&s->server->live));
        char *line = json_dumps(told, JSON_COMPACT);
        json_decref(told);
        pp_text_print(&text, "data: %s\n\n", line ? line : "{\"runs\":[]}");
        free(line);
        s->version = now;
    }
    if (text.failed) pp_text_free(&text);
    s->text = text.data;
    s->length = text.length;
    return text.length > 0;
}

static ssize_t give(void *context, uint64_t at, char *buffer, size_t room)
{
    (void)at;
    stream *s = context;
    if (s->sent == s->length && !next_text(s)) return MHD_CONTENT_READER_END_OF_STREAM;
    size_t left = s->length - s->sent;
    size_t given = left < room ? left : room;
    memcpy(buffer, s->text + s->sent, given);
    s->sent += given;
    return (ssize_t)given;
}

static void let_go(void *context)
{
    stream *s = context;
    atomic_fetch_sub(&s->server->watching, 1);
    free(s->text);
    free(s);
}

enum MHD_Result pp_events_stream(pp_request *request)
{
    stream *s = calloc(1, sizeof *s);
    if (!s) return pp_reply_nothing(request, MHD_HTTP_INTERNAL_SERVER_ERROR);
    s->server = request->server;
    atomic_fetch_add(&s->server->watching, 1);
    return pp_reply_stream(request, "text/event-stream", NULL, PIECE, give, s, let_go);
}

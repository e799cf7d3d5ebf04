/* Connections that take too long to say what they want are dropped: a deadline each, looked at once
 * a second. */
#ifndef PP_SERVE_WATCH_H
#define PP_SERVE_WATCH_H

#include <pthread.h>
#include <stdbool.h>

enum {
    PP_CONNECTIONS_MAX = 64,
    PP_IDLE_SECONDS = 30, /* until the whole request is there, or the next one */
    /* a body may take longer if it keeps coming: bytes a second at least, on average */
    PP_BODY_PACE = 16 * 1024,
    PP_PACE_MAX = 1000 /* requests a second, of all connections together */
};

typedef struct pp_watched {
    int socket;    /* -1: free */
    long deadline; /* seconds (CLOCK_MONOTONIC); 0: none */
} pp_watched;

typedef struct pp_watch {
    pthread_mutex_t lock;
    pp_watched connection[PP_CONNECTIONS_MAX];
    long second; /* the running one, and how many requests came in it */
    int requests;
} pp_watch;

/* Every place free. */
void pp_watch_begin(pp_watch *watch);
/* A place for a new connection; NULL when all are taken. */
pp_watched *pp_watch_add(pp_watch *watch, int socket, long now);
void pp_watch_remove(pp_watch *watch, pp_watched *connection);
void pp_watch_set(pp_watch *watch, pp_watched *connection, long deadline);
/* Count a request; false when there are too many this second. */
bool pp_watch_pace(pp_watch *watch, long now);
/* Shut down what is past its deadline; its thread then closes it. */
void pp_watch_drop_late(pp_watch *watch, long now);

#endif

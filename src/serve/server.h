/* What all parts of the server share. */
#ifndef PP_SERVE_SERVER_H
#define PP_SERVE_SERVER_H

#include <pthread.h>
#include <stdatomic.h>

#include "serve/guard.h"
#include "serve/live.h"
#include "serve/plates.h"
#include "serve/runs.h"
#include "serve/serve.h"
#include "serve/watch.h"

typedef struct pp_server {
    const pp_serve_options *options;
    char *folder; /* absolute, links resolved, without a slash at its end */
    int root;     /* the folder, opened: everything is opened below it */
    pthread_mutex_t guard_lock;
    pp_guard guard;
    pp_watch watch;
    pp_plates plates;
    pthread_mutex_t save_lock; /* of looking at a file and writing it */
    pp_runs runs;
    pp_live live;
    atomic_int watching;    /* streams of events that are open: somebody is there */
    int wake;               /* eventfd: the waiting thread has something to look at */
    atomic_bool ending;     /* no new work */
    atomic_long asked;      /* when somebody last asked, seconds (CLOCK_MONOTONIC) */
    atomic_bool token_used; /* another address is to be told */
} pp_server;

/* Have the waiting thread look at what there is to do. */
void pp_serve_wake(pp_server *server);

#endif

#include "base/parallel.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdlib.h>

enum { THREADS_MAX = 256 };

typedef struct crew {
    pp_part_work work;
    void *context;
    size_t parts;
    atomic_size_t next;
    pthread_mutex_t lock;
    size_t failed_part; /* lowest; `parts` when none failed */
    pp_error error;
} crew;

typedef struct member {
    crew *crew;
    int worker;
} member;

static void *run(void *argument)
{
    member *self = argument;
    crew *c = self->crew;
    pp_error error;
    for (;;) {
        size_t part = atomic_fetch_add(&c->next, 1);
        if (part >= c->parts) return NULL;
        error = (pp_error){0};
        pp_status status = c->work(c->context, part, self->worker, &error);
        if (status == PP_OK) continue;
        error.status = status;
        pthread_mutex_lock(&c->lock);
        if (part < c->failed_part) {
            c->failed_part = part;
            c->error = error;
        }
        pthread_mutex_unlock(&c->lock);
        atomic_store(&c->next, c->parts); /* parts already under way finish */
        return NULL;
    }
}

pp_status pp_parallel(int threads, size_t parts, pp_part_work work, void *context, pp_error *error)
{
    crew c = {.work = work, .context = context, .parts = parts, .failed_part = parts};
    if (threads > THREADS_MAX) threads = THREADS_MAX;
    if ((size_t)threads > parts) threads = (int)parts;
    pthread_mutex_init(&c.lock, NULL);
    pthread_t handles[THREADS_MAX];
    member members[THREADS_MAX];
    int started = 0;
    for (int i = 1; i < threads; i++) {
        members[i] = (member){&c, i};
        /* a thread that cannot start only means less help */
        if (pthread_create(&handles[started], NULL, run, &members[i]) == 0) started++;
    }
    run(&(member){&c, 0});
    for (int i = 0; i < started; i++) pthread_join(handles[i], NULL);
    pthread_mutex_destroy(&c.lock);
    if (c.failed_part == parts) return PP_OK;
    if (error) *error = c.error;
    return c.error.status;
}

size_t pp_part_begin(size_t count, size_t parts, size_t part)
{
    size_t whole = count / parts, rest = count % parts;
    return whole * part + (part < rest ? part : rest);
}

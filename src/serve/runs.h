/* Runs of jobs: each a child process of the same program, so that a crash or a runaway file ends
 * one run and never the server. As many at once as processors, the rest wait. */
#ifndef PP_SERVE_RUNS_H
#define PP_SERVE_RUNS_H

#include <jansson.h>
#include <poll.h>
#include <pthread.h>
#include <stdbool.h>
#include <sys/types.h>

#include "base/text.h"
#include "serve/beneath.h"
#include "serve/kinds.h"

enum {
    PP_RUNS_MAX = 64,        /* kept, ended ones included */
    PP_RUN_STAGES_MAX = 200, /* steps told of one run */
    PP_RUN_WORDS_MAX = 256,  /* of the command line */
    PP_RUN_SAID_MAX = 16384  /* bytes kept of what it says */
};

typedef enum pp_run_state {
    PP_RUN_FREE, /* the place */
    PP_RUN_WAITING,
    PP_RUN_GOING,
    PP_RUN_ENDED
} pp_run_state;

typedef struct pp_run_stage {
    char name[64];
    double begun; /* seconds since the run began */
    double share; /* done of it, 0..1 */
} pp_run_stage;

/* What is asked for. */
typedef struct pp_run_order {
    char subject[PP_BENEATH_PATH_MAX]; /* a job, a set, a history, below the folder */
    const pp_run_kind *kind;
    bool steps; /* the command tells its steps */
    /* the command and its words, a zero byte behind each; a word that begins with '/' is a place
     * below the folder */
    pp_text words;
} pp_run_order;

typedef struct pp_child_run {
    pp_run_state state;
    long number; /* counts up: never the same twice */
    pp_run_order order;
    bool stopped; /* somebody asked for its end */
    pid_t child;
    int steps, errors; /* reading ends; -1 */
    double begun, ended;
    int status; /* exit status; 128 + signal */
    size_t stage_count;
    pp_run_stage stages[PP_RUN_STAGES_MAX];
    pp_text line; /* of steps, not yet whole */
    pp_text said; /* what is wrong, or, of a kind that tells, everything */
} pp_child_run;

typedef struct pp_runs {
    pthread_mutex_t lock;
    pthread_cond_t changed; /* CLOCK_MONOTONIC */
    unsigned long version;  /* goes up with every change */
    bool ending;
    long next;
    int at_once;
    const char *top; /* absolute path of the folder */
    pp_child_run *run;
} pp_runs;

/* Places for runs below the folder `top`, which must last. False when memory ran out. */
bool pp_runs_begin(pp_runs *runs, const char *top);
/* Ends every child (SIGTERM, after half a second SIGKILL); who waits for news goes home. */
void pp_runs_end(pp_runs *runs);
/* Gives everything back, once no other thread asks. */
void pp_runs_release(pp_runs *runs);

/* From any thread: put a run in the queue; its number, or 0 when this kind of it runs already, -1
 * when there is no place. The order's words are given away, whatever is returned. Runs of another
 * kind do not get in each other's way. */
long pp_runs_ask(pp_runs *runs, pp_run_order *order);
/* From any thread: something that is told beside the runs has changed. */
void pp_runs_note(pp_runs *runs);
/* From any thread: take it out of the queue, or end it. False: no such run goes or waits. */
bool pp_runs_stop(pp_runs *runs, long number);

/* From the one thread that waits: begin what may begin; what to wait for; look at what came (and
 * at children that ended). */
void pp_runs_start_waiting(pp_runs *runs);
int pp_runs_wanted(pp_runs *runs, struct pollfd *wanted, int room);
void pp_runs_look(pp_runs *runs);

/* {"runs": [{"number", "job", "kind", "state": waiting, running, done, stopped or failed,
 * "seconds", "stages": [{"name", "begun", "share"}], "status", "said"}]}, newest first. What is
 * said names files as seen from the folder. */
json_t *pp_runs_tell(pp_runs *runs);

/* Wait until the version is another one, for at most `seconds`; the version then, 0 at the end. */
unsigned long pp_runs_await(pp_runs *runs, unsigned long version, int seconds);

#endif

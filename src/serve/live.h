/* Following the instrument: when a file that a job names was written, `holes` runs again into
 * NAME-live, beside the report that stands, and the page shows what has been measured so far. */
#ifndef PP_SERVE_LIVE_H
#define PP_SERVE_LIVE_H

#include <jansson.h>
#include <pthread.h>
#include <stdbool.h>

#include "plateproof/error.h"
#include "serve/beneath.h"
#include "serve/runs.h"

enum {
    PP_LIVE_MAX = 8,        /* jobs followed at once */
    PP_LIVE_FILES_MAX = 12, /* files of one */
    PP_LIVE_LOOK_MS = 100   /* between two looks, while something is followed */
};

typedef struct pp_live_job {
    char job[PP_BENEATH_PATH_MAX]; /* "": free */
    int file_count;
    char file[PP_LIVE_FILES_MAX][PP_BENEATH_PATH_MAX]; /* below the folder, the job file too */
    unsigned long long ran_for; /* the state of the files at the last run; 0: none yet */
    unsigned long long seen;    /* at the last look */
    double since;               /* when it was seen first (pp_child_clock) */
} pp_live_job;

typedef struct pp_live {
    pthread_mutex_t lock;
    int root;
    pp_runs *runs;
    int notices; /* inotify; -1: the files are looked at by size and time only */
    pp_live_job *job;
} pp_live;

/* Nothing is followed. `runs` must last. False when memory ran out. */
bool pp_live_begin(pp_live *live, int root, pp_runs *runs);
void pp_live_end(pp_live *live);

/* From any thread: follow a job whose files (below the folder, proper) are given, or follow it no
 * more. False: as many as can be are followed already. */
bool pp_live_follow(pp_live *live, const char *job, int file_count,
                    const char (*files)[PP_BENEATH_PATH_MAX]);
void pp_live_leave(pp_live *live, const char *job);
/* Names of the jobs that are followed. */
json_t *pp_live_tell(pp_live *live);

/* From the one thread that waits: is anything followed, and what to poll (-1: nothing)? */
bool pp_live_any(pp_live *live);
int pp_live_wanted(const pp_live *live);
/* Look at the files; ask for a run where some were written: at once when they were closed or moved
 * there, else once size and time have stood still for 0.3 s. */
void pp_live_look(pp_live *live);

#endif

/* How far a run is: for people on a terminal, for programs as JSON lines. */
#ifndef PP_CLI_PROGRESS_H
#define PP_CLI_PROGRESS_H

#include <stdbool.h>

typedef struct pp_progress {
    bool on;    /* on the terminal (standard error) */
    bool shown; /* something stands there */
    int lines;  /* also a line for each step to this handle; -1: none */
} pp_progress;

/* The handle that `text` (of --progress-fd) names, or -1 where it names none that can be written
 * to; NULL names none. *wrong: it was given and is no such handle, which has been said. */
int pp_progress_handle(const char *text, bool *wrong);

/* A stage from its beginning (share 0: a long one says nothing more until it ends), or how much of
 * it is done. {"stage": "hold-down", "share": 0.25} is the line. `context` is a pp_progress. */
void pp_progress_show(void *context, const char *stage, double share);

/* Take away what stands on the terminal. */
void pp_progress_end(pp_progress *progress);

#endif

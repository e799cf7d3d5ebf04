/* Jobs side by side, in processes that each do one after the other: what a job prints, and its row
 * of the table, come out whole and in the order of the jobs, whichever is ready first. A job that
 * brings its process down takes no other job with it. */
#ifndef PP_CLI_SIDE_BY_SIDE_H
#define PP_CLI_SIDE_BY_SIDE_H

#include <stdbool.h>

#include "base/text.h"
#include "plateproof/error.h"

typedef struct pp_side_work {
    int count;   /* jobs */
    int at_once; /* processes, >= 1 */
    /* In the process of the job: its exit status; its row of the table. */
    int (*run)(void *context, int job, pp_text *row);
    /* In the program's own, before what a job has printed is put out: the terminal's line is freed.
     */
    void (*clear)(void *context);
    /* After it, for one job after the other: its status, what it has printed is out.
     * signal: that ended it, unasked; 0. false: begin no more. */
    bool (*done)(void *context, int job, int status, int signal, const pp_text *row);
    void *context;
} pp_side_work;

/* Run all. A signal to this process is passed on, and no job begins after it; *ended_by: the signal
 * by which the shell or a closed pipe ended a job, so that the program ends by it, too; 0.
 * errors: PP_EIO no process or no memory file could be had, or a process ended badly after its jobs
 */
pp_status pp_side_by_side(const pp_side_work *work, int *ended_by, pp_error *error);

#endif

/* One run, from a job to its results: the list of stages. */
#ifndef PP_RUN_RUN_H
#define PP_RUN_RUN_H

#include "answer/results.h"

typedef enum pp_scope {
    PP_SCOPE_ALL,
    PP_SCOPE_FLATNESS,
    PP_SCOPE_HOLDDOWN,
    PP_SCOPE_HOLES,
    PP_SCOPE_STACK,
    PP_SCOPE_ROUGHING
} pp_scope;

typedef struct pp_run_options {
    pp_scope scope;
    int threads;
    void (*stage)(void *context, const char *name, double share); /* progress; may be NULL */
    void *stage_context;
} pp_run_options;

/* Run every stage of the scope. Everything in *results lives in memory->keep.
 *
 * in/out   job  gets the corners of its polygon from their file, if it is one; const from then on
 * errors   PP_EINPUT: the job or a file it names is wrong; PP_ENOTHING: nothing of the scope can be
 *          computed; PP_EIO: a file cannot be read; PP_ENUMERIC: a stage did not settle;
 *          PP_ENOMEM */
pp_status pp_run(pp_job *job, const pp_run_options *options, pp_memory *memory, pp_results *results,
                 pp_error *error);

#endif

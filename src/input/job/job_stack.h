/* A stack's layers as the rest of the program takes them: defaults filled, order, places and turns
 * resolved. */
#ifndef PP_INPUT_JOB_JOB_STACK_H
#define PP_INPUT_JOB_JOB_STACK_H

#include "input/job/job.h"

/* Fill in what the layers left out, resolve [stack] order and search, and check that all of it can
 * be: job->layers := layers[job->layer_count].
 * errors: PP_EINPUT with the line: one layer, an unknown one in `order`, a turn that the outline
 * does not allow, a place that `order` contradicts, ... */
pp_status pp_job_settle_stack(pp_job *job, pp_layer *layers, pp_memory *memory, pp_error *error);

#endif

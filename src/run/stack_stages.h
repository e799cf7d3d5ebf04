/* The stages of a stack and of the roughing pass: branches of the run. */
#ifndef PP_RUN_STACK_STAGES_H
#define PP_RUN_STACK_STAGES_H

#include "answer/inputs.h"
#include "run/run.h"

typedef struct pp_stack_stages {
    const pp_job *job;
    const pp_run_options *options;
    const pp_nominal *nominal;
    const pp_limits *limits;
    double pitch;
    pp_memory *memory;
    pp_input_list *inputs; /* what is read is added */
    pp_results *results;   /* what is found goes there */
} pp_stack_stages;

/* Whether any layer of the stack has a survey (before drilling); a list of measured holes (after).
 */
bool pp_has_layer_surveys(const pp_job *job);
bool pp_has_layer_holes(const pp_job *job);

/* Before drilling: results->stack and what is judged and said of it.
 * errors   as pp_stack_study */
pp_status pp_run_stack(const pp_stack_stages *stages, pp_error *error);
/* After drilling: results->drilled. errors: as pp_measures_take and pp_drilled_reckon */
pp_status pp_run_drilled(const pp_stack_stages *stages, pp_error *error);
/* Is the first of two passes enough: results->roughing.
 * errors   as pp_measures_take and pp_roughing_judge */
pp_status pp_run_roughing(const pp_stack_stages *stages, pp_error *error);

#endif

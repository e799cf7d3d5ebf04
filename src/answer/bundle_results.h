/* The answer about a bundle as plain data: what its report writers read, and nothing else. */
#ifndef PP_ANSWER_BUNDLE_RESULTS_H
#define PP_ANSWER_BUNDLE_RESULTS_H

#include "answer/results.h"
#include "rules/bundle_rules.h"

typedef struct pp_bundle_results {
    const pp_set *set;
    const pp_bundle *bundle;
    const pp_bundle_judgement *judgement;
    const char *date; /* YYYY-MM-DD, of the report, for pages only; set by the command */
    size_t input_count;
    const pp_input_file *inputs; /* the set file first, as role "job" */
} pp_bundle_results;

#endif

/* A complete hand-built answer for the report tests: every section filled, every verdict and class
 * somewhere, without running a stage.
 *
 * A triangular pattern of `rings` rings (1 + 3 rings (rings + 1) tube holes: 2 give 19, 100 give
 * 30301) and two holes of kind other; entry face read but for one hole, exit face on the lower
 * half; one extra hole beside a nominal one, one plugged hole, an earlier round. Rows run from -y
 * to +y. Guarded decision, so that some holes are not proven. */
#ifndef PP_TESTS_SAMPLE_RESULTS_H
#define PP_TESTS_SAMPLE_RESULTS_H

#include "answer/results.h"

typedef struct pp_sample_options {
    unsigned rings;       /* 0: 2 */
    bool hostile;         /* names and texts that try to inject formulas and markup */
    bool inch;            /* report units */
    bool conforming;      /* nothing fails, nothing is unproven */
    const char *job_path; /* NULL: "sample/plate.ini" */
} pp_sample_options;

typedef struct pp_sample {
    pp_memory memory;
    pp_job job;
    pp_survey survey;
    pp_flatness flatness;
    pp_holddown holddown;
    pp_holddown_judgement holddown_judgement;
    pp_holddown_words holddown_words;
    pp_hole_files files;
    pp_measures measures;
    pp_diagnosis diagnosis;
    pp_placement placement;
    pp_limits limits;
    pp_judgement judgement;
    pp_work_list work; /* folded from the judgement */
    pp_input_file inputs[4];
    pp_results results; /* points at all of them; set what a test wants missing to NULL */
} pp_sample;

void pp_sample_make(pp_sample *sample, const pp_sample_options *options);
/* As if the job had a survey only. */
void pp_sample_drop_holes(pp_sample *sample);
void pp_sample_free(pp_sample *sample);

#endif

/* The whole answer as plain data. Report writers read it and nothing else; they only write. */
#ifndef PP_ANSWER_RESULTS_H
#define PP_ANSWER_RESULTS_H

#include "answer/promise.h"
#include "causes/diagnosis.h"
#include "causes/promise_kept.h"
#include "holddown/study.h"
#include "input/lists/survey.h"
#include "rules/drilled_rules.h"
#include "rules/findings.h"
#include "rules/placement.h"
#include "rules/roughing.h"
#include "rules/stack_rules.h"
#include "rules/work_list.h"

typedef struct pp_input_file {
    const char *role; /* job, survey, underside, nominal, measured, ligaments, checks, datum_points,
                         pins, clamp_candidates, three_points, rules */
    const char *path; /* ready to open */
    const char *written; /* as results.json shows it */
    char sha256[65];
    size_t rows;                     /* data rows; 0 for the job file and rule files */
    const pp_instrument *instrument; /* NULL */
    const pp_table_reading *reading; /* how it was read; NULL: no table */
} pp_input_file;

/* The hold-down study in words for the shop. */
typedef struct pp_holddown_words {
    const char *advice; /* one plain sentence */
    size_t note_count;
    const char *const *notes; /* on how far to trust it */
} pp_holddown_words;

/* A stack's study in words for the shop. */
typedef struct pp_stack_words {
    const char *advice; /* what to do, a few plain sentences */
    size_t note_count;
    const char *const *notes; /* on how far to trust it, and what to take care of */
    size_t card_count;
    const char *const *card; /* the arrangement to lay, bottom first, a line for each layer */
} pp_stack_words;

typedef struct pp_roughing_words {
    const char *advice;
    size_t note_count;
    const char *const *notes;
} pp_roughing_words;

/* Named by the job or measured, and not judged by this run. */
typedef struct pp_left_out {
    const char *what, *why;
    bool part; /* a whole part, as "holes"; else a characteristic without a limit */
} pp_left_out;

typedef struct pp_results {
    const pp_job *job;
    const char *command; /* the stages run: "inspect", "flatness", "holddown", "holes",
                            "stack" or "roughing" */
    const char *date; /* YYYY-MM-DD, of the report, for HTML and PDF only (never in results.json):
                         the job's, else SOURCE_DATE_EPOCH's, else today; set by the command */
    bool date_from_epoch; /* it is SOURCE_DATE_EPOCH's: said where it is shown */
    size_t input_count;
    const pp_input_file *inputs;
    const pp_survey *survey; /* NULL without flatness; for the coordinates behind its row indices */
    const pp_flatness *flatness; /* each NULL when the job has no data for it */
    const double *gap_map; /* [flatness->map] below the surface as laid; NULL without [support] */
    const pp_holddown *holddown; /* with how it is judged and said */
    const pp_holddown_judgement *holddown_judgement;
    const pp_holddown_words *holddown_words;
    const pp_stack *stack; /* of a stack of layers, with how it is judged and said; NULL */
    const pp_stack_judgement *stack_judgement;
    const pp_stack_words *stack_words;
    const pp_drilled *drilled; /* of a stack once drilled; NULL */
    const pp_drilled_judgement *drilled_judgement;
    const pp_roughing *roughing; /* whether the first pass is enough; NULL */
    pp_roughing_words roughing_words;
    const pp_hole_files *files;
    const pp_measures *measures;
    const pp_diagnosis *diagnosis;
    const pp_promise_kept *promise; /* of a plate drilled to a corrected list; NULL: none came */
    const pp_placement *placement;
    const pp_limits *limits;
    const pp_judgement *judgement; /* always there */
    size_t left_out_count;
    const pp_left_out *left_out;
    const pp_work_list *work; /* NULL without measures */
} pp_results;

#endif

/* The whole answer as plain data. Report writers read it and nothing else; they only write. */
#ifndef PP_ANSWER_RESULTS_H
#define PP_ANSWER_RESULTS_H

#include "causes/diagnosis.h"
#include "holddown/study.h"
#include "input/lists/survey.h"
#include "rules/findings.h"
#include "rules/placement.h"

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

typedef struct pp_results {
    const pp_job *job;
    const char *command; /* the stages run: "inspect", "flatness", "holddown" or "holes" */
    const char *date; /* YYYY-MM-DD, of the report, for HTML and PDF only (never in results.json):
                         the job's, else SOURCE_DATE_EPOCH's, else today; set by the command */
    bool date_from_epoch; /* it is SOURCE_DATE_EPOCH's: said where it is shown */
    size_t input_count;
    const pp_input_file *inputs;
    const pp_survey *survey; /* NULL without flatness; for the coordinates behind its row indices */
    const pp_flatness *flatness; /* each NULL when the job has no data for it */
    const double *gap_map; /* [flatness->map] below the surface as laid; NULL without [support] */
    const pp_holddown *holddown;
    const pp_hole_files *files;
    const pp_measures *measures;
    const pp_diagnosis *diagnosis;
    const pp_placement *placement;
    const pp_limits *limits;
    const pp_judgement *judgement; /* always there */
} pp_results;

#endif

/* Does a report still hold? Its inputs, its results and its files held against what the same inputs
 * give now.
 *
 * Texts and counts must be the same. Reals agree within a tolerance that covers other processors
 * and other versions of the numerical libraries, far below any limit:
 *
 *     hold-down study and its table                1e-4 (mm, N, mm/m) + 1e-5 of the value
 *     surface, areas, straightedges, map, causes   1e-6 + 1e-6 of the value
 *     everything else                              1e-7 + 1e-8 of the value
 *
 * The pages (report.html, certificate.pdf, results.qif) must be byte for byte what the results
 * give.
 */
#ifndef PP_VERIFY_COMPARE_H
#define PP_VERIFY_COMPARE_H

#include <jansson.h>

#include "answer/results.h"

typedef enum pp_difference_kind {
    PP_INPUT_CHANGED,  /* an input is not the one the report was made from */
    PP_INPUT_MISSING,  /* it is not there */
    PP_REPORT_MISSING, /* a file the report should hold is not there */
    PP_REPORT_SURPLUS, /* a report file that these results do not give */
    PP_RESULT_CHANGED, /* a value of results.json or of a table */
    PP_PAGE_CHANGED    /* a page is not the one these results give */
} pp_difference_kind;

typedef struct pp_difference {
    pp_difference_kind kind;
    const char *file;  /* "holes.csv", "survey.csv" */
    const char *where; /* "holes.position.largest", "line 12, position"; NULL for a whole file */
    const char *recorded, *now; /* texts; NULL where there is none */
} pp_difference;

enum { PP_DIFFERENCES_KEPT = 1000 };

typedef struct pp_comparison {
    size_t count; /* all differences; items: the first PP_DIFFERENCES_KEPT */
    pp_difference items[PP_DIFFERENCES_KEPT];
    size_t values; /* of results.json, compared */
    size_t rows;   /* of the tables */
    size_t files;  /* of the report */
} pp_comparison;

/* A report as it was recorded. */
typedef struct pp_recorded {
    const char *folder;
    json_t *root;         /* results.json; freed by pp_recorded_free */
    const char *command;  /* "inspect", ...; "" when none is named */
    const char *version;  /* of the program that wrote it */
    const char *job_file; /* as recorded, relative to the folder */
    const char *job_path; /* where the job file should be; ready to open */
    size_t input_count;
    const pp_input_file *inputs; /* recorded; path: where the file should be now */
} pp_recorded;

/* Read FOLDER/results.json. `inputs_folder`: where the job and data files are now, NULL: where the
 * report says.
 * errors  PP_EIO it is not there; PP_EINPUT it is no results.json of plateproof, or of a later
 *         version */
pp_status pp_recorded_read(const char *folder, const char *inputs_folder, pp_memory *memory,
                           pp_recorded *recorded, pp_error *error);
void pp_recorded_free(pp_recorded *recorded);

/* Hash the inputs now and note what is changed or missing. errors: PP_ENOMEM */
pp_status pp_compare_inputs(const pp_recorded *recorded, int threads, pp_memory *memory,
                            pp_comparison *comparison, pp_error *error);

/* Hold every file of the report against the results computed now. `now` may get another date: the
 * one the report bears. errors: PP_EIO a file cannot be read; PP_ENOMEM */
pp_status pp_compare_report(const pp_recorded *recorded, pp_results *now, int threads,
                            pp_memory *memory, pp_comparison *comparison, pp_error *error);

#endif

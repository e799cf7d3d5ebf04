/* Does a report still hold? Its inputs, its results and its files held against what the same inputs
 * give now.
 *
 * Texts and counts must be the same. Reals agree within a tolerance that covers other processors
 * and other versions of the numerical libraries, far below any limit:
 *
 *     hold-down study and its table                1e-4 (mm, N, mm/m) + 1e-5 of the value
 *     surface, areas, straightedges, map, causes   1e-6 + 1e-6 of the value
 *     bundles and their tables                     1e-4 + 1e-3 of the value
 *     everything else                              1e-7 + 1e-8 of the value
 *
 * The pages (report.html, certificate.pdf, results.qif) must be byte for byte what the results
 * give. A certificate drawn by other versions of cairo and what it stands on (it names them) is
 * compared by its text, which pdftotext of poppler takes from both.
 *
 * Not compared: tool.version, and what the report calls the job file (it is relative to a folder).
 */
#ifndef PP_VERIFY_COMPARE_H
#define PP_VERIFY_COMPARE_H

#include "answer/bundle_results.h"
#include "verify/recorded.h"

typedef enum pp_difference_kind {
    PP_INPUT_CHANGED,    /* an input is not the one the report was made from */
    PP_INPUT_MISSING,    /* it is not there */
    PP_INPUT_NOT_OPENED, /* it is outside the job's folder, or no regular file; `where` says which
                          */
    PP_REPORT_MISSING,   /* a file the report should hold is not there */
    PP_REPORT_SURPLUS,   /* a report file that these results do not give */
    PP_RESULT_CHANGED,   /* a value of results.json or of a table */
    PP_PAGE_CHANGED,     /* a page is not the one these results give */
    PP_PAGE_OTHER_ENGINE /* its bytes come from other libraries (`recorded`, `now`); `where`: what
                            was compared instead */
} pp_difference_kind;

typedef struct pp_difference {
    pp_difference_kind kind;
    const char *file;  /* "holes.csv", "survey.csv" */
    const char *where; /* "holes.position.largest", "line 12, position"; NULL for a whole file */
    const char *recorded, *now; /* texts; NULL where there is none */
} pp_difference;

enum { PP_DIFFERENCES_KEPT = 1000 };

typedef struct pp_differences {
    size_t count; /* all differences; items: the first PP_DIFFERENCES_KEPT */
    pp_difference items[PP_DIFFERENCES_KEPT];
    size_t values; /* of results.json, compared */
    size_t rows;   /* of the tables */
    size_t files;  /* of the report */
} pp_differences;

/* Hash the inputs now and note what is changed or missing. errors: PP_ENOMEM */
pp_status pp_compare_inputs(const pp_recorded *recorded, int threads, pp_memory *memory,
                            pp_differences *comparison, pp_error *error);

/* Hold every file of the report against the results computed now. `now` may get another date: the
 * one the report bears. errors: PP_EIO a file cannot be read; PP_ENOMEM */
pp_status pp_compare_report(const pp_recorded *recorded, pp_results *now, int threads,
                            pp_memory *memory, pp_differences *comparison, pp_error *error);

/* The same for a bundle's report. errors: PP_EIO: a file cannot be read; PP_ENOMEM */
pp_status pp_compare_bundle(const pp_recorded *recorded, pp_bundle_results *now, pp_memory *memory,
                            pp_differences *comparison, pp_error *error);

#endif

/* The CSVs of a report: one row per hole and face, per ligament, per area, per nominal hole of the
 * hold-down study, per place of the surface map, per hole of the work list (in its own order).
 *
 * UTF-8, comma, line feed, header row; mm, N, mm/m; reals with 15 significant digits; what was not
 * given or not measured is empty. Fields are quoted as RFC 4180 says. A text that begins with
 * = + - @, a tab or a carriage return would run as a formula in a spreadsheet: it is quoted and
 * prefixed with an apostrophe. Rows in nominal order, entry before exit, extra holes last.
 */
#ifndef PP_REPORT_TABLES_CSVOUT_H
#define PP_REPORT_TABLES_CSVOUT_H

#include "answer/results.h"
#include "base/sink.h"

typedef enum pp_csv {
    PP_CSV_HOLES,
    PP_CSV_LIGAMENTS,
    PP_CSV_PITCH_ERRORS,
    PP_CSV_AREAS,
    PP_CSV_HOLDDOWN,
    PP_CSV_SETUPS,
    PP_CSV_DRILLING,
    PP_CSV_PINS,
    PP_CSV_MAP,
    PP_CSV_STACK,
    PP_CSV_STACK_GAPS,
    PP_CSV_STACK_HOLES,
    PP_CSV_WORK,
    PP_CSV_COUNT /* how many */
} pp_csv;

const char *pp_csv_file_name(pp_csv which); /* "holes.csv" */

/* Data rows it would have; 0: there is nothing to put in it. */
size_t pp_csv_rows(const pp_results *results, pp_csv which);

/* Write header and rows. The bytes do not depend on `threads`; at most a few MB are held at a time.
 * errors: PP_ENOMEM, and what the sink says. */
pp_status pp_csv_write(const pp_results *results, pp_csv which, int threads, const pp_sink *sink,
                       pp_error *error);

#endif

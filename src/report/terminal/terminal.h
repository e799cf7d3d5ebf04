/* The summary an inspector reads at a glance on a terminal: the verdict first, then one row per
 * characteristic, what to rework, the hold-down study, what to keep in mind, where the report is.
 */
#ifndef PP_REPORT_TERMINAL_TERMINAL_H
#define PP_REPORT_TERMINAL_TERMINAL_H

#include "answer/results.h"
#include "base/text.h"

typedef struct pp_terminal_options {
    int width;          /* columns to use; 0: 80 */
    bool colour;        /* the caller asks whether it is a terminal, and NO_COLOR */
    const char *report; /* folder of the report; NULL: none was written */
} pp_terminal_options;

/* Append the summary to `text`: UTF-8, the job's units. Names and texts of the job cannot steer the
 * terminal: control characters in them show as "?". errors: PP_ENOMEM */
pp_status pp_terminal_write(const pp_results *results, const pp_terminal_options *options,
                            pp_memory *memory, pp_text *text, pp_error *error);

/* One line for one of many jobs: "does not conform  plate  position, ligament".
 * errors   PP_ENOMEM */
pp_status pp_terminal_write_line(const pp_results *results, const pp_terminal_options *options,
                                 pp_memory *memory, pp_text *text, pp_error *error);

#endif

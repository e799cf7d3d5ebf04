/* The summary of a bundle on a terminal: the verdict first, then what passes, the fitter's lines,
 * the cautions, where the report is. */
#ifndef PP_REPORT_BUNDLE_BUNDLE_TERMINAL_H
#define PP_REPORT_BUNDLE_BUNDLE_TERMINAL_H

#include "answer/bundle_results.h"
#include "report/terminal/terminal.h"

/* Append the summary to `text`: UTF-8, the set's units. Names cannot steer the terminal.
 * errors: PP_ENOMEM */
pp_status pp_bundle_terminal_write(const pp_bundle_results *results,
                                   const pp_terminal_options *options, pp_memory *memory,
                                   pp_text *text, pp_error *error);

#endif

/* setup-sheet.pdf: what the operator takes to the machine: clamps, the set-ups one after the other
 * with a picture each, the release. Nothing is judged here. */
#ifndef PP_REPORT_SETUPS_SETUP_SHEET_H
#define PP_REPORT_SETUPS_SETUP_SHEET_H

#include "answer/results.h"
#include "report/certificate/paper.h"

/* Is there a list of set-ups? */
bool pp_setup_sheet_is_due(const pp_results *results);

/* errors: PP_EIO: the fonts cannot be opened, or the paper not be drawn; PP_ENOMEM */
pp_status pp_setup_sheet_write(const pp_results *results, const pp_paper_options *options,
                               pp_memory *memory, pp_text *out, pp_error *error);

#endif

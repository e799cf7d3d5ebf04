/* pin-sheet.pdf: the support pins as a fixture: a drawing to scale with their numbers, and a table
 * of heights, loads, pressures and distances from the holes. */
#ifndef PP_REPORT_SETUPS_PIN_SHEET_H
#define PP_REPORT_SETUPS_PIN_SHEET_H

#include "answer/results.h"
#include "report/certificate/paper.h"

/* Is there a study on pins? Of pins.dxf, too. */
bool pp_pin_sheet_is_due(const pp_results *results);

/* errors: PP_EIO: the fonts cannot be opened, or the paper not be drawn; PP_ENOMEM */
pp_status pp_pin_sheet_write(const pp_results *results, const pp_paper_options *options,
                             pp_memory *memory, pp_text *out, pp_error *error);

#endif

/* results.xlsx: the report for a spreadsheet, in the job's units: sheets `summary`, `holes`,
 * `ligaments`, `exceptions`. Texts are written as texts, never as formulas. A table longer than a
 * sheet goes on in `holes (2)`. The same results and date give the same bytes. */
#ifndef PP_REPORT_TABLES_XLSX_H
#define PP_REPORT_TABLES_XLSX_H

#include "answer/results.h"

/* Write a new file at `path`. errors: PP_EIO (it cannot be written), PP_ENOMEM */
pp_status pp_xlsx_write(const pp_results *results, const char *path, pp_memory *memory,
                        pp_error *error);

#endif

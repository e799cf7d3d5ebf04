/* worklist.pdf: the work list for the shop, a line a hole with room for a tick and a name. */
#ifndef PP_REPORT_CERTIFICATE_WORK_SHEET_H
#define PP_REPORT_CERTIFICATE_WORK_SHEET_H

#include "answer/results.h"
#include "report/certificate/paper.h"

/* Append the sheet to `out`; results->work is there and has rows. Beyond 1,000 rows it says that
 * worklist.csv has all. errors: PP_EIO when cairo or the fonts fail; PP_ENOMEM */
pp_status pp_work_sheet_write(const pp_results *results, const pp_paper_options *options,
                              pp_memory *memory, pp_text *out, pp_error *error);

#endif

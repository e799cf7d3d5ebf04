/* fitters-sheet.pdf: what the fitter takes to the bundle: where to put each plate, with room to
 * tick and to write down what was done; tubes to look at; cautions. */
#ifndef PP_REPORT_BUNDLE_BUNDLE_SHEET_H
#define PP_REPORT_BUNDLE_BUNDLE_SHEET_H

#include "answer/bundle_results.h"
#include "report/certificate/paper.h"

/* errors: PP_EIO: the fonts cannot be opened, or the paper not be drawn; PP_ENOMEM */
pp_status pp_bundle_sheet_write(const pp_bundle_results *results, const pp_paper_options *options,
                                pp_memory *memory, pp_text *out, pp_error *error);

#endif

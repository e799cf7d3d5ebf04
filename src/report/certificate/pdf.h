/* certificate.pdf: the dimensional inspection certificate, A4 or Letter, one to a few pages. Text
 * can be selected, fonts are embedded, the bytes depend on the results and the report's date only.
 */
#ifndef PP_REPORT_CERTIFICATE_PDF_H
#define PP_REPORT_CERTIFICATE_PDF_H

#include "answer/results.h"
#include "report/certificate/paper.h"

/* errors: PP_EIO when no font is there to write with, or cairo fails; PP_ENOMEM */
pp_status pp_pdf_write(const pp_results *results, const pp_paper_options *options,
                       pp_memory *memory, pp_text *out, pp_error *error);

#endif

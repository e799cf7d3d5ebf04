/* The printable sheet's part on a hold-down study: counts, plan, what to take care of. */
#ifndef PP_REPORT_CERTIFICATE_PDF_HOLDDOWN_H
#define PP_REPORT_CERTIFICATE_PDF_HOLDDOWN_H

#include "answer/results.h"
#include "report/certificate/pdf_holdmaps.h"

/* Nothing without a hold-down study. False: memory ran out for some text. */
bool pp_pdf_holddown_part(pp_page_writer *w, const pp_results *results,
                          const pp_pdf_hold_maps *maps);

#endif

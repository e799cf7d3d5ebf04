/* The printable sheet's parts on a stack of layers, before and after drilling, and on the roughing
 * pass. */
#ifndef PP_REPORT_CERTIFICATE_PDF_STACK_H
#define PP_REPORT_CERTIFICATE_PDF_STACK_H

#include "answer/results.h"
#include "report/certificate/pdf_page.h"

/* False: memory ran out for some text. */
bool pp_pdf_stack_parts(pp_page_writer *w, const pp_results *results);

#endif

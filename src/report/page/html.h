/* report.html: one self-contained page. No network, no outside script, style or picture; a
 * Content-Security-Policy with the hashes of its own style and script. Without script (or on paper)
 * every table, chart and a still picture of the plate remain. */
#ifndef PP_REPORT_PAGE_HTML_H
#define PP_REPORT_PAGE_HTML_H

#include "answer/results.h"
#include "base/text.h"

/* Add the whole report as one page that needs nothing else.
 * errors   PP_ENOMEM */
pp_status pp_html_write(const pp_results *results, pp_memory *memory, pp_text *out,
                        pp_error *error);

#endif

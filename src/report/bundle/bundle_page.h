/* report.html of a bundle: one page that needs nothing else, in the same shell as a plate's. */
#ifndef PP_REPORT_BUNDLE_BUNDLE_PAGE_H
#define PP_REPORT_BUNDLE_BUNDLE_PAGE_H

#include "answer/bundle_results.h"
#include "base/text.h"

/* Append the page. set_file: what it calls the set file. errors: PP_EIO as pp_html_open;
 * PP_ENOMEM */
pp_status pp_bundle_page_write(const pp_bundle_results *results, const char *set_file,
                               pp_memory *memory, pp_text *out, pp_error *error);

#endif

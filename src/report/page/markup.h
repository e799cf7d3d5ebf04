/* Untrusted text (hole names, titles, file names) into HTML, SVG and script data: always through
 * here, so that no text can become markup. */
#ifndef PP_REPORT_PAGE_MARKUP_H
#define PP_REPORT_PAGE_MARKUP_H

#include "base/text.h"

/* As element or attribute text: & < > " ' escaped, control characters dropped, what is read from
 * right to left in isolates (base/foreign.h). NULL adds nothing. */
void pp_markup_add(pp_text *text, const char *untrusted);

/* The same without isolates, for metadata that no one reads beside other words. */
void pp_markup_add_plain(pp_text *text, const char *untrusted);

/* As a JSON string with its quotes, safe inside a script element: < > & and the line separators
 * U+2028, U+2029 are written as escapes. */
void pp_markup_json(pp_text *text, const char *untrusted);

#endif

/* results.json of a bundle: the same top keys as a plate's, and `bundle`. */
#ifndef PP_REPORT_BUNDLE_BUNDLE_JSON_H
#define PP_REPORT_BUNDLE_BUNDLE_JSON_H

#include "answer/bundle_results.h"
#include "base/text.h"

/* Append the results to `text`. folder: the report folder, which the set file is named from; NULL:
 * the default one. errors: PP_ENOMEM */
pp_status pp_bundle_json_write(const pp_bundle_results *results, const char *folder, pp_text *text,
                               pp_error *error);

#endif

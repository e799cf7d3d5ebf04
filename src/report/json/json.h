/* results.json: the whole answer for machines, byte-identical for the same inputs.
 *
 * Keys and their order are the documented format "plateproof-results", version 1. Lengths mm,
 * forces N, stresses MPa, slopes mm/m; reals with 15 significant digits and a decimal point, counts
 * as integers; what was not given is null. */
#ifndef PP_REPORT_JSON_JSON_H
#define PP_REPORT_JSON_JSON_H

#include "answer/results.h"
#include "base/text.h"

/* Write the results into `text` (appended, with a final line feed).
 *
 * given    folder  the report folder, whether it exists or not; NULL: the default one beside the
 * job file. The job file is named relative to it. errors   PP_ENOMEM */
pp_status pp_json_write(const pp_results *results, const char *folder, pp_text *text,
                        pp_error *error);

#endif

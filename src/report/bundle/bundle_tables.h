/* The CSVs of a bundle's report: UTF-8, comma, line feed, header row; mm, N, N mm, MPa; what was
 * not given or not computed is empty. */
#ifndef PP_REPORT_BUNDLE_BUNDLE_TABLES_H
#define PP_REPORT_BUNDLE_BUNDLE_TABLES_H

#include "answer/bundle_results.h"
#include "base/text.h"

typedef enum pp_bundle_table {
    PP_BUNDLE_TUBES,  /* one row a tube */
    PP_BUNDLE_PLATES, /* one row a plate */
    PP_BUNDLE_FORCES, /* one row a contact of a tube that bends */
    PP_BUNDLE_MATES,  /* one row a hole that is missing, without a tube, or one of several */
    PP_BUNDLE_TABLES  /* how many */
} pp_bundle_table;

const char *pp_bundle_table_name(pp_bundle_table which); /* "bundle_tubes.csv" */

/* Is there something to put in it? */
bool pp_bundle_table_is_due(const pp_bundle_results *results, pp_bundle_table which);

/* Append header and rows. errors: PP_ENOMEM */
pp_status pp_bundle_table_write(const pp_bundle_results *results, pp_bundle_table which,
                                pp_text *text, pp_error *error);

#endif

#include "report/folder/report_files.h"

#include <string.h>

#include "report/folder/write.h"
#include "report/tables/csvout.h"

/* Written by others: the spreadsheet, the whole exchange file, the signatures, a bundle's report.
 */
static const char *const BESIDE[] = {
    "results.xlsx",      PP_REPORT_QIF_GZ,    "signature.json",   "bundle_tubes.csv",
    "bundle_plates.csv", "bundle_forces.csv", "bundle_mates.csv", "fitters-sheet.pdf",
    "corrected.csv",     "correction.json",   "comparison.csv",   "comparison.json",
    "history.html",      "history.csv",       "correction.html",  "comparison.html",
    "moved.csv",         "shares.csv",        "capability.csv",   "tools.csv"};
enum {
    BESIDE_COUNT = sizeof BESIDE / sizeof *BESIDE,
    PAGES_FROM = PP_CSV_COUNT,
    BESIDE_FROM = (int)PP_CSV_COUNT + (int)PP_PAGE_COUNT
};

size_t pp_report_file_count(void) { return (size_t)BESIDE_FROM + BESIDE_COUNT; }

const char *pp_report_file_name(size_t index)
{
    if (index < PAGES_FROM) return pp_csv_file_name((pp_csv)index);
    if (index < BESIDE_FROM) return pp_report_page_name((pp_report_page)(index - PAGES_FROM));
    return BESIDE[index - BESIDE_FROM];
}

bool pp_report_file_is_known(const char *name)
{
    for (size_t i = 0; i < pp_report_file_count(); i++)
        if (strcmp(name, pp_report_file_name(i)) == 0) return true;
    return false;
}

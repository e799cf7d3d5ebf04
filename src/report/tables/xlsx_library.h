/* libxlsxwriter, loaded where a spreadsheet is written: it stands on a library of cryptography
 * whose thousands of symbols every start of the program would bind, though few reports have a
 * spreadsheet. */
#ifndef PP_REPORT_TABLES_XLSX_LIBRARY_H
#define PP_REPORT_TABLES_XLSX_LIBRARY_H

#include <xlsxwriter.h>

#include "plateproof/error.h"

/* What is called of it. */
#define PP_XLSX_CALLS(CALL)                                                                        \
    CALL(format_set_bold)                                                                          \
    CALL(format_set_font_color)                                                                    \
    CALL(format_set_num_format)                                                                    \
    CALL(lxw_strerror)                                                                             \
    CALL(workbook_add_format)                                                                      \
    CALL(workbook_add_worksheet)                                                                   \
    CALL(workbook_close)                                                                           \
    CALL(workbook_new_opt)                                                                         \
    CALL(workbook_set_properties)                                                                  \
    CALL(worksheet_freeze_panes)                                                                   \
    CALL(worksheet_set_column)                                                                     \
    CALL(worksheet_write_number)                                                                   \
    CALL(worksheet_write_string)

#define PP_XLSX_MEMBER(name) __typeof__(name) *name;
typedef struct pp_xlsx_library {
    void *handle;
    PP_XLSX_CALLS(PP_XLSX_MEMBER)
} pp_xlsx_library;

/* To be closed; what it was used for must be finished then.
 * errors: PP_EIO it is not installed, or not as it should be */
pp_status pp_xlsx_library_open(pp_xlsx_library *library, pp_error *error);
void pp_xlsx_library_close(pp_xlsx_library *library);

#endif

/* The history as one page for reading on screen and paper: every charted figure, its limits, its
 * signals ringed and numbered. It only writes. */
#ifndef PP_REPORT_HISTORY_HISTORY_PAGE_H
#define PP_REPORT_HISTORY_HISTORY_PAGE_H

#include "base/text.h"
#include "history/questions.h"

typedef struct pp_history_page {
    const char *title; /* the file's name */
    const pp_list_answer *list;
    size_t chart_count;
    const pp_chart_answer *charts;
} pp_history_page;

/* history.html. errors: PP_ENOMEM, PP_EIO */
pp_status pp_history_page_write(const pp_history_page *page, pp_text *out, pp_error *error);
/* history.csv: figure,plate,date,value,centre,lower,upper,beyond; of every chart. errors: PP_ENOMEM
 */
pp_status pp_history_page_csv(const pp_history_page *page, pp_text *out, pp_error *error);

#endif

/* The history as one page for reading on screen and paper: every charted figure, its limits, its
 * signals ringed and numbered. It only writes. */
#ifndef PP_REPORT_HISTORY_HISTORY_PAGE_H
#define PP_REPORT_HISTORY_HISTORY_PAGE_H

#include "base/text.h"
#include "history/questions.h"

typedef struct pp_history_page {
    const char *title; /* the file's name */
    const pp_list_answer *list;
    size_t chart_count, share_count;
    const pp_chart_answer *charts;
    const pp_share_answer *shares;
    const pp_capability_answer *size, *place; /* NULL: no limit is known, or no plate has holes */
    const pp_tool_answer *tools;              /* NULL: no limit, or no tool is known */
    const pp_cause_answer *causes;            /* NULL: nothing to try */
    bool several_limits; /* some plates were judged by other limits than these */
} pp_history_page;

/* history.html. errors: PP_EIO as pp_html_open; PP_ENOMEM */
pp_status pp_history_page_write(const pp_history_page *page, pp_text *out, pp_error *error);

/* A table of the page's folder: charts.csv and so on; NULL behind the last. */
typedef struct pp_history_table {
    const char *file;
    bool (*is_due)(const pp_history_page *page);
    void (*write)(const pp_history_page *page, pp_text *out);
} pp_history_table;
extern const pp_history_table pp_history_tables[]; /* ends with a row without a file */

#endif

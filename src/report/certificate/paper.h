/* A paper as PDF: laid out by the caller twice, once to count the pages. Fonts are embedded, text
 * can be selected, the bytes depend on what is laid out and the date only. */
#ifndef PP_REPORT_CERTIFICATE_PAPER_H
#define PP_REPORT_CERTIFICATE_PAPER_H

#include "base/text.h"
#include "report/certificate/pdf_page.h"

typedef struct pp_paper {
    const char *title, *subject; /* of the document */
    const char *date;            /* YYYY-MM-DD, or NULL */
    const char *running_head;    /* at the top of every page */
    const char *running_foot;    /* at the foot of every page; NULL: the program's version */
    bool letter;                 /* Letter instead of A4 */
    /* Lays everything out, from pp_page_begin to pp_page_finish; sets w->failed when memory ran
     * out. */
    void (*lay_out)(void *context, pp_page_writer *w);
    void *context;
} pp_paper;

/* Append the paper to `out`. errors: PP_EIO when cairo or the fonts fail; PP_ENOMEM */
pp_status pp_paper_make(const pp_paper *paper, pp_text *out, pp_error *error);

#endif

/* A paper as PDF: laid out by the caller twice, once to count the pages. Fonts are embedded, text
 * can be selected, headings and tables are tagged, metadata says what it is; the bytes depend on
 * what is laid out and the date only. */
#ifndef PP_REPORT_CERTIFICATE_PAPER_H
#define PP_REPORT_CERTIFICATE_PAPER_H

#include "base/text.h"
#include "input/job/job.h"
#include "report/certificate/pdf_page.h"

typedef struct pp_paper_options {
    bool letter; /* Letter instead of A4 */
    /* of results.json, its beginning stands on every page; NULL: left out */
    const char *results_sha256;
} pp_paper_options;

typedef struct pp_paper {
    const pp_job *job;        /* its title, numbers of report, plate and serial */
    const char *subject;      /* what kind of paper */
    const char *date;         /* YYYY-MM-DD, or NULL */
    const char *running_head; /* at the top of every page but the first */
    const pp_paper_options *options;
    /* Lays everything out, from pp_page_begin to pp_page_finish; sets w->failed when memory ran
     * out. */
    void (*lay_out)(void *context, pp_page_writer *w);
    void *context;
} pp_paper;

/* Append the paper to `out`. At the foot of every page stand report number, revision, plate,
 * serial, the beginning of the results' hash and the program's version: a sheet that is parted from
 * the others can be told from any other report's. errors: PP_EIO when cairo or the fonts fail;
 * PP_ENOMEM */
pp_status pp_paper_make(const pp_paper *paper, pp_text *out, pp_error *error);

#endif

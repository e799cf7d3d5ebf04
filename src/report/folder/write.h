/* A whole report folder from the results: every file in which there is something to put. */
#ifndef PP_REPORT_FOLDER_WRITE_H
#define PP_REPORT_FOLDER_WRITE_H

#include "answer/results.h"
#include "base/sink.h"

typedef struct pp_report_options {
    int threads;
    bool letter;          /* certificate on Letter instead of A4 */
    bool xlsx;            /* results.xlsx too */
    bool qif_gz;          /* results.qif.gz with every item in place of results.qif */
    bool replace_signed;  /* a signed report may be replaced */
    bool pack;            /* the inputs too: report/folder/pack.h */
    const char *job_file; /* what the pages call the job file; NULL: as seen from the folder */
    const char
        *results_sha256; /* of results.json, for the papers; NULL: of the one these results give */
    /* Asked now and then; true: give up, with PP_ECANCELLED and nothing changed. May be NULL. */
    bool (*stopped)(void *context);
    void *stopped_context;
} pp_report_options;

/* Write results.json, report.html, certificate.pdf, setup-sheet.pdf, results.qif, the CSVs (and
 * results.xlsx) into `folder`, whole or not at all (report/folder/folder.h says what may be
 * replaced). errors  PP_EINPUT, PP_EIO, PP_ENOMEM, PP_ECANCELLED: the folder is as it was before */
pp_status pp_report_write(const pp_results *results, const char *folder,
                          const pp_report_options *options, pp_memory *memory, pp_error *error);

/* One of the files made in memory, as pp_report_write makes it: for comparing. */
typedef enum pp_report_page { /* the slowest last: it is begun first */
                              PP_PAGE_JSON,
                              PP_PAGE_QIF,
                              PP_PAGE_HTML,
                              PP_PAGE_WORK,
                              PP_PAGE_PINS_DXF,
                              PP_PAGE_PINS,
                              PP_PAGE_SETUPS,
                              PP_PAGE_PDF,
                              PP_PAGE_COUNT /* how many */
} pp_report_page;

const char *pp_report_page_name(pp_report_page page); /* "report.html" */
/* A paper, A4 or Letter. */
bool pp_report_page_is_paper(pp_report_page page);
/* Is there something to put in it?. errors: PP_ENOMEM */
bool pp_report_page_is_due(const pp_results *results, pp_report_page page);
pp_status pp_report_page_make(const pp_results *results, pp_report_page page, const char *folder,
                              const pp_report_options *options, pp_text *text, pp_error *error);

/* results.qif (or, with `whole`, the text within results.qif.gz), piece by piece into `sink`.
 * errors   PP_ENOMEM */
#define PP_REPORT_QIF_GZ "results.qif.gz"
pp_status pp_report_qif_make(const pp_results *results, bool whole, const char *folder,
                             const pp_report_options *options, const pp_sink *sink,
                             pp_error *error);

/* results.xlsx at `path`, as pp_report_write makes it: for comparing. errors: PP_EIO: it cannot be
 * written; PP_ENOMEM */
pp_status pp_report_spreadsheet_make(const pp_results *results, const char *folder,
                                     const pp_report_options *options, const char *path,
                                     pp_error *error);

#endif

/* A bundle's report folder: every file of it, whole or not at all. */
#ifndef PP_REPORT_BUNDLE_BUNDLE_WRITE_H
#define PP_REPORT_BUNDLE_BUNDLE_WRITE_H

#include "answer/bundle_results.h"
#include "base/text.h"

typedef struct pp_bundle_report_options {
    int threads;
    bool letter;                /* the fitter's sheet on Letter instead of A4 */
    bool replace_signed;        /* a report that is signed may be replaced too */
    bool pack;                  /* keep the set file and every list in it, under inputs/ */
    const char *results_sha256; /* of results.json, on the papers; NULL: worked out here */
    const char *set_file; /* as the report names it; NULL: where it is, seen from the folder */
    bool (*stopped)(void *context); /* asked now and then; true: give up, PP_ECANCELLED */
    void *stopped_context;
} pp_bundle_report_options;

/* The files, in the order they are compared and written. */
size_t pp_bundle_file_count(void);
const char *pp_bundle_file_name(size_t file); /* "results.json" */
bool pp_bundle_file_is_due(const pp_bundle_results *results, size_t file);
/* Is it compared value by value rather than byte by byte? */
bool pp_bundle_file_is_data(size_t file);

/* One of them, as pp_bundle_report_write makes it. folder: what the set file is named from.
 * errors   PP_EIO as the page and the sheet; PP_ENOMEM */
pp_status pp_bundle_file_make(const pp_bundle_results *results, size_t file, const char *folder,
                              const pp_bundle_report_options *options, pp_text *text,
                              pp_error *error);

/* Write the folder (report/folder/folder.h says what may be replaced).
 * errors  PP_EINPUT, PP_EIO, PP_ENOMEM, PP_ECANCELLED: the folder is as it was before */
pp_status pp_bundle_report_write(const pp_bundle_results *results, const char *folder,
                                 const pp_bundle_report_options *options, pp_memory *memory,
                                 pp_error *error);

#endif

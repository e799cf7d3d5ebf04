/* Many jobs in one call: the table of all, summary.csv. */
#ifndef PP_CLI_BATCH_H
#define PP_CLI_BATCH_H

#include "answer/results.h"
#include "base/text.h"

typedef struct pp_batch {
    pp_text table;
} pp_batch;

/* Check before any work that no two jobs would write the same report folder: with `parent` all
 * reports go there and job names must differ. errors: PP_EINPUT: they would; PP_EIO: the folder
 * `parent` cannot be made */
pp_status pp_batch_begin(pp_batch *batch, char *const *jobs, int count, const char *parent,
                         pp_error *error);
pp_status pp_batch_add(pp_batch *batch, const pp_results *results, const char *folder,
                       pp_error *error);
/* A job that could not be computed or written: its name and exit status, the rest empty. */
void pp_batch_add_failed(pp_batch *batch, const char *job, int status);
/* Write summary.csv into `parent`, whole or not at all. errors: PP_EIO: it cannot be written;
 * PP_ENOMEM */
pp_status pp_batch_write(const pp_batch *batch, const char *parent, pp_error *error);
void pp_batch_free(pp_batch *batch);

#endif

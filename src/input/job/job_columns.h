/* Lists of column names in the job file: which header words mean which column, and which columns
 * are known to be of no use. Words are separated by commas; a word that holds a comma or a colon
 * stands in quotation marks. */
#ifndef PP_INPUT_JOB_JOB_COLUMNS_H
#define PP_INPUT_JOB_JOB_COLUMNS_H

#include "input/job/job_values.h"

/* Store `X-Ist:x, "D, mess":diameter` as a pp_column_map at `place`.
 * errors: PP_EINPUT: no colon, a word twice, a column twice, an open quotation mark; PP_ENOMEM */
pp_status pp_columns_store_map(const pp_key_text *given, pp_arena *keep, void *place,
                               pp_error *error);

/* Store `remark, "set-up"` as a pp_word_list at `place`. The same errors. */
pp_status pp_columns_store_words(const pp_key_text *given, pp_arena *keep, void *place,
                                 pp_error *error);

#endif

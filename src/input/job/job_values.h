/* From the text of one key to its value in the job. */
#ifndef PP_INPUT_JOB_JOB_VALUES_H
#define PP_INPUT_JOB_JOB_VALUES_H

#include "input/job/job_keys.h"

typedef struct pp_key_text { /* a key as it stands in the job file */
    const pp_key *key;
    const char *text; /* not empty */
    const char *file; /* the job file */
    long line;        /* 0: a default */
} pp_key_text;

/* Store the value in *job or, of a section that has a name, in its own *item. `units` are of bare
 * lengths.
 * errors   PP_EINPUT: no value of that kind, out of range, or in a unit it cannot have;
 *          PP_ENOMEM */
pp_status pp_key_store(const pp_key_text *given, pp_length_unit units, pp_arena *keep, pp_job *job,
                       void *item, pp_error *error);

/* The same for a table of another record: the value goes to `record` at the key's offset. Not for
 * the kinds that only a job has (PP_KEY_TUBE, PP_KEY_FACES, PP_KEY_TWO_HOLES).
 * errors   PP_EINPUT as pp_key_store; PP_ENOMEM */
pp_status pp_key_store_in(const pp_key_text *given, pp_length_unit units, pp_arena *keep,
                          void *record, pp_error *error);

/* "[plate] thickness" */
enum { PP_KEY_NAME_MAX = 96 };
const char *pp_key_name(const pp_key *key, char name[PP_KEY_NAME_MAX]);

/* "inch or metric"; empty for a key without choices */
void pp_key_choice_words(const pp_key *key, char *text, size_t size);

#endif

/* The keys of the job file: one table that reading, messages, the starter file and the manual all
 * go by. */
#ifndef PP_INPUT_JOB_JOB_KEYS_H
#define PP_INPUT_JOB_JOB_KEYS_H

#include "input/job/job.h"
#include "input/job/value.h"

typedef enum pp_key_kind {
    PP_KEY_TEXT,       /* const char * */
    PP_KEY_DATE,       /* const char *, YYYY-MM-DD */
    PP_KEY_CHOICE,     /* an enum */
    PP_KEY_YES_NO,     /* bool */
    PP_KEY_UNIT,       /* pp_length_unit, of a file's numbers */
    PP_KEY_UNITS,      /* pp_length_unit, mm or inch: of the job */
    PP_KEY_REAL,       /* double */
    PP_KEY_DIFFERENCE, /* double, a difference of temperatures */
    PP_KEY_LIMIT,      /* pp_job_limit: a length */
    PP_KEY_POINT,      /* two doubles, one after the other */
    PP_KEY_LIST,       /* pp_job_list */
    PP_KEY_FILE,       /* pp_job_file */
    PP_KEY_TUBE,       /* holes.tube_diameter and what goes with it */
    PP_KEY_FACES,      /* holes.face_names */
    PP_KEY_TWO_HOLES,  /* holes.datum_holes */
    PP_KEY_COLUMNS,    /* pp_column_map */
    PP_KEY_WORDS       /* pp_word_list */
} pp_key_kind;

typedef struct pp_key_choice {
    const char *word;
    int value;
} pp_key_choice;

enum { PP_KEY_CHOICES_MAX = 7 }; /* and a terminating NULL word */

typedef struct pp_key {
    const char *section, *key;
    pp_key_kind kind;
    size_t offset; /* in pp_job; of [instrument NAME] and [layer NAME] in theirs */
    pp_quantity quantity;
    pp_range range;
    pp_key_choice choice[PP_KEY_CHOICES_MAX + 1];
    const char *standard; /* what holds when the key is absent, as it would be written; or NULL */
    const char *example;  /* as it would be written; or NULL */
    const char *help;     /* one line */
} pp_key;

typedef struct pp_key_section {
    const char *name; /* "instrument" and "layer" stand for every section of that word and a
                         NAME */
    const char *help;
} pp_key_section;

/* The table of every key, in the order of the manual; *count of them. */
const pp_key *pp_keys(size_t *count);
/* The sections, in the order of the manual; *count of them. */
const pp_key_section *pp_key_sections(size_t *count);

/* Index of the key in the table, or the table's size if there is none. */
size_t pp_key_find(const char *section, const char *key);

#endif

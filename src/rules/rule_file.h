/* Rule files: tables of holes and ligaments, or of plate flatness, each value with its source. The
 * program's own are built in; a user's are read from disk; both have the same form
 * (docs/manual/rule-files.md).
 */
#ifndef PP_RULES_RULE_FILE_H
#define PP_RULES_RULE_FILE_H

#include <stdbool.h>

#include "input/job/ini.h"
#include "input/job/value.h"

typedef struct pp_rule_file {
    const char *name;  /* of a built-in; else the path as written */
    const char *title; /* one line */
    const char *note;  /* about the whole; NULL */
    const char *kind;  /* "holes" or "flatness" */
    bool built_in;
    pp_ini ini; /* ini.file: its path */
} pp_rule_file;

/* Open a rule file.
 *
 * given    name    of a built-in, or a path: what has a slash or ends in .ini
 *          kind    "holes" or "flatness"; NULL: any
 *          beside  the file that names it (paths are seen from there) and
 *          line    its line, for messages; NULL and 0 on the command line
 * errors   PP_EINPUT (no such name, not this kind, no rule file), PP_EIO, PP_ENOMEM
 */
typedef struct pp_rule_place {
    const char *beside; /* the job file that names the set; NULL: none */
    long line;          /* of it */
    const char *file;   /* where the rule file is now; NULL: where `beside` says */
} pp_rule_place;

/* Open a built-in set by its name, else the file of that name beside `place`.
 * errors   PP_EINPUT: no such set, of another kind, or no rule file; PP_EIO: it cannot be read;
 *          PP_ENOMEM */
pp_status pp_rule_file_open(const char *name, const char *kind, const pp_rule_place *place,
                            pp_memory *memory, pp_rule_file *file, pp_error *error);

/* The built-in rule files, in the order they are listed in. */
size_t pp_rule_built_in_count(void);
enum { PP_RULE_NAME_MAX = 64 };
const char *pp_rule_built_in_name(size_t index, char name[PP_RULE_NAME_MAX]);

/* How sure a value is, by its letter: A published, seen in two sources ... D from memory, not
 * checked; 0 and '-': not said. */
bool pp_rule_is_sure(char letter);
const char *pp_rule_sure_words(char letter);

/* The words of a line, split at commas (or blanks), trimmed. */
typedef struct pp_rule_words {
    size_t count;
    const char *const *word;
} pp_rule_words;
/* Cut a text at every `between`, blanks around each word taken off (between : at any number of
 * them).
 * memory   keep: the words
 * errors   PP_ENOMEM */
pp_status pp_rule_split(const char *text, char between, pp_memory *memory, pp_rule_words *words,
                        pp_error *error);

/* One length of a table in mm: `-` is NaN. `name` is its column or key, for messages.
 * errors   PP_EINPUT: no number, out of range, or no unit of length */
pp_status pp_rule_length(const pp_rule_file *file, long line, const char *name, const char *text,
                         pp_length_unit bare, pp_range range, double *value, pp_error *error);

/* The unit of a section's bare numbers: its key `unit`; it must be there. errors: PP_EINPUT: it is
 * not there, or no unit */
pp_status pp_rule_unit(const pp_rule_file *file, const pp_ini_section *section,
                       pp_length_unit *unit, pp_error *error);

/* Every key of a table but `row` stands there once. After the keys were found to be known ones: the
 * time goes by their number.
 * errors   PP_EINPUT: one is there twice */
pp_status pp_rule_once(const pp_rule_file *file, const pp_ini_section *section, pp_error *error);

/* Number of the word among `count` known ones; count if it is none of them. */
size_t pp_rule_word(const char *word, size_t count, const char *const *known);

/* "WHAT is no KIND; did you mean NEAREST?" at a line of the rule file. errors: PP_EINPUT always */
pp_status pp_rule_unknown(const pp_rule_file *file, long line, const char *kind, const char *what,
                          size_t count, const char *const *known, pp_error *error);

#endif

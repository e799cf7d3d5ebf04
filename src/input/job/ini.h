/* INI text with the line of everything: what job files and rule files are written in.
 *
 * UTF-8, with or without BOM, LF or CRLF. A line is `[section]`, `key = value`, blank, or a comment
 * (begins with ; or #); what follows blank + ; is a comment too. Leading blanks mean nothing. A
 * section may be written in several pieces. Refused: text that is not UTF-8, control characters,
 * lines too long for the parser, a key above the first section, anything else.
 *
 * Read with inih; its handler gets no line numbers and it cuts long lines in pieces without a
 * word, so the lines are counted and checked on the way in.
 */
#ifndef PP_INPUT_JOB_INI_H
#define PP_INPUT_JOB_INI_H

#include "base/memory.h"

enum {
    PP_INI_LINE_MAX = 198,        /* bytes of key and value: what inih takes in one piece */
    PP_INI_SECTION_MAX = 48,      /* bytes of a section's name */
    PP_INI_FILE_MAX = 1024 * 1024 /* bytes; a larger file is no job or rule file */
};

typedef struct pp_ini_entry {
    const char *key, *value; /* trimmed; value "" when left empty */
    long line;
} pp_ini_entry;

typedef struct pp_ini_section {
    const char *name;
    long line;
    size_t first, count; /* of the entries */
} pp_ini_section;

typedef struct pp_ini {
    const char *file; /* as given, for messages */
    size_t section_count, entry_count;
    const pp_ini_section *sections; /* in file order; a name may come again */
    const pp_ini_entry *entries;
} pp_ini;

/* Read the file at `path`; everything lives in memory->keep.
 * errors: PP_EINPUT with the line; PP_EIO (missing, unreadable, no ordinary file); PP_ENOMEM */
pp_status pp_ini_read(const char *path, pp_memory *memory, pp_ini *ini, pp_error *error);

/* The same from text[length]; `file` names it in messages. errors: PP_EINPUT: a line that is
 * neither [section] nor key = value; PP_ENOMEM */
pp_status pp_ini_parse(const char *file, const char *text, size_t length, pp_memory *memory,
                       pp_ini *ini, pp_error *error);

/* `written` as seen from the folder of `file`: absolute paths stay. NULL when memory ran out. */
const char *pp_path_beside(pp_arena *arena, const char *file, const char *written);

#endif

/* How one table was read, as plain data: beside the results of a job, and as a preview of a single
 * file (input/lists/preview.h). Lives in memory->keep. */
#ifndef PP_BASE_READING_H
#define PP_BASE_READING_H

#include <stdbool.h>
#include <stddef.h>

#include "base/memory.h"
#include "base/units.h"

enum {
    PP_PROBLEMS_MAX = 20, /* told of one file at a time */
    PP_REMARKS_MAX = 8,
    PP_COMMENTED_MAX = 6 /* names kept of rows that were taken for comments */
};

typedef enum pp_unit_origin {
    PP_UNIT_NONE,        /* no length */
    PP_UNIT_OF_HEADER,   /* written in the column's name */
    PP_UNIT_OF_UNIT_ROW, /* in a row of units below the header */
    PP_UNIT_OF_SECTION,  /* length_unit in the job file's section */
    PP_UNIT_OF_JOB,      /* units of the job */
    PP_UNIT_ASSUMED      /* said nowhere */
} pp_unit_origin;

typedef struct pp_column_used {
    const char *column; /* what it means: "x" */
    const char *header; /* as it stands in the file; "" without a header */
    bool mapped;        /* the job file says that this header means it */
    pp_length_unit unit;
    pp_unit_origin origin; /* of the unit */
} pp_column_used;

typedef struct pp_table_reading {
    const char *what; /* "the measured hole list" */
    char delimiter;   /* comma, semicolon, tab; 0: the file was not understood that far */
    char decimal;     /* point, comma; 0: no number had a mark */
    bool header;
    long header_line; /* from 1; 0 without a header */
    size_t rows;
    size_t blank, comments, preamble, unit_rows, totals, headers; /* lines skipped, by why */
    size_t used_count;
    const pp_column_used *used; /* in the order of the file */
    size_t ignored_count;
    const char *const *ignored; /* header words of columns nothing was taken from */
    /* lines that begin with # and would be rows without it: how many, and the first names */
    size_t commented_count;
    const char *commented[PP_COMMENTED_MAX];
} pp_table_reading;

/* What is wrong with a file; the text ends with what to do. */
typedef struct pp_problem {
    long line, column; /* from 1; 0: not known */
    const char *text;
} pp_problem;

/* Filled in as far as reading came, also where the file is refused. Zero-initialise. */
typedef struct pp_table_note {
    pp_table_reading reading;
    size_t problem_count; /* at most PP_PROBLEMS_MAX; `more` beyond were not looked for */
    bool more;
    pp_problem problems[PP_PROBLEMS_MAX];
    size_t remark_count; /* no error, but to be said wherever the data are used */
    const char *remarks[PP_REMARKS_MAX];
} pp_table_note;

/* A copy of how a table was read that outlives the list: *kept in `arena`; NULL for NULL.
 * errors: PP_ENOMEM */
pp_status pp_reading_keep(const pp_table_reading *reading, pp_arena *arena,
                          const pp_table_reading **kept, pp_error *error);

#endif

/* One reader for every table.
 *
 * The caller says which columns it knows; the reader finds the delimiter (comma, semicolon, tab),
 * the header (names in any order and case, or as the job file maps them, with units), the decimal
 * mark, and fills one array per column. Comma-separated numbers have a decimal point; otherwise
 * point or comma, the same one throughout the file. UTF-8 with or without byte-order mark, LF or
 * CRLF, quoted cells. Skipped and counted: blank lines, rows of empty cells only, lines above the
 * header, a row of units below it, the header again, rows of totals at the end, and lines that
 * begin with # (below the header only where they name no hole that `is_name` knows).
 *
 * Rows that can't be read are noted, up to PP_PROBLEMS_MAX of them, and the file is refused with
 * all of them in one message.
 *
 * Method: the file is cut into parts of fixed size at line ends; one pass counts the lines, one
 * fills the arrays, both in parallel. Rows without quotation marks go through a scanning loop of
 * our own; whatever it does not take (quotes, anything wrong) sends the file through once more in
 * one piece, where libcsv splits such rows and every message comes from. Both ways give the same
 * numbers, bit for bit.
 *
 * Limits, refused with a message beyond: 65536 bytes a line, 1024 columns, 2^32 - 2 rows, lengths
 * of 1e9 mm (a thousand kilometres).
 */
#ifndef PP_INPUT_CSV_CSV_H
#define PP_INPUT_CSV_CSV_H

#include <stdint.h>

#include "base/reading.h"
#include "input/job/job.h"

enum {
    PP_CSV_LINE_MAX = 65536,
    PP_CSV_CELLS_MAX = 1024,
    PP_CSV_COLUMNS_MAX = 20, /* known to one kind of table */
    PP_CSV_SPARE_MAX = 64,   /* of the others, how many are kept at most */
    PP_CSV_SLOTS = PP_CSV_COLUMNS_MAX + PP_CSV_SPARE_MAX
};
#define PP_CSV_LENGTH_MAX 1e9 /* mm either way: beyond it a length is no plate's */
#define PP_CSV_ROWS_MAX ((size_t)UINT32_MAX - 1)

typedef enum pp_csv_type {
    PP_CSV_LENGTH, /* a number in the header's unit, else the request's; mm */
    PP_CSV_NUMBER, /* a number as it stands; a length unit in the header is allowed */
    PP_CSV_TEXT,   /* zero-terminated, blanks around it cut */
    PP_CSV_WORD,   /* one of a list of words, in any case */
    PP_CSV_COUNT   /* a whole number from 1 */
} pp_csv_type;

typedef struct pp_csv_word {
    const char *word;
    int code; /* -128..127 */
} pp_csv_word;

typedef struct pp_csv_column {
    const char *names[4]; /* lower case; the first is the one that messages use */
    pp_csv_type type;
    bool needed;   /* the file must have this column */
    bool optional; /* a cell may be empty: NaN, "", `empty` */
    bool lines;    /* a text may hold line breaks (in quotes) */
    bool raw;      /* a text may be anything, UTF-8 or not */
    int empty;     /* code or count of an empty cell or an absent column */
    const pp_csv_word *words;
    size_t word_count;
    const char *remedy; /* NULL, or what a message about an unknown word adds at its end */
} pp_csv_column;

typedef struct pp_csv_request {
    const pp_job *job;    /* that names the file, for messages and its unit; NULL: none does */
    const char *named_in; /* or the file that names it, for messages; may be NULL */
    const pp_job_file *file;
    const char *what; /* for messages: "the survey" */
    pp_length_unit unit;
    const char *section;      /* of the job file, whose length_unit `unit` is; NULL: it has none */
    const pp_column_map *map; /* header words of the job file; NULL: none */
    const pp_csv_column *columns;
    size_t column_count;
    bool spare; /* keep the texts of columns nobody asked for */
    /* Whether a text is a name that rows of this table may have, for lines that begin with #;
     * NULL: none is. The first column holds it. */
    bool (*is_name)(const void *context, const char *text);
    const void *is_name_context;
    bool hash_rows; /* lines that begin with # are rows, like any other */
    /* Without a header the columns are the first plain_min .. plain_max of the list, in that order
     * (0: a header is needed). */
    size_t plain_min, plain_max;
    bool lines;          /* fill pp_csv_table.line */
    pp_table_note *note; /* NULL, or where to note how the table was read and what is wrong */
    /* Zero, but in tests: they send every row through libcsv, and cut small files into many parts
     * and pieces. */
    struct {
        bool all_by_libcsv;
        size_t part_bytes, piece_bytes;
    } trial;
} pp_csv_request;

/* The array of a column that is there; all NULL when it is not. */
typedef struct pp_csv_values {
    double *number;
    const char **text;
    int8_t *code;
    uint32_t *count;
} pp_csv_values;

typedef struct pp_csv_table {
    size_t rows; /* row i of the arrays is data row i + 1 */
    pp_csv_values column[PP_CSV_COLUMNS_MAX];
    long *line;                      /* physical line on which each row begins, or NULL */
    const pp_table_reading *reading; /* in memory->keep */
    size_t spare_count;              /* columns nobody asked for, in the order of the file */
    struct {
        const char *header; /* as it stands in the file */
        size_t cell;        /* from 1 */
        const char **text;
    } spare[PP_CSV_SPARE_MAX];
} pp_csv_table;

/* Read the table. Arrays and texts are in memory->keep. A table without rows is no error here.
 * errors: PP_EINPUT with file, line and column (the cell's number, from 1): no table of the kind
 * asked for; PP_EIO: it cannot be read, or changes meanwhile; PP_ENOMEM */
pp_status pp_csv_read(const pp_csv_request *request, int threads, pp_memory *memory,
                      pp_csv_table *table, pp_error *error);

/* Note a problem of a row already read, with its place: for checks of the caller's own. *full: no
 * more are wanted. errors: PP_EINPUT: the caller wants no list, so that this problem ends the
 * reading; of finding the place as pp_csv_find */
pp_status pp_csv_note(const pp_csv_request *request, pp_table_note *note, size_t row, size_t column,
                      pp_memory *memory, const char *text, bool *full, pp_error *error);

/* PP_OK where nothing was noted, else PP_EINPUT: the first problem, and each further one on a line
 * of its own. */
pp_status pp_csv_refuse(const pp_csv_request *request, const pp_table_note *note, pp_error *error);

/* The physical line of data row `row` (from 0) and the cell number of request column `column` (0
 * when absent), for messages about rows already read: the file is read again.
 * errors   PP_EINPUT, PP_EIO as pp_csv_read, where the file has changed since; PP_ENOMEM */
pp_status pp_csv_find(const pp_csv_request *request, size_t row, size_t column, pp_memory *memory,
                      long *line, long *cell, pp_error *error);

#endif

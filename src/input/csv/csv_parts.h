/* Inside the table reader: what its pieces share. Nothing else includes this. */
#ifndef PP_INPUT_CSV_CSV_PARTS_H
#define PP_INPUT_CSV_CSV_PARTS_H

#include <csv.h>

#include "input/csv/csv.h"
#include "input/csv/file.h"

/* ---- what the head of the file says about all the rows (csv_head.c) ---- */

enum { PP_CSV_SKIP = PP_CSV_COUNT + 1 }; /* op of a cell nobody asked for */

typedef struct pp_csv_op { /* what to do with a cell */
    uint8_t type;          /* pp_csv_type or PP_CSV_SKIP */
    uint8_t unit;          /* pp_length_unit, for PP_CSV_LENGTH */
    uint8_t column;        /* of the request */
} pp_csv_op;

/* How bytes end a cell. */
enum {
    PP_CSV_ORDINARY,
    PP_CSV_HIGH, /* part of a UTF-8 sequence */
    PP_CSV_STOP  /* delimiter, line end, quotation mark, control character */
};

typedef struct pp_csv_plan {
    const pp_csv_request *request;
    char delimiter;
    char comma; /* ',' where a decimal comma is understood, else '.' */
    bool header;
    size_t cells;                       /* of the header, or of the first row */
    size_t needed;                      /* a row has at least this many */
    size_t first_byte;                  /* of the data */
    long first_line;                    /* of the data, physical, from 1 */
    size_t comments;                    /* lines that begin with # before the data */
    size_t cell_of[PP_CSV_COLUMNS_MAX]; /* cell number from 1; 0: absent */
    uint8_t class_of[256];
    pp_csv_op ops[PP_CSV_CELLS_MAX];
} pp_csv_plan;

/* ---- where rows go ---- */

enum { PP_CSV_POINT = 1, PP_CSV_COMMA = 2, PP_CSV_BOTH_MARKS = 3 }; /* decimal marks, as bits */

typedef struct pp_csv_rows {
    const pp_csv_plan *plan;
    pp_csv_values column[PP_CSV_COLUMNS_MAX];
    long *line;          /* or NULL */
    bool keep;           /* false: every row is written over row 0 */
    size_t row, row_end; /* the next row, and where to stop */
    long next_line;
    char *pool; /* where the next text goes */
    unsigned marks;
    long mark_line; /* where the first decimal mark stands */
    size_t comments;
} pp_csv_rows;

/* ---- a window that slides over the file, a whole number of lines at a time (csv_window.c) ---- */

enum { PP_CSV_PIECE = 1 << 20, PP_CSV_MARGIN = 64 };

typedef struct pp_csv_window {
    const pp_file *file;
    char *bytes;       /* room: pp_csv_window_room() */
    size_t offset;     /* of bytes[0] in the file */
    size_t piece;      /* bytes to read at a time, at most PP_CSV_PIECE */
    size_t begin, end; /* what is still to be used */
    bool last;         /* the file ends at `end`, where a line feed was added if it had none */
} pp_csv_window;

/* A piece, the line it begins in, one line feed and what eight-byte loads may touch. */
size_t pp_csv_window_room(const pp_file *file);
void pp_csv_window_start(pp_csv_window *window, const pp_file *file, char *bytes, size_t offset,
                         size_t piece);
/* Move what is left to the front and read on. */
pp_status pp_csv_window_fill(pp_csv_window *window, pp_error *error);
/* The next line, without its line feed; *found false at the end. PP_EINPUT when it is longer than
 * PP_CSV_LINE_MAX. */
pp_status pp_csv_window_line(pp_csv_window *window, long line, const char **begin, size_t *length,
                             bool *found, pp_error *error);

/* Blank, or a comment (*comment). */
bool pp_csv_idle_line(const char *line, size_t length, bool *comment);

/* ---- the scanning loop (csv_plain.c) ---- */

/* Take rows from `at` while their lines begin before `stop` (a line end precedes it); every such
 * line is complete. Returns the first line not taken: `stop` or beyond, or a line that is left to
 * libcsv. */
const char *pp_csv_take_plain(pp_csv_rows *rows, const char *at, const char *stop);

/* ---- splitting with libcsv (csv_record.c) ---- */

typedef struct pp_csv_record {
    struct csv_parser parser;
    size_t count; /* cells */
    size_t used;
    size_t fed; /* bytes, line feeds included */
    size_t rows_ended, first_row_cells;
    bool open; /* a row has begun and not ended */
    bool too_many_cells;
    long line;                          /* where the row began */
    size_t begin[PP_CSV_CELLS_MAX + 1]; /* of the cells' texts; cell i ends at begin[i + 1] */
    char text[PP_CSV_LINE_MAX + 8];
} pp_csv_record;

/* A record in `arena`; pp_csv_record_free gives back what libcsv allocated. */
pp_status pp_csv_record_new(pp_arena *arena, char delimiter, pp_csv_record **record,
                            pp_error *error);
void pp_csv_record_free(pp_csv_record *record);
/* Add a physical line (without its line feed). record->open tells whether the row goes on. */
pp_status pp_csv_record_add(pp_csv_record *record, const char *path, const char *line,
                            size_t length, long number, pp_error *error);
/* The file ended, or the row grew too long, inside quotation marks. */
pp_status pp_csv_record_unclosed(const pp_csv_record *record, const char *path, pp_error *error);
/* Take the finished record as a row. */
pp_status pp_csv_take_record(pp_csv_rows *rows, const pp_csv_record *record, pp_error *error);

/* ---- single cells, the same for both ways ---- */

bool pp_csv_word_code(const pp_csv_column *column, const char *text, size_t length, int *code);
bool pp_csv_whole(const char *text, size_t length, uint32_t *count);
bool pp_csv_utf8(const char *text, size_t length);
/* Values of an absent or empty cell. */
void pp_csv_put_empty(const pp_csv_plan *plan, const pp_csv_values *values, size_t column,
                      size_t row);
/* Fill what a short row lacks, from cell `from` on. */
void pp_csv_put_missing(const pp_csv_plan *plan, const pp_csv_values *values, size_t from,
                        size_t row);

enum { PP_CSV_SHOWN_MAX = 64 };
/* The cell as a message can show it: shortened, without control characters. */
const char *pp_csv_shown(const char *text, size_t length, char shown[PP_CSV_SHOWN_MAX]);

/* ---- the head ---- */

pp_status pp_csv_plan_make(const pp_csv_request *request, const pp_file *file, pp_arena *scratch,
                           pp_csv_plan *plan, pp_error *error);

#endif

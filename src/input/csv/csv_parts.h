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
    pp_csv_column columns[PP_CSV_SLOTS]; /* the request's, then spare ones from spare_first */
    size_t column_count, spare_first;
    char delimiter;
    char comma;                   /* ',' where a decimal comma is understood, else '.' */
    size_t cells;                 /* of the header, or of the first row */
    size_t needed;                /* a row has at least this many */
    size_t first_byte;            /* of the data */
    long first_line;              /* of the data, physical, from 1 */
    size_t cell_of[PP_CSV_SLOTS]; /* cell number from 1; 0: absent */
    const char *head, *units;     /* the lines of the header and of the units, to know them again */
    size_t head_length, units_length;
    pp_table_reading reading; /* as far as the head tells */
    pp_column_used *used;     /* that of the reading, while it is made */
    uint8_t class_of[256];
    pp_csv_op ops[PP_CSV_CELLS_MAX];
} pp_csv_plan;

/* ---- where rows go ---- */

enum { PP_CSV_POINT = 1, PP_CSV_COMMA = 2, PP_CSV_BOTH_MARKS = 3 }; /* decimal marks, as bits */

typedef struct pp_csv_rows {
    const pp_csv_plan *plan;
    pp_csv_values column[PP_CSV_SLOTS];
    long *line;          /* or NULL */
    bool keep;           /* false: every row is written over row 0 */
    size_t row, row_end; /* the next row, and where to stop */
    long next_line;
    char *pool; /* where the next text goes */
    unsigned marks;
    long mark_line; /* where the first decimal mark stands */
    size_t comments, blank;
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
/* Move what is left to the front and read on. errors: PP_EIO: it cannot be read, or became shorter
 * */
pp_status pp_csv_window_fill(pp_csv_window *window, pp_error *error);
/* The next line, without its line feed; *found false at the end. PP_EINPUT when it is longer than
 * PP_CSV_LINE_MAX. */
pp_status pp_csv_window_line(pp_csv_window *window, long line, const char **begin, size_t *length,
                             bool *found, pp_error *error);

/* Blank, or a comment (*comment). */
bool pp_csv_idle_line(const char *line, size_t length, bool *comment);

/* A line that begins with # and may be a row all the same: it has more than one cell and closes its
 * quotation marks. */
bool pp_csv_hash_line(const pp_csv_plan *plan, const char *line, size_t length);

/* ---- the scanning loop (csv_plain.c) ---- */

/* Take the plain rows of the window that begin before byte `end` of the file. False: a line was
 * left. */
bool pp_csv_take_window(pp_csv_rows *rows, pp_csv_window *window, size_t end);

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

/* A record in `arena`; pp_csv_record_free gives back what libcsv allocated. errors: PP_ENOMEM */
pp_status pp_csv_record_new(pp_arena *arena, char delimiter, pp_csv_record **record,
                            pp_error *error);
void pp_csv_record_free(pp_csv_record *record);
/* Forget a row that has begun. PP_ENOMEM */
pp_status pp_csv_record_reset(pp_csv_record *record, pp_error *error);
/* Add a physical line (without its line feed). record->open tells whether the row goes on.
 * errors   PP_EINPUT: too many cells, a lone carriage return, a quotation mark inside a cell or
 *          never closed; PP_ENOMEM */
pp_status pp_csv_record_add(pp_csv_record *record, const char *path, const char *line,
                            size_t length, long number, pp_error *error);
static inline const char *pp_csv_cell_text(const pp_csv_record *record, size_t i, size_t *length)
{
    *length = record->begin[i + 1] - record->begin[i];
    return record->text + record->begin[i];
}
/* The file ended, or the row grew too long, inside quotation marks. errors: PP_EINPUT always */
pp_status pp_csv_record_unclosed(const pp_csv_record *record, const char *path, pp_error *error);
/* Take the finished record as a row. errors: PP_EINPUT at its cell; PP_EIO: the file grew */
pp_status pp_csv_take_record(pp_csv_rows *rows, const pp_csv_record *record, pp_error *error);

/* ---- single cells, the same for both ways ---- */

/* The code of a cell's word, in any case; false when the column knows no such word. */
bool pp_csv_word_code(const pp_csv_column *column, const char *text, size_t length, int *code);
/* A whole number from 1 to 1e9; false for anything else. */
bool pp_csv_whole(const char *text, size_t length, uint32_t *count);
/* Whether the bytes are well-formed UTF-8. */
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

/* ---- header words (csv_names.c) ---- */

typedef struct pp_csv_names {
    const pp_csv_request *request;
    const char *mapped[PP_CSV_COLUMNS_MAX]; /* the job file's word for a column; NULL: none */
} pp_csv_names;

typedef enum pp_csv_naming {
    PP_CSV_NAMES_NOTHING,
    PP_CSV_NAMES_COLUMN,
    PP_CSV_NAMES_STRANGE_UNIT
} pp_csv_naming;

typedef struct pp_csv_named {
    size_t column;
    bool mapped;
    bool unit_given;
    pp_length_unit unit;
    const char *unit_text; /* in the cell */
    size_t unit_length;
} pp_csv_named;

/* Look the job file's words up. PP_EINPUT at the job file's line: one means no column. */
pp_status pp_csv_names_make(const pp_csv_request *request, pp_csv_names *names, pp_error *error);
/* The column that a header cell names: x, x_mm, x mm, x (in), x [mm], or the job file's word. */
pp_csv_naming pp_csv_name_read(const pp_csv_names *names, const char *text, size_t length,
                               pp_csv_named *named);
bool pp_csv_takes_unit(const pp_csv_column *column);

/* ---- the plan, step by step (csv_plan.c) ---- */

/* An empty plan for rows of `cells` cells: no column found yet. */
void pp_csv_plan_begin(const pp_csv_request *request, char delimiter, size_t cells,
                       pp_csv_plan *plan);
/* By the header in `record`, or for `filled` cells without a header; texts in `keep`.
 * errors   PP_EINPUT: a column that is missing, twice or of a unit nobody knows; PP_ENOMEM */
pp_status pp_csv_plan_header(pp_csv_plan *plan, const pp_csv_names *names,
                             const pp_csv_record *record, pp_arena *keep, pp_error *error);
pp_status pp_csv_plan_row(pp_csv_plan *plan, size_t filled, pp_arena *keep, pp_error *error);
pp_status pp_csv_fail_unit(const pp_csv_request *request, const pp_csv_named *named, long line,
                           size_t cell, pp_error *error);

/* ---- rows of totals and units (csv_marks.c) ---- */

/* "Total", "Mittelwert:", "max": what stands before a row that sums up a table. */
bool pp_csv_is_total(const char *text, size_t length);
/* Rows at the end that sum the table up are counted, and the file ends above them.
 * errors   PP_EIO: the file cannot be read; PP_ENOMEM */
pp_status pp_csv_cut_totals(const pp_csv_plan *plan, pp_file *file, pp_arena *scratch,
                            pp_table_reading *reading, pp_error *error);
/* The row below the header gives units: each cell of a length is empty or a unit, at least one is a
 * unit, and nothing else in it is a number. Units go into the plan.
 * errors   PP_EINPUT: a unit that contradicts the header's */
pp_status pp_csv_take_units(pp_csv_plan *plan, const pp_csv_record *record, bool *found,
                            pp_error *error);
/* A unit in the lines above the header that contradicts what the lengths are read in.
 * errors   PP_EINPUT: there is one */
pp_status pp_csv_check_preamble(const pp_csv_plan *plan, const char *line, size_t length,
                                long number, pp_error *error);

/* ---- in one piece (csv_serial.c) ---- */

typedef struct pp_csv_serial {
    const pp_csv_plan *plan;
    const pp_file *file;
    char *window_bytes; /* pp_csv_window_room() */
    size_t piece_bytes;
    bool all_by_libcsv;
    pp_csv_rows *rows; /* without rows->keep: as far as rows->row_end */
    pp_memory *memory;
    pp_table_note *note;       /* where bad rows go; NULL: the first one ends it */
    pp_table_reading *reading; /* its counts grow */
    /* on the way */
    pp_csv_record *record;
    long totals_line;  /* of the first row of totals that no row has followed; 0: none */
    bool below_header; /* the line before was the header */
} pp_csv_serial;

/* Take every row from the plan's first byte. errors: PP_EINPUT: a row that is wrong; PP_EIO: the
 * file cannot be read, or changes meanwhile; PP_ENOMEM */
pp_status pp_csv_take_serially(pp_csv_serial *serial, pp_error *error);
/* Take what is wrong into the note. PP_ENOMEM */
pp_status pp_csv_note_error(pp_table_note *note, pp_arena *keep, const pp_error *error);

/* ---- the head ---- */

/* Read the head: which column of the file is which of the request, in which unit, and where the
 * data begin. *plan and what it points to: texts of the reading in memory->keep, the rest in
 * scratch. errors   PP_EINPUT with line and column: a column missing, named twice or in an unknown
 * unit */
pp_status pp_csv_plan_make(const pp_csv_request *request, const pp_file *file, pp_memory *memory,
                           pp_csv_plan *plan, pp_error *error);

#endif

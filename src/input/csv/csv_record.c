/* Rows that libcsv splits, and every message about a row. libcsv is fed one physical line at a time
 * so that line numbers stay known: it counts none, and would swallow blank lines. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/number.h"
#include "input/csv/csv_parts.h"

/* ---- splitting ---- */

static void cell_ended(void *bytes, size_t length, void *context)
{
    pp_csv_record *record = context;
    if (record->count == PP_CSV_CELLS_MAX) {
        record->too_many_cells = true;
        return;
    }
    record->begin[record->count++] = record->used;
    if (length) memcpy(record->text + record->used, bytes, length);
    record->used += length; /* never more than was fed, which is at most PP_CSV_LINE_MAX */
    record->begin[record->count] = record->used;
}

static void row_ended(int terminator, void *context)
{
    (void)terminator;
    pp_csv_record *record = context;
    if (record->rows_ended++ == 0) record->first_row_cells = record->count;
}

static pp_status start_parser(pp_csv_record *record, unsigned char delimiter, pp_error *error)
{
    if (csv_init(&record->parser, CSV_STRICT) != 0)
        return pp_fail(error, PP_ENOMEM, "the CSV parser could not be started; try again");
    csv_set_delim(&record->parser, delimiter);
    return PP_OK;
}

pp_status pp_csv_record_new(pp_arena *arena, char delimiter, pp_csv_record **record,
                            pp_error *error)
{
    pp_csv_record *r;
    PP_TAKE(r, arena, 1);
    memset(r, 0, offsetof(pp_csv_record, begin));
    PP_TRY(start_parser(r, (unsigned char)delimiter, error));
    *record = r;
    return PP_OK;
}

pp_status pp_csv_record_reset(pp_csv_record *record, pp_error *error)
{
    unsigned char delimiter = csv_get_delim(&record->parser);
    csv_free(&record->parser);
    record->open = false;
    return start_parser(record, delimiter, error);
}

void pp_csv_record_free(pp_csv_record *record)
{
    if (record) csv_free(&record->parser);
}

/* False: libcsv stopped. */
static bool feed(pp_csv_record *record, const char *bytes, size_t length)
{
    return csv_parse(&record->parser, bytes, length, cell_ended, row_ended, record) == length;
}

static pp_status fail_to_split(pp_csv_record *record, const char *path, long line, pp_error *error)
{
    if (csv_error(&record->parser) == CSV_ENOMEM) return pp_fail_memory(error);
    return pp_fail_at(error, PP_EINPUT, path, line, (long)record->count + 1,
                      "a quotation mark stands inside a cell; put the whole cell in quotation "
                      "marks and double the one inside, or leave it out");
}

pp_status pp_csv_record_unclosed(const pp_csv_record *record, const char *path, pp_error *error)
{
    return pp_fail_at(error, PP_EINPUT, path, record->line, (long)record->count + 1,
                      "the quotation mark that opens here is never closed; close it or leave it "
                      "out");
}

pp_status pp_csv_record_add(pp_csv_record *record, const char *path, const char *line,
                            size_t length, long number, pp_error *error)
{
    if (!record->open) {
        record->count = record->used = record->rows_ended = record->fed = 0;
        record->too_many_cells = false;
        record->line = number;
    }
    record->fed += length + 1;
    if (record->fed > PP_CSV_LINE_MAX + 1) return pp_csv_record_unclosed(record, path, error);
    bool carriage = length && line[length - 1] == '\r';
    if (!feed(record, line, length - carriage)) return fail_to_split(record, path, number, error);
    if (record->rows_ended)
        return pp_fail_at(error, PP_EINPUT, path, number, (long)record->first_row_cells,
                          "a carriage return without a line feed; save the file with LF or CRLF "
                          "line ends");
    if (!feed(record, carriage ? "\r\n" : "\n", 1 + (size_t)carriage))
        return fail_to_split(record, path, number, error);
    record->open = record->rows_ended == 0;
    if (record->too_many_cells)
        return pp_fail_at(error, PP_EINPUT, path, record->line, PP_CSV_CELLS_MAX + 1,
                          "more than %d columns; keep those that are needed", PP_CSV_CELLS_MAX);
    return PP_OK;
}

/* ---- taking the row ---- */

typedef struct cell {
    const char *text;
    size_t length;
    long number; /* from 1 */
} cell;

static cell get_cell(const pp_csv_record *record, size_t i)
{
    size_t begin = record->begin[i];
    return (cell){record->text + begin, record->begin[i + 1] - begin, (long)i + 1};
}

#define FAIL_CELL(...)                                                                             \
    pp_fail_at(error, PP_EINPUT, rows->plan->request->file->path, record->line, c.number,          \
               __VA_ARGS__)

static pp_status fail_number(const pp_csv_rows *rows, const pp_csv_record *record, cell c,
                             const char *name, pp_error *error)
{
    char shown[PP_CSV_SHOWN_MAX];
    const char *hint = "correct the cell";
    double value;
    if (pp_number_read(c.text, c.length, ',', &value))
        hint = "a decimal comma is understood only where the delimiter is not a comma";
    else if (c.length && (memchr(c.text, ',', c.length) || memchr(c.text, '\'', c.length) ||
                          memchr(c.text, ' ', c.length)))
        hint = "write digits with one decimal mark, no thousands marks, no unit";
    return FAIL_CELL("'%s' in column %s is not a finite number; %s",
                     pp_csv_shown(c.text, c.length, shown), name, hint);
}

static pp_status take_number(pp_csv_rows *rows, const pp_csv_record *record, cell c, pp_csv_op op,
                             size_t row, pp_error *error)
{
    const pp_csv_plan *plan = rows->plan;
    const char *name = plan->columns[op.column].names[0];
    char shown[PP_CSV_SHOWN_MAX];
    double *value = &rows->column[op.column].number[row];
    bool comma = plan->comma == ',' && memchr(c.text, ',', c.length);
    if (!pp_number_read(c.text, c.length, comma ? ',' : '.', value))
        return fail_number(rows, record, c, name, error);
    unsigned mark = comma ? PP_CSV_COMMA : memchr(c.text, '.', c.length) ? PP_CSV_POINT : 0;
    if (mark && (rows->marks | mark) == PP_CSV_BOTH_MARKS)
        return FAIL_CELL("a decimal %s here, but a decimal %s on line %ld; use one of them "
                         "throughout the file",
                         comma ? "comma" : "point", comma ? "point" : "comma", rows->mark_line);
    if (mark && !rows->marks) rows->mark_line = record->line;
    rows->marks |= mark;
    if (op.type == PP_CSV_NUMBER) return PP_OK;
    *value = pp_unit_to_mm((pp_length_unit)op.unit, *value);
    if (fabs(*value) > PP_CSV_LENGTH_MAX)
        return FAIL_CELL("'%s' in column %s is too large for a length on a plate; correct the cell "
                         "or the unit",
                         pp_csv_shown(c.text, c.length, shown), name);
    return PP_OK;
}

static pp_status take_text(pp_csv_rows *rows, const pp_csv_record *record, cell c, pp_csv_op op,
                           size_t row, pp_error *error)
{
    const pp_csv_column *column = &rows->plan->columns[op.column];
    if (!column->raw && !pp_csv_utf8(c.text, c.length))
        return FAIL_CELL("the text in column %s is not UTF-8; save the file as UTF-8",
                         column->names[0]);
    if (!column->lines && (memchr(c.text, '\n', c.length) || memchr(c.text, '\r', c.length)))
        return FAIL_CELL("a line break inside column %s; write it on one line", column->names[0]);
    memcpy(rows->pool, c.text, c.length);
    rows->pool[c.length] = '\0';
    rows->column[op.column].text[row] = rows->pool;
    if (rows->keep) rows->pool += c.length + 1;
    return PP_OK;
}

static pp_status take_word(pp_csv_rows *rows, const pp_csv_record *record, cell c, pp_csv_op op,
                           size_t row, pp_error *error)
{
    const pp_csv_column *column = &rows->plan->columns[op.column];
    int code;
    if (pp_csv_word_code(column, c.text, c.length, &code)) {
        rows->column[op.column].code[row] = (int8_t)code;
        return PP_OK;
    }
    char shown[PP_CSV_SHOWN_MAX], known[256] = "";
    for (size_t i = 0; i < column->word_count; i++) {
        size_t used = strlen(known), length = strlen(column->words[i].word);
        if (used + length + 8 > sizeof known) break;
        const char *between = i == 0 ? "" : i + 1 < column->word_count ? ", " : " or ";
        snprintf(known + used, sizeof known - used, "%s%s", between, column->words[i].word);
    }
    return FAIL_CELL("'%s' in column %s is not known; write %s%s",
                     pp_csv_shown(c.text, c.length, shown), column->names[0], known,
                     column->remedy ? column->remedy : "");
}

static pp_status take_cell(pp_csv_rows *rows, const pp_csv_record *record, cell c, size_t row,
                           pp_error *error)
{
    char shown[PP_CSV_SHOWN_MAX];
    pp_csv_op op = rows->plan->ops[c.number - 1];
    for (size_t i = 0; i < c.length; i++) {
        char b = c.text[i];
        if ((unsigned char)b < ' ' && b != '\t' && b != '\n' && b != '\r')
            return FAIL_CELL("a control character (byte %d) in the cell; the file is not plain "
                             "text or is damaged, export it again as CSV",
                             b);
    }
    if (op.type == PP_CSV_SKIP) return PP_OK;
    const pp_csv_column *column = &rows->plan->columns[op.column];
    if (c.length == 0) {
        if (!column->optional)
            return FAIL_CELL("the cell in column %s is empty; every row needs a %s there",
                             column->names[0], column->type == PP_CSV_TEXT ? "text" : "number");
        pp_csv_put_empty(rows->plan, rows->column, op.column, row);
        return PP_OK;
    }
    switch (op.type) {
    case PP_CSV_LENGTH:
    case PP_CSV_NUMBER:
        return take_number(rows, record, c, op, row, error);
    case PP_CSV_TEXT:
        return take_text(rows, record, c, op, row, error);
    case PP_CSV_WORD:
        return take_word(rows, record, c, op, row, error);
    default:
        if (pp_csv_whole(c.text, c.length, &rows->column[op.column].count[row])) return PP_OK;
        return FAIL_CELL("'%s' in column %s is not a whole number from 1; correct the cell",
                         pp_csv_shown(c.text, c.length, shown), column->names[0]);
    }
}

/* The request's column that a row of `count` cells ends before. */
static const char *first_missing(const pp_csv_plan *plan, size_t count, long *number)
{
    for (size_t i = count; i < plan->cells; i++) {
        const pp_csv_op op = plan->ops[i];
        *number = (long)i + 1;
        if (op.type != PP_CSV_SKIP && !plan->columns[op.column].optional)
            return plan->columns[op.column].names[0];
    }
    return "";
}

pp_status pp_csv_take_record(pp_csv_rows *rows, const pp_csv_record *record, pp_error *error)
{
    const pp_csv_plan *plan = rows->plan;
    size_t filled = 0; /* cells up to the last that is not empty */
    for (size_t i = 0; i < record->count; i++)
        if (record->begin[i + 1] > record->begin[i]) filled = i + 1;
    cell c = {.number = (long)plan->cells + 1};
    if (filled > plan->cells)
        return FAIL_CELL("the row has %zu cells, the %s %zu; %s", filled,
                         plan->reading.header ? "header" : "first row", plan->cells,
                         plan->delimiter == ','
                             ? "a decimal comma needs another delimiter, such as a semicolon"
                             : "remove what is too much");
    if (record->count < plan->needed) {
        const char *name = first_missing(plan, record->count, &c.number);
        return FAIL_CELL("the row ends before column %s; complete it", name);
    }
    if (rows->row == rows->row_end)
        return pp_fail_at(error, PP_EIO, plan->request->file->path, 0, 0,
                          "grew while it was read; wait until it is complete");
    size_t row = rows->keep ? rows->row : 0, count = record->count;
    if (count > plan->cells) count = plan->cells;
    for (size_t i = 0; i < count; i++)
        PP_TRY(take_cell(rows, record, get_cell(record, i), row, error));
    pp_csv_put_missing(plan, rows->column, count, row);
    if (rows->line) rows->line[row] = record->line;
    rows->row++;
    return PP_OK;
}

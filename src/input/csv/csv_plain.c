/* The scanning loop: rows of plain cells, as nearly every file has them. Whatever is out of the
 * ordinary is left to libcsv, so nothing here needs to know what is wrong with a row. */
#include <math.h>
#include <string.h>

#include "base/number.h"
#include "input/csv/csv_parts.h"

/* ---- eight digits at a time: a word of text, lowest byte first ---- */

static inline uint64_t load_eight(const char *at)
{
    uint64_t word;
    memcpy(&word, at, sizeof word);
#if __BYTE_ORDER__ == __ORDER_BIG_ENDIAN__
    word = __builtin_bswap64(word);
#endif
    return word;
}

/* How many of the eight characters, from the first, are digits: a digit less '0' has no high half,
 * not even after adding 6. */
static inline unsigned count_digits(uint64_t word)
{
    uint64_t t = word ^ 0x3030303030303030u;
    uint64_t others = (t | (t + 0x0606060606060606u)) & 0xF0F0F0F0F0F0F0F0u;
    return others ? (unsigned)__builtin_ctzll(others) / 8 : 8;
}

/* The number that the first `count` (1..8) digits make: neighbours are joined to pairs, pairs to
 * fours, fours to eight. */
static inline uint64_t join_digits(uint64_t word, unsigned count)
{
    uint64_t t = (word ^ 0x3030303030303030u) << (64 - 8 * count);
    t = (t * 10 + (t >> 8)) & 0x00FF00FF00FF00FFu;
    t = (t * 100 + (t >> 16)) & 0x0000FFFF0000FFFFu;
    return (t * 10000 + (t >> 32)) & 0xFFFFFFFFu;
}

static const uint64_t TENS[] = {1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000};

/* Optional minus, 1 to 7 digits, optionally a mark and up to 16 digits, at most 19 in all. NULL:
 * something else. */
static inline const char *scan_plain_number(const char *at, char comma, double *value,
                                            unsigned *marks)
{
    enum { WORD = 8, DIGITS_MAX = 19 };
    bool negative = *at == '-';
    at += negative;
    uint64_t word = load_eight(at);
    unsigned whole = count_digits(word), decimals = 0;
    if (whole == 0 || whole == WORD) return NULL;
    uint64_t digits = join_digits(word, whole);
    at += whole;
    if (*at == '.' || *at == comma) {
        *marks |= *at == '.' ? PP_CSV_POINT : PP_CSV_COMMA;
        word = load_eight(++at);
        decimals = count_digits(word);
        if (decimals) digits = digits * TENS[decimals] + join_digits(word, decimals);
        at += decimals;
        if (decimals == WORD) {
            word = load_eight(at);
            unsigned more = count_digits(word);
            decimals += more;
            if (more == WORD || whole + decimals > DIGITS_MAX) return NULL;
            if (more) digits = digits * TENS[more] + join_digits(word, more);
            at += more;
        }
    }
    double magnitude = pp_number_scale_down(digits, decimals);
    *value = negative ? -magnitude : magnitude;
    return at;
}

/* ---- cells: each returns where the cell ends, NULL for what is left to libcsv ---- */

static inline const char *find_end(const pp_csv_plan *plan, const char *at, unsigned *high)
{
    unsigned class;
    *high = 0;
    while ((class = plan->class_of[(unsigned char)*at]) != PP_CSV_STOP) {
        *high |= class;
        at++;
    }
    return at;
}

static bool is_blank(char c) { return c == ' ' || c == '\t'; }

/* Cut the blanks around a cell, as libcsv does. */
static inline void trim(const char **begin, const char **end)
{
    while (*begin < *end && is_blank(**begin)) ++*begin;
    while (*end > *begin && is_blank((*end)[-1])) --*end;
}

static const char *take_odd_number(const pp_csv_plan *plan, const pp_csv_column *column,
                                   const char *at, double *value, unsigned *marks)
{
    unsigned high;
    const char *stop = find_end(plan, at, &high), *end = stop;
    trim(&at, &end);
    if (at == end) {
        *value = NAN;
        return column->optional ? stop : NULL;
    }
    size_t length = (size_t)(end - at);
    bool comma = plan->comma == ',' && memchr(at, ',', length);
    if (!pp_number_read(at, length, comma ? ',' : '.', value)) return NULL;
    if (comma || memchr(at, '.', length)) *marks |= comma ? PP_CSV_COMMA : PP_CSV_POINT;
    return stop;
}

static inline const char *take_number(const pp_csv_plan *plan, pp_csv_op op, const char *at,
                                      double *value, unsigned *marks)
{
    const char *end = scan_plain_number(at, plan->comma, value, marks);
    if (!end || (*end != plan->delimiter && *end != '\n' && *end != '\r'))
        end = take_odd_number(plan, &plan->columns[op.column], at, value, marks);
    if (op.unit != PP_MM) *value = pp_unit_to_mm((pp_length_unit)op.unit, *value);
    return fabs(*value) > PP_CSV_LENGTH_MAX && op.type == PP_CSV_LENGTH ? NULL : end;
}

static inline const char *take_text(const pp_csv_plan *plan, const pp_csv_column *column,
                                    const char *at, const char **text, char **pool)
{
    unsigned high;
    const char *stop = find_end(plan, at, &high), *end = stop;
    trim(&at, &end);
    size_t length = (size_t)(end - at);
    *text = "";
    if (length == 0) return column->optional ? stop : NULL;
    if (high && !column->raw && !pp_csv_utf8(at, length)) return NULL;
    memcpy(*pool, at, length);
    (*pool)[length] = '\0';
    *text = *pool;
    *pool += length + 1;
    return stop;
}

static const char *take_word(const pp_csv_plan *plan, const pp_csv_column *column, const char *at,
                             int8_t *code)
{
    unsigned high;
    int found = column->empty;
    const char *stop = find_end(plan, at, &high), *end = stop;
    trim(&at, &end);
    if (at == end ? !column->optional : !pp_csv_word_code(column, at, (size_t)(end - at), &found))
        return NULL;
    *code = (int8_t)found;
    return stop;
}

static const char *take_count(const pp_csv_plan *plan, const pp_csv_column *column, const char *at,
                              uint32_t *count)
{
    unsigned high;
    const char *stop = find_end(plan, at, &high), *end = stop;
    trim(&at, &end);
    *count = (uint32_t)column->empty;
    if (at == end ? !column->optional : !pp_csv_whole(at, (size_t)(end - at), count)) return NULL;
    return stop;
}

/* ---- rows ---- */

/* One row from `at`; returns the beginning of the next line, NULL if it is left to libcsv. */
static const char *take_row(const pp_csv_rows *rows, size_t row, const char *at, unsigned *marks,
                            char **pool)
{
    const pp_csv_plan *plan = rows->plan;
    size_t cell = 0;
    while (cell < plan->cells) {
        pp_csv_op op = plan->ops[cell++];
        const pp_csv_column *column = &plan->columns[op.column];
        const pp_csv_values *values = &rows->column[op.column];
        unsigned high;
        switch (op.type) {
        case PP_CSV_LENGTH:
        case PP_CSV_NUMBER:
            at = take_number(plan, op, at, &values->number[row], marks);
            break;
        case PP_CSV_TEXT:
            at = take_text(plan, column, at, &values->text[row], pool);
            break;
        case PP_CSV_WORD:
            at = take_word(plan, column, at, &values->code[row]);
            break;
        case PP_CSV_COUNT:
            at = take_count(plan, column, at, &values->count[row]);
            break;
        default:
            at = find_end(plan, at, &high);
        }
        if (!at) return NULL;
        if (*at != plan->delimiter) break;
        at++;
    }
    if (*at == '\r') at++;
    if (*at != '\n' || cell < plan->needed) return NULL;
    if (cell < plan->cells) pp_csv_put_missing(plan, rows->column, cell, row);
    return at + 1;
}

/* The line after a blank line or a comment, NULL if it is neither; `at` itself for a comment that
 * could be a row. */
static const char *skip_idle(pp_csv_rows *rows, const char *at)
{
    bool comment;
    const char *end = rawmemchr(at, '\n');
    size_t length = (size_t)(end - at);
    if (length > PP_CSV_LINE_MAX || !pp_csv_idle_line(at, length, &comment)) return NULL;
    if (comment && pp_csv_hash_line(rows->plan, at, length)) return at;
    rows->comments += comment;
    rows->blank += !comment;
    rows->next_line++;
    return end + 1;
}

/* Take rows from `at` while their lines begin before `stop` (a line end precedes it); every such
 * line is complete. Returns the first line not taken: `stop` or beyond, or a line that is left to
 * libcsv. */
static const char *take_plain(pp_csv_rows *rows, const char *at, const char *stop)
{
    while (at < stop && rows->row < rows->row_end) {
        if (*at <= '#') { /* blanks, line ends and # are; digits and letters are not */
            const char *next = skip_idle(rows, at);
            if (next == at) return at;
            if (next) {
                at = next;
                continue;
            }
        }
        size_t row = rows->keep ? rows->row : 0;
        unsigned marks = rows->marks;
        char *pool = rows->pool;
        const char *next = take_row(rows, row, at, &marks, &pool);
        if (!next || next - at > PP_CSV_LINE_MAX + 1 || marks == PP_CSV_BOTH_MARKS) return at;
        if (marks != rows->marks) {
            rows->marks = marks;
            rows->mark_line = rows->next_line;
        }
        if (rows->keep) rows->pool = pool;
        if (rows->line) rows->line[row] = rows->next_line;
        rows->row++;
        rows->next_line++;
        at = next;
    }
    return at;
}

bool pp_csv_take_window(pp_csv_rows *rows, pp_csv_window *window, size_t end)
{
    const char *at = window->bytes + window->begin;
    const char *feed = memrchr(at, '\n', window->end - window->begin);
    const char *stop = feed ? feed + 1 : at;
    size_t limit = end - window->offset;
    if ((size_t)(stop - window->bytes) > limit) stop = window->bytes + limit;
    at = take_plain(rows, at, stop);
    window->begin = (size_t)(at - window->bytes);
    return at >= stop;
}

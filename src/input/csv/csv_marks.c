/* Lines of a table that are no data: sums at its end, units below its header, words above it. */
#include <string.h>

#include "base/number.h"
#include "base/text.h"
#include "input/csv/csv_parts.h"

enum { TOTAL_MAX = 64 }; /* bytes: more than any of the words has */

bool pp_csv_is_total(const char *text, size_t length)
{
    static const char *const WORDS[] = {"total",       "totals",
                                        "grand total", "subtotal",
                                        "sum",         "mean",
                                        "average",     "avg",
                                        "median",      "min",
                                        "max",         "minimum",
                                        "maximum",     "range",
                                        "std",         "stdev",
                                        "std dev",     "standard deviation",
                                        "stddev",      "std. dev.",
                                        "count",       "summe",
                                        "gesamt",      "mittel",
                                        "mittelwert",  "anzahl",
                                        "spannweite",  "standardabweichung",
                                        "moyenne",     "somme",
                                        "media",       "suma",
                                        "promedio",    "totale",
                                        "somma"};
    if (length > TOTAL_MAX) return false;
    while (length && strchr(" \t:=", text[length - 1])) length--;
    for (size_t i = 0; i < sizeof WORDS / sizeof *WORDS; i++)
        if (pp_same_word(text, length, WORDS[i])) return true;
    return false;
}

/* The first cell of a raw line, without blanks and quotation marks. */
static const char *first_cell(const char *line, size_t length, char delimiter, size_t *cell_length)
{
    const char *end = line + length;
    while (line < end && strchr(" \t\"", *line) && *line != delimiter) line++;
    const char *stop = memchr(line, delimiter, (size_t)(end - line));
    if (!stop) stop = end;
    while (stop > line && strchr(" \t\"\r", stop[-1])) stop--;
    *cell_length = (size_t)(stop - line);
    return line;
}

/* The line is blank, a comment, or sums the table up; false: data. */
static bool is_tail_line(const pp_csv_plan *plan, const char *line, size_t length,
                         pp_table_reading *seen)
{
    bool comment;
    if (pp_csv_idle_line(line, length, &comment)) {
        if (comment && pp_csv_hash_line(plan, line, length)) return false;
        seen->comments += comment;
        seen->blank += !comment;
        return true;
    }
    size_t cell_length;
    const char *cell = first_cell(line, length, plan->delimiter, &cell_length);
    if (!pp_csv_is_total(cell, cell_length)) return false;
    const pp_csv_request *request = plan->request;
    if (request->is_name && plan->cell_of[0] == 1) {
        char name[TOTAL_MAX + 1];
        memcpy(name, cell, cell_length);
        name[cell_length] = '\0';
        if (request->is_name(request->is_name_context, name)) return false;
    }
    seen->totals++;
    return true;
}

pp_status pp_csv_cut_totals(const pp_csv_plan *plan, pp_file *file, pp_arena *scratch,
                            pp_table_reading *reading, pp_error *error)
{
    enum { LOOKED_AT = 4096 };
    size_t begin = file->size > LOOKED_AT ? file->size - LOOKED_AT : 0, got, end;
    if (begin < plan->first_byte) begin = plan->first_byte;
    pp_mark mark = pp_arena_mark(scratch);
    char *bytes = pp_arena_take(scratch, LOOKED_AT, 1);
    if (!bytes) return pp_fail_memory(error);
    pp_status status = pp_file_read(file, begin, bytes, file->size - begin, &got, error);
    pp_table_reading seen = *reading;
    for (end = got; status == PP_OK && end > 0;) {
        size_t length = end - (bytes[end - 1] == '\n');
        const char *feed = length ? memrchr(bytes, '\n', length) : NULL;
        if (!feed && begin > plan->first_byte) break; /* a line that begins further up */
        const char *line = feed ? feed + 1 : bytes;
        size_t totals = seen.totals;
        if (!is_tail_line(plan, line, length - (size_t)(line - bytes), &seen)) break;
        end = (size_t)(line - bytes);
        if (seen.totals == totals) continue;
        *reading = seen; /* blank lines above the first sum are left to the table */
        file->size = begin + end;
    }
    pp_arena_release(scratch, mark);
    return status;
}

/* ---- units ---- */

/* "mm", "[mm]", "(in)" */
static bool read_unit(const char *text, size_t length, pp_length_unit *unit)
{
    if (length > 2 && (*text == '[' || *text == '(')) text++, length -= 2;
    return pp_unit_find_length(text, length, unit);
}

static bool is_number(const char *text, size_t length)
{
    double value;
    return pp_number_read(text, length, '.', &value) || pp_number_read(text, length, ',', &value);
}

static pp_column_used *used_of(pp_csv_plan *plan, const char *name)
{
    for (size_t i = 0; i < plan->reading.used_count; i++)
        if (plan->used[i].column == name) return &plan->used[i];
    return NULL;
}

pp_status pp_csv_take_units(pp_csv_plan *plan, const pp_csv_record *record, bool *found,
                            pp_error *error)
{
    pp_length_unit unit;
    size_t units = 0;
    *found = false;
    for (size_t i = 0; i < record->count; i++) {
        const char *text = record->text + record->begin[i];
        size_t length = record->begin[i + 1] - record->begin[i];
        if (is_number(text, length)) return PP_OK;
        bool is_unit = length && read_unit(text, length, &unit);
        bool wanted = i < plan->cells && plan->ops[i].type == PP_CSV_LENGTH;
        bool empty = length == 0 || (length == 1 && *text == '-');
        if (wanted && !is_unit && !empty) return PP_OK;
        units += wanted && is_unit;
    }
    if (!units) return PP_OK;
    for (size_t i = 0; i < record->count && i < plan->cells; i++) {
        pp_csv_op *op = &plan->ops[i];
        const char *text = record->text + record->begin[i];
        if (op->type != PP_CSV_LENGTH ||
            !read_unit(text, record->begin[i + 1] - record->begin[i], &unit))
            continue;
        const char *name = plan->columns[op->column].names[0];
        pp_column_used *used = used_of(plan, name);
        if (used->origin == PP_UNIT_OF_HEADER && used->unit != unit)
            return pp_fail_at(error, PP_EINPUT, plan->request->file->path, record->line,
                              (long)i + 1,
                              "column %s is in %s by its header and in %s by the row of units; "
                              "remove one of them",
                              name, pp_unit_name(used->unit), pp_unit_name(unit));
        op->unit = (uint8_t)unit;
        if (used->origin != PP_UNIT_OF_HEADER) used->origin = PP_UNIT_OF_UNIT_ROW;
        used->unit = unit;
    }
    *found = true;
    return PP_OK;
}

/* ---- above the header ---- */

/* A unit that can hardly be anything else; "in" and "m" are words and letters of many meanings. */
static bool names_unit(const char *text, size_t length, bool whole_cell, pp_length_unit *unit)
{
    if (!pp_unit_find_length(text, length, unit)) return false;
    return length > 2 || *unit == PP_MM || *unit == PP_CM ||
           (length == 2 && whole_cell); /* a cell of its own: in */
}

pp_status pp_csv_check_preamble(const pp_csv_plan *plan, const char *line, size_t length,
                                long number, pp_error *error)
{
    const char *end = line + length;
    for (const char *at = line; at < end;) {
        const char *stop = at;
        while (stop < end && !strchr(" \t\r\n\",;:=()[]", *stop)) stop++;
        bool whole = (at == line || at[-1] == plan->delimiter) &&
                     (stop == end || *stop == plan->delimiter || *stop == '\r');
        pp_length_unit unit;
        if (stop > at && names_unit(at, (size_t)(stop - at), whole, &unit))
            for (size_t i = 0; i < plan->reading.used_count; i++) {
                const pp_column_used *used = &plan->reading.used[i];
                bool open = used->origin != PP_UNIT_NONE && used->origin != PP_UNIT_OF_HEADER &&
                            used->origin != PP_UNIT_OF_UNIT_ROW;
                if (open && used->unit != unit)
                    return pp_fail_at(error, PP_EINPUT, plan->request->file->path, number, 0,
                                      "this line above the header names the unit %s, but column %s "
                                      "would be read in %s; write the unit into the header (%s_%s) "
                                      "or remove it here",
                                      pp_unit_name(unit), used->column, pp_unit_name(used->unit),
                                      used->column, pp_unit_name(unit));
            }
        at = stop + 1;
    }
    return PP_OK;
}

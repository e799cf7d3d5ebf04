/* In one piece: every row, and every message about one. */
#include <string.h>

#include "base/number.h"
#include "input/csv/csv_parts.h"

pp_status pp_csv_note_error(pp_table_note *note, pp_arena *keep, const pp_error *error)
{
    if (note->problem_count == PP_PROBLEMS_MAX) {
        note->more = true;
        return PP_OK;
    }
    const char *text = pp_arena_text(keep, error->message, strlen(error->message));
    if (!text) return PP_ENOMEM;
    note->problems[note->problem_count++] = (pp_problem){error->line, error->column, text};
    return PP_OK;
}

/* A problem of a row is noted and reading goes on; any other error ends it. */
static pp_status hear(pp_csv_serial *s, pp_status status, pp_error *error)
{
    if (status != PP_EINPUT || !s->note) return status;
    status = pp_csv_note_error(s->note, &s->memory->keep, error);
    return status == PP_OK ? PP_OK : pp_fail_memory(error);
}

static const char *get_cell(const pp_csv_record *record, size_t i, size_t *length)
{
    *length = i < record->count ? record->begin[i + 1] - record->begin[i] : 0;
    return i < record->count ? record->text + record->begin[i] : "";
}

static bool is_known(const pp_csv_request *request, const char *text, size_t length)
{
    enum { NAME_MOST = 512 }; /* bytes: no hole is called so much */
    char name[NAME_MOST];
    if (!request->is_name || length >= sizeof name) return false;
    memcpy(name, text, length);
    name[length] = '\0';
    return request->is_name(request->is_name_context, name);
}

/* ---- rows that sum the table up ---- */

static bool sums_up(const pp_csv_plan *plan, const pp_csv_record *record)
{
    size_t length = 0, i = 0;
    const char *text = "";
    for (; i < record->count && !length; i++) text = get_cell(record, i, &length);
    if (!pp_csv_is_total(text, length)) return false;
    return plan->cell_of[0] != i || !is_known(plan->request, text, length);
}

static bool is_blank(const pp_csv_record *record)
{
    return record->count == 0 || record->begin[record->count] == record->begin[0];
}

/* ---- a header in the middle ---- */

static size_t count_names(const pp_csv_plan *plan, const pp_csv_record *record)
{
    pp_csv_names names;
    size_t known = 0;
    if (pp_csv_names_make(plan->request, &names, NULL) != PP_OK) return 0;
    for (size_t i = 0; i < record->count; i++) {
        size_t length;
        pp_csv_named named;
        const char *text = get_cell(record, i, &length);
        known += pp_csv_name_read(&names, text, length, &named) == PP_CSV_NAMES_COLUMN;
    }
    return known;
}

static pp_status take_finished(pp_csv_serial *s, pp_error *error)
{
    enum { HEADER_NAMES = 2 };
    const char *path = s->file->path;
    if (is_blank(s->record)) {
        s->rows->blank++;
        return PP_OK;
    }
    pp_status status = pp_csv_take_record(s->rows, s->record, error);
    if (status == PP_EINPUT && sums_up(s->plan, s->record)) {
        if (!s->totals_line) s->totals_line = s->record->line;
        s->reading->totals++;
        return PP_OK;
    }
    if (status == PP_EINPUT && count_names(s->plan, s->record) >= HEADER_NAMES)
        return hear(s,
                    pp_fail_at(error, PP_EINPUT, path, s->record->line, 0,
                               "another header, with other columns than the first; put each table "
                               "into a file of its own"),
                    error);
    if (status != PP_OK || !s->totals_line) return hear(s, status, error);
    status = pp_fail_at(error, PP_EINPUT, path, s->totals_line, 0,
                        "a row that sums up the table, with rows below it; remove it, or the rows");
    s->totals_line = 0;
    return hear(s, status, error);
}

/* ---- lines that begin with # ---- */

/* The numbers that every row needs are there. */
static bool has_numbers(const pp_csv_plan *plan, const pp_csv_record *record)
{
    for (size_t c = 0; c < plan->spare_first; c++) {
        if (!plan->columns[c].needed || !pp_csv_takes_unit(&plan->columns[c])) continue;
        size_t length;
        double value;
        const char *text = get_cell(record, plan->cell_of[c] - 1, &length);
        const char *sign =
            length && *text == '#' ? text + 1 : text; /* of a survey's first column */
        length -= (size_t)(sign - text);
        if (!pp_number_read(sign, length, '.', &value) &&
            !pp_number_read(sign, length, ',', &value))
            return false;
    }
    return true;
}

/* The name without its # and the blanks behind it. */
static const char *behind_hash(const char *text, size_t *length)
{
    while (*length && strchr("# \t", *text)) text++, --*length;
    return text;
}

static pp_status note_commented(pp_csv_serial *s, const char *name, size_t length, pp_error *error)
{
    pp_table_reading *reading = s->reading;
    if (reading->commented_count < PP_COMMENTED_MAX) {
        const char *kept = pp_arena_text(&s->memory->keep, name, length);
        if (!kept) return pp_fail_memory(error);
        reading->commented[reading->commented_count] = kept;
    }
    reading->commented_count++;
    return PP_OK;
}

/* The line is in the record. *row: it is a row like any other. */
static pp_status weigh_hash_line(pp_csv_serial *s, bool *row, pp_error *error)
{
    const pp_csv_plan *plan = s->plan;
    const pp_csv_request *request = plan->request;
    bool named = request->columns[0].type == PP_CSV_TEXT && plan->cell_of[0];
    size_t length = 0;
    const char *text = named ? get_cell(s->record, plan->cell_of[0] - 1, &length) : "";
    bool word = length > 1 && text[0] == '#' && text[1] != ' ' && text[1] != '\t'; /* no "# text" */
    *row = named && ((request->hash_rows && word) || is_known(request, text, length));
    if (*row) return PP_OK;
    s->rows->comments++;
    if (!has_numbers(plan, s->record)) return PP_OK;
    if (!named) text = get_cell(s->record, 0, &length);
    const char *name = behind_hash(text, &length);
    if (named && request->is_name && !is_known(request, name, length)) return PP_OK;
    return s->rows->keep ? note_commented(s, name, length, error) : PP_OK;
}

static pp_status take_hash_line(pp_csv_serial *s, const char *line, size_t length, long number,
                                pp_error *error)
{
    bool row;
    pp_status status = pp_csv_record_add(s->record, s->file->path, line, length, number, error);
    if (status != PP_OK || s->record->open) { /* no row, whatever it is */
        s->rows->comments++;
        return pp_csv_record_reset(s->record, error);
    }
    PP_TRY(weigh_hash_line(s, &row, error));
    return row ? take_finished(s, error) : PP_OK;
}

/* ---- lines ---- */

static bool same_line(const char *line, size_t length, const char *known, size_t known_length)
{
    if (length && line[length - 1] == '\r') length--;
    return known_length && length == known_length && memcmp(line, known, length) == 0;
}

static pp_status take_line(pp_csv_serial *s, const char *line, size_t length, pp_error *error)
{
    bool comment;
    long number = s->rows->next_line++;
    if (!s->record->open) {
        bool below_header = s->below_header;
        s->below_header = same_line(line, length, s->plan->head, s->plan->head_length);
        if (s->below_header) {
            s->reading->headers++;
            s->totals_line = 0;
            return PP_OK;
        }
        if (below_header && same_line(line, length, s->plan->units, s->plan->units_length)) {
            s->reading->unit_rows++;
            return PP_OK;
        }
        if (pp_csv_idle_line(line, length, &comment)) {
            if (comment && pp_csv_hash_line(s->plan, line, length))
                return take_hash_line(s, line, length, number, error);
            s->rows->comments += comment;
            s->rows->blank += !comment;
            return PP_OK;
        }
    }
    PP_TRY(pp_csv_record_add(s->record, s->file->path, line, length, number, error));
    return s->record->open ? PP_OK : take_finished(s, error);
}

/* Until rows->row_end, or the problems are too many. */
static pp_status take_lines(pp_csv_serial *s, pp_error *error)
{
    pp_csv_window window;
    pp_csv_window_start(&window, s->file, s->window_bytes, s->plan->first_byte, s->piece_bytes);
    bool plain = !s->all_by_libcsv, find = !s->rows->keep;
    for (;;) {
        size_t before = s->rows->row;
        if (plain && !s->record->open && !s->totals_line)
            pp_csv_take_window(s->rows, &window, s->file->size);
        if (s->rows->row > before) s->below_header = false;
        if (find && s->rows->row == s->rows->row_end) return PP_OK;
        const char *line;
        size_t length;
        bool found;
        PP_TRY(pp_csv_window_line(&window, s->rows->next_line, &line, &length, &found, error));
        if (!found) break;
        PP_TRY(take_line(s, line, length, error));
        if (s->note && s->note->more) return PP_OK;
    }
    return s->record->open ? pp_csv_record_unclosed(s->record, s->file->path, error) : PP_OK;
}

pp_status pp_csv_take_serially(pp_csv_serial *s, pp_error *error)
{
    PP_TRY(pp_csv_record_new(&s->memory->scratch, s->plan->delimiter, &s->record, error));
    s->below_header = s->plan->reading.header;
    pp_status status = hear(s, take_lines(s, error), error); /* of a quotation mark: the end */
    pp_csv_record_free(s->record);
    return status;
}

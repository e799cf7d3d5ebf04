/* The head of a table: is it text, what separates the cells, which column is which. */
#include <stdio.h>
#include <string.h>

#include "base/number.h"
#include "base/text.h"
#include "input/csv/csv_parts.h"

/* ---- is it text? ---- */

static bool is_control(unsigned char c) { return c < ' ' && c != '\t' && c != '\r' && c != '\n'; }

/* A stray control character is reported where it stands; several of them are no text. */
static pp_status check_encoding(const pp_csv_window *window, pp_error *error)
{
    enum { LOOKED_AT = 512, STRAY = 2 };
    const unsigned char *b = (const unsigned char *)window->bytes;
    size_t size = window->end < LOOKED_AT ? window->end : LOOKED_AT, zeros = 0, controls = 0;
    for (size_t i = 0; i < size; i++) {
        zeros += b[i] == 0;
        controls += is_control(b[i]);
    }
    const char *wrong = NULL;
    bool utf16 = size >= 2 && ((b[0] == 0xFF && b[1] == 0xFE) || (b[0] == 0xFE && b[1] == 0xFF));
    if (size >= 4 && memcmp(b, "PK\3\4", 4) == 0)
        wrong = "is a workbook or an archive, not a table of text; save it as CSV";
    else if (utf16 || zeros > size / 3)
        wrong = "is UTF-16 text or binary; save it as CSV in UTF-8";
    else if (zeros || controls > STRAY)
        wrong = "is binary, not a table of text; export it as CSV";
    if (wrong) return pp_fail_at(error, PP_EINPUT, window->file->path, 0, 0, "%s", wrong);
    return PP_OK;
}

/* ---- the first row, as raw lines: its delimiter is not known yet ---- */

typedef struct first_row {
    char bytes[PP_CSV_LINE_MAX + 8];
    size_t length;
    size_t begin_byte, end_byte; /* in the file */
    long line, next_line;
    size_t comments, blank;
} first_row;

static size_t count_quotes(const char *line, size_t length)
{
    size_t count = 0;
    for (size_t i = 0; i < length; i++) count += line[i] == '"';
    return count;
}

/* The next row from line `line` on, passing over blank lines and comments. *more false: there is
 * none; what was passed over is counted all the same. */
static pp_status read_row(pp_csv_window *window, first_row *first, long number, bool *more,
                          pp_error *error)
{
    const char *line;
    size_t length = 0, quotes = 0;
    bool comment;
    first->length = first->comments = first->blank = 0;
    first->line = number;
    for (;; first->line++) {
        PP_TRY(pp_csv_window_line(window, first->line, &line, &length, more, error));
        if (!*more) return PP_OK;
        if (!pp_csv_idle_line(line, length, &comment)) break;
        first->comments += comment;
        first->blank += !comment;
    }
    first->begin_byte = window->offset + window->begin - length - 1;
    first->next_line = first->line;
    for (;;) {
        bool found;
        quotes += count_quotes(line, length);
        memcpy(first->bytes + first->length, line, length);
        first->length += length;
        first->bytes[first->length++] = '\n';
        first->next_line++;
        first->end_byte = window->offset + window->begin;
        if (first->end_byte > window->file->size)
            first->end_byte = window->file->size; /* the last line had no line feed */
        if (quotes % 2 == 0) return PP_OK;
        PP_TRY(pp_csv_window_line(window, first->next_line, &line, &length, &found, error));
        if (!found || first->length + length > PP_CSV_LINE_MAX)
            return pp_fail_at(error, PP_EINPUT, window->file->path, first->line, 0,
                              "a quotation mark on this line is never closed; close it or leave "
                              "it out");
    }
}

/* ---- what the first row is, if cells are separated by a given delimiter ---- */

/* Better and better. */
typedef enum fitness {
    FITS_BROKEN, /* quotation marks are wrong */
    FITS_NOT,
    FITS_DATA,  /* some cell is a number, but it is no row we know */
    FITS_NAMES, /* a header that lacks a needed column */
    FITS_HEADER,
    FITS_ROW /* a row of numbers where numbers should be, no header */
} fitness;

typedef struct candidate {
    char delimiter;
    fitness fit;
    size_t cells, filled;
} candidate;

static bool is_number(const char *text, size_t length, char delimiter)
{
    double value;
    return pp_number_read(text, length, '.', &value) ||
           (delimiter != ',' && pp_number_read(text, length, ',', &value));
}

static bool is_row(const pp_csv_request *request, const pp_csv_record *record,
                   const candidate *from)
{
    if (from->filled < request->plain_min || from->filled > request->plain_max) return false;
    for (size_t i = 0; i < from->filled; i++) {
        size_t length;
        const char *text = pp_csv_cell_text(record, i, &length);
        if (pp_csv_takes_unit(&request->columns[i]) && !is_number(text, length, from->delimiter))
            return false;
    }
    return true;
}

/* Columns named in the header, as bits; `numbers` counts cells that are numbers. */
static unsigned named_columns(const pp_csv_names *names, const pp_csv_record *record,
                              char delimiter, size_t *numbers)
{
    unsigned present = 0;
    *numbers = 0;
    for (size_t i = 0; i < record->count; i++) {
        size_t length;
        pp_csv_named n;
        const char *text = pp_csv_cell_text(record, i, &length);
        if (pp_csv_name_read(names, text, length, &n) == PP_CSV_NAMES_COLUMN)
            present |= 1u << n.column;
        *numbers += is_number(text, length, delimiter);
    }
    return present;
}

/* Those that a row can't do without, and those that the job file has a word for. */
static unsigned needed_columns(const pp_csv_names *names)
{
    const pp_csv_request *request = names->request;
    unsigned needed = 0;
    for (size_t c = 0; c < request->column_count && c < PP_CSV_COLUMNS_MAX; c++)
        needed |= (unsigned)(request->columns[c].needed || names->mapped[c]) << c;
    return needed;
}

static fitness judge(const pp_csv_names *names, const pp_csv_record *record, const candidate *from)
{
    size_t numbers;
    const pp_csv_request *request = names->request;
    if (request->plain_min && !request->map && is_row(request, record, from)) return FITS_ROW;
    unsigned present = named_columns(names, record, from->delimiter, &numbers);
    unsigned needed = needed_columns(names);
    if ((present & needed) == needed) return FITS_HEADER;
    if (present) return FITS_NAMES;
    return numbers ? FITS_DATA : FITS_NOT;
}

static pp_status split(pp_csv_record *record, const first_row *first, const char *path,
                       pp_error *error)
{
    record->open = false;
    const char *at = first->bytes, *end = first->bytes + first->length;
    for (long line = first->line; at < end; line++) {
        const char *stop = memchr(at, '\n', (size_t)(end - at));
        PP_TRY(pp_csv_record_add(record, path, at, (size_t)(stop - at), line, error));
        at = stop + 1;
    }
    return PP_OK;
}

/* Split the row by `delimiter` into a new record and judge it; *broken says why it can't be. */
static pp_status try_delimiter(const pp_csv_names *names, const first_row *first, char delimiter,
                               pp_arena *scratch, candidate *tried, pp_csv_record **record,
                               pp_error *broken, pp_error *error)
{
    PP_TRY(pp_csv_record_new(scratch, delimiter, record, error));
    pp_csv_record *r = *record;
    *tried = (candidate){.delimiter = delimiter, .fit = FITS_BROKEN};
    pp_status status = split(r, first, names->request->file->path, broken);
    if (status == PP_ENOMEM) return pp_fail_memory(error);
    if (status != PP_OK) return PP_OK;
    tried->cells = r->count;
    for (size_t i = 0; i < r->count; i++)
        if (r->begin[i + 1] > r->begin[i]) tried->filled = i + 1;
    tried->fit = judge(names, r, tried);
    return PP_OK;
}

/* ---- messages about the head ---- */

/* "x, y and z": the columns of `set`, in the request's order. */
static const char *list_columns(const pp_csv_names *names, unsigned set, char text[256])
{
    text[0] = '\0';
    for (size_t c = 0; set >> c; c++) {
        if (!(set >> c & 1)) continue;
        size_t used = strlen(text);
        const char *join = used == 0 ? "" : set >> c == 1 ? " and " : ", ";
        const char *word = names->mapped[c], *name = names->request->columns[c].names[0];
        if (word)
            snprintf(text + used, 256 - used, "%s'%s' (the job file's word for %s)", join, word,
                     name);
        else
            snprintf(text + used, 256 - used, "%s%s", join, name);
    }
    return text;
}

/* The header as it stands, shortened. */
static const char *list_cells(const pp_csv_record *record, char text[256])
{
    enum { SHOWN = 12 };
    text[0] = '\0';
    for (size_t i = 0; i < record->count && i < SHOWN; i++) {
        size_t used = strlen(text), length;
        char shown[PP_CSV_SHOWN_MAX];
        const char *cell = pp_csv_cell_text(record, i, &length);
        if (used + PP_CSV_SHOWN_MAX + 8 > 256) break;
        snprintf(text + used, 256 - used, "%s%s%s", i ? ", " : "",
                 pp_csv_shown(cell, length, shown),
                 i + 1 == SHOWN && record->count > SHOWN ? ", ..." : "");
    }
    return text;
}

static const char WORDS_HINT[] =
    "; what other words mean can be said in the job file: X-Ist:x under measured_columns, columns "
    "of [survey] and so on";

static pp_status fail_missing(const pp_csv_names *names, const pp_csv_record *record,
                              unsigned present, long line, pp_error *error)
{
    char missing[256], all[256], found[256];
    const pp_csv_request *request = names->request;
    unsigned needed = needed_columns(names);
    for (size_t i = 0; i < record->count; i++) {
        pp_csv_named n;
        size_t length;
        const char *text = pp_csv_cell_text(record, i, &length);
        if (pp_csv_name_read(names, text, length, &n) == PP_CSV_NAMES_STRANGE_UNIT &&
            (needed & ~present) >> n.column & 1)
            return pp_csv_fail_unit(request, &n, line, i, error);
    }
    return pp_fail_at(error, PP_EINPUT, request->file->path, line, 0,
                      "%s has no column %s (its header: %s); it needs %s%s", request->what,
                      list_columns(names, needed & ~present, missing), list_cells(record, found),
                      list_columns(names, needed, all),
                      request->map && !request->map->count ? WORDS_HINT : "");
}

static pp_status fail_unknown_row(const pp_csv_names *names, const pp_csv_record *record,
                                  const candidate *from, long line, pp_error *error)
{
    char listed[256], found[256];
    const pp_csv_request *request = names->request;
    const char *path = request->file->path;
    unsigned plain = (1u << request->plain_max) - 1;
    if (from->cells == 1 && strpbrk(list_cells(record, found), " \t|:"))
        return pp_fail_at(error, PP_EINPUT, path, line, 0,
                          "no comma, semicolon or tab between the cells ('%s'); use one of them",
                          found);
    if (from->fit == FITS_DATA && request->plain_min)
        return pp_fail_at(error, PP_EINPUT, path, line, 0,
                          "%zu columns without a header, but %s without a header is %s; add a "
                          "header row with the names of the columns",
                          from->filled, request->what, list_columns(names, plain, listed));
    return fail_missing(names, record, 0, line, error);
}

static pp_status fail_ambiguous(const pp_csv_request *request, char a, char b, long line,
                                pp_error *error)
{
    const char *name_a = a == ',' ? "comma" : a == ';' ? "semicolon" : "tab";
    const char *name_b = b == ',' ? "comma" : b == ';' ? "semicolon" : "tab";
    return pp_fail_at(error, PP_EINPUT, request->file->path, line, 0,
                      "both %s and %s could separate the cells; use one of them only", name_a,
                      name_b);
}

/* ---- the plan ---- */

/* A row that is data although it fits badly: when it has the right number of cells and some are
 * numbers, the wrong one is named when rows are read. */
static bool is_bad_row(const pp_csv_request *request, const candidate *from)
{
    return from->fit == FITS_DATA && request->plain_min && from->filled >= request->plain_min &&
           from->filled <= request->plain_max;
}

/* The line of a first row, to know it again: without its line end. */
static pp_status keep_line(const first_row *first, pp_arena *scratch, const char **line,
                           size_t *length, pp_error *error)
{
    size_t end = first->length;
    while (end && strchr("\r\n", first->bytes[end - 1])) end--;
    *line = pp_arena_text(scratch, first->bytes, end);
    if (!*line) return pp_fail_memory(error);
    *length = end;
    return PP_OK;
}

typedef struct choice { /* of a delimiter, for one row */
    size_t count, best;
    candidate tried[3];
    pp_csv_record *records[3];
    pp_error broken;
} choice;

static void free_records(choice *c)
{
    for (size_t i = 0; i < c->count; i++) pp_csv_record_free(c->records[i]);
    c->count = 0;
}

/* Try each delimiter that occurs; the best fit is chosen. */
static pp_status try_all(const pp_csv_names *names, const first_row *first, pp_arena *scratch,
                         choice *c, pp_error *error)
{
    static const char DELIMITERS[] = {',', ';', '\t'};
    for (size_t d = 0; d < sizeof DELIMITERS; d++) {
        bool occurs = memchr(first->bytes, DELIMITERS[d], first->length) != NULL;
        if (!occurs && (d > 0 || memchr(first->bytes, ';', first->length) ||
                        memchr(first->bytes, '\t', first->length)))
            continue;
        PP_TRY(try_delimiter(names, first, DELIMITERS[d], scratch, &c->tried[c->count],
                             &c->records[c->count], &c->broken, error));
        c->count++;
    }
    for (size_t i = 1; i < c->count; i++)
        if (c->tried[i].fit > c->tried[c->best].fit ||
            (c->tried[i].fit == c->tried[c->best].fit &&
             c->tried[i].cells > c->tried[c->best].cells))
            c->best = i;
    return PP_OK;
}

/* No header, no row: say what the line lacks. */
static pp_status fail_choice(const pp_csv_names *names, const first_row *first, const choice *c,
                             pp_error *error)
{
    const candidate *chosen = &c->tried[c->best];
    const pp_error *broken = &c->broken;
    size_t numbers;
    if (chosen->fit == FITS_BROKEN)
        return pp_fail_at(error, broken->status, broken->file, broken->line, broken->column, "%s",
                          broken->message);
    const pp_csv_record *record = c->records[c->best];
    unsigned present = named_columns(names, record, chosen->delimiter, &numbers);
    if (chosen->fit == FITS_NAMES) return fail_missing(names, record, present, first->line, error);
    return fail_unknown_row(names, record, chosen, first->line, error);
}

static bool is_settled(const pp_csv_request *request, const choice *c)
{
    const candidate *chosen = &c->tried[c->best];
    return chosen->fit >= FITS_HEADER || is_bad_row(request, chosen);
}

static pp_status make(const pp_csv_names *names, const first_row *first, const choice *c,
                      pp_memory *memory, pp_csv_plan *plan, pp_error *error)
{
    const pp_csv_request *request = names->request;
    const candidate *chosen = &c->tried[c->best];
    const pp_csv_record *record = c->records[c->best];
    for (size_t i = 0; i < c->count; i++)
        if (i != c->best && c->tried[i].fit == chosen->fit && chosen->fit >= FITS_HEADER)
            return fail_ambiguous(request, c->tried[i].delimiter, chosen->delimiter, first->line,
                                  error);
    pp_csv_plan_begin(request, chosen->delimiter, record->count, plan);
    plan->reading.comments = first->comments;
    plan->reading.blank = first->blank;
    if (chosen->fit != FITS_HEADER) {
        plan->first_byte = first->begin_byte;
        plan->first_line = first->line;
        return pp_csv_plan_row(plan, chosen->filled, &memory->keep, error);
    }
    plan->reading.header = true;
    plan->reading.header_line = first->line;
    plan->first_byte = first->end_byte;
    plan->first_line = first->next_line;
    PP_TRY(keep_line(first, &memory->scratch, &plan->head, &plan->head_length, error));
    return pp_csv_plan_header(plan, names, record, &memory->keep, error);
}

/* ---- above and below the header ---- */

enum { PREAMBLE_MOST = 100 }; /* rows above the header */

typedef struct preamble {
    pp_text text;
    size_t count, end[PREAMBLE_MOST]; /* of each row in the text */
    long line[PREAMBLE_MOST];
} preamble;

static void pass(preamble *p, const first_row *row)
{
    pp_text_add_bytes(&p->text, row->bytes, row->length);
    p->line[p->count] = row->line;
    p->end[p->count++] = p->text.length;
}

static size_t count_filled(const pp_csv_record *record)
{
    size_t filled = 0;
    for (size_t i = 0; i < record->count; i++) filled += record->begin[i + 1] > record->begin[i];
    return filled;
}

/* The line above the first row of numbers that is most like a header, and what it lacks. */
typedef struct likeliest {
    size_t cells; /* SIZE_MAX: the first line is broken, and that is told */
    bool names;   /* it has some name that is known */
    bool ended;   /* numbers have come */
    pp_error lack;
    bool found; /* further down: the header */
} likeliest;

static pp_status take_likelier(const pp_csv_names *names, const first_row *row, const choice *c,
                               likeliest *best, pp_error *error)
{
    enum { NUMBERS = 2 }; /* a single one is a date or a count of a title */
    const candidate *chosen = &c->tried[c->best];
    const pp_csv_record *record = c->records[c->best];
    bool is_first = !best->lack.status;
    bool known = chosen->fit == FITS_NAMES || chosen->fit == FITS_BROKEN;
    size_t numbers = 0;
    if (chosen->fit != FITS_BROKEN) named_columns(names, record, chosen->delimiter, &numbers);
    best->ended = best->ended || (chosen->fit == FITS_DATA && numbers >= NUMBERS);
    if (!is_first && (best->ended || chosen->fit == FITS_BROKEN)) return PP_OK;
    size_t cells = chosen->fit == FITS_BROKEN ? SIZE_MAX : count_filled(record);
    if (!is_first && (known < best->names || (known == best->names && cells <= best->cells)))
        return PP_OK;
    *best = (likeliest){.cells = cells, .names = known, .ended = best->ended};
    return fail_choice(names, row, c, &best->lack) == PP_ENOMEM ? pp_fail_memory(error) : PP_OK;
}

/* Look for a header further down; *c is its choice where it is found. */
static pp_status look_below(const pp_csv_names *names, pp_csv_window *window, first_row *first,
                            pp_arena *scratch, choice *c, preamble *above, likeliest *best,
                            pp_error *error)
{
    pass(above, first);
    while (above->count < PREAMBLE_MOST) {
        size_t comments = first->comments, blank = first->blank;
        bool more;
        pp_error broken = {0};
        pp_status status = read_row(window, first, first->next_line, &more, &broken);
        if (status == PP_EINPUT || !more) return PP_OK; /* what the likeliest line lacks is told */
        if (status != PP_OK) return pp_fail(error, status, "%s", broken.message);
        first->comments += comments;
        first->blank += blank;
        pp_mark mark = pp_arena_mark(scratch);
        *c = (choice){0};
        PP_TRY(try_all(names, first, scratch, c, error));
        best->found = c->tried[c->best].fit == FITS_HEADER;
        if (best->found) return PP_OK;
        PP_TRY(take_likelier(names, first, c, best, error));
        free_records(c);
        pp_arena_release(scratch, mark);
        pass(above, first);
    }
    return PP_OK;
}

static pp_status check_preamble(pp_csv_plan *plan, const preamble *above, pp_error *error)
{
    plan->reading.preamble = above->count;
    for (size_t i = 0; i < above->count; i++) {
        size_t begin = i ? above->end[i - 1] : 0;
        PP_TRY(pp_csv_check_preamble(plan, above->text.data + begin, above->end[i] - begin - 1,
                                     above->line[i], error));
    }
    return PP_OK;
}

/* The line below the header may give the units. */
static pp_status look_for_units(pp_csv_plan *plan, pp_csv_window *window, first_row *row,
                                pp_arena *scratch, pp_error *error)
{
    bool more, units;
    pp_error broken = {0};
    pp_csv_record *record;
    pp_status read = read_row(window, row, plan->first_line, &more, &broken);
    if (read == PP_EINPUT || (read == PP_OK && !more)) return PP_OK; /* told with the rows */
    if (read != PP_OK) return pp_fail(error, read, "%s", broken.message);
    PP_TRY(pp_csv_record_new(scratch, plan->delimiter, &record, error));
    pp_status status = split(record, row, plan->request->file->path, &broken);
    if (status == PP_OK) {
        status = pp_csv_take_units(plan, record, &units, error);
        if (status == PP_OK && units) {
            plan->first_byte = row->end_byte;
            plan->first_line = row->next_line;
            plan->reading.unit_rows = 1;
            plan->reading.comments += row->comments;
            plan->reading.blank += row->blank;
            status = keep_line(row, scratch, &plan->units, &plan->units_length, error);
        }
    } else if (status == PP_EINPUT) {
        status = PP_OK; /* told when the row is read */
    }
    pp_csv_record_free(record);
    return status;
}

static pp_status choose(const pp_csv_names *names, pp_csv_window *window, first_row *first,
                        pp_memory *memory, choice *c, preamble *above, pp_csv_plan *plan,
                        pp_error *error)
{
    PP_TRY(try_all(names, first, &memory->scratch, c, error));
    if (!is_settled(names->request, c)) {
        likeliest best = {0};
        PP_TRY(take_likelier(names, first, c, &best, error));
        free_records(c);
        PP_TRY(look_below(names, window, first, &memory->scratch, c, above, &best, error));
        if (above->text.failed) return pp_fail_memory(error);
        const pp_error *lack = &best.lack;
        if (!best.found)
            return pp_fail_at(error, lack->status, lack->file, lack->line, lack->column, "%s",
                              lack->message);
    }
    PP_TRY(make(names, first, c, memory, plan, error));
    if (plan->reading.header) PP_TRY(look_for_units(plan, window, first, &memory->scratch, error));
    return check_preamble(plan, above, error);
}

pp_status pp_csv_plan_make(const pp_csv_request *request, const pp_file *file, pp_memory *memory,
                           pp_csv_plan *plan, pp_error *error)
{
    first_row *first;
    char *bytes;
    pp_csv_names names;
    bool more;
    PP_TAKE(first, &memory->scratch, 1);
    PP_TAKE(bytes, &memory->scratch, pp_csv_window_room(file));
    pp_csv_window window;
    pp_csv_window_start(&window, file, bytes, 0, PP_CSV_PIECE);
    PP_TRY(pp_csv_window_fill(&window, error));
    PP_TRY(check_encoding(&window, error));
    if (window.end >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0) window.begin = 3;
    PP_TRY(pp_csv_names_make(request, &names, error));
    PP_TRY(read_row(&window, first, 1, &more, error));
    if (!more)
        return pp_fail_at(error, PP_EINPUT, file->path, 0, 0,
                          first->comments ? "holds only comments (lines that begin with #) and "
                                            "blank lines; a table is needed"
                                          : "is empty; a table is needed");
    choice c = {0};
    preamble above = {0};
    pp_status status = choose(&names, &window, first, memory, &c, &above, plan, error);
    free_records(&c);
    pp_text_free(&above.text);
    return status;
}

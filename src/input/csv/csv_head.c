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
    size_t comments;
} first_row;

static size_t count_quotes(const char *line, size_t length)
{
    size_t count = 0;
    for (size_t i = 0; i < length; i++) count += line[i] == '"';
    return count;
}

static pp_status read_first_row(pp_csv_window *window, first_row *first, pp_error *error)
{
    const char *line;
    size_t length = 0, quotes = 0;
    bool found, comment;
    first->length = first->comments = 0;
    first->line = 1;
    for (;; first->line++) {
        PP_TRY(pp_csv_window_line(window, first->line, &line, &length, &found, error));
        if (!found)
            return pp_fail_at(error, PP_EINPUT, window->file->path, 0, 0,
                              first->comments ? "holds only comments (lines that begin with #) and "
                                                "blank lines; a table is needed"
                                              : "is empty; a table is needed");
        if (!pp_csv_idle_line(line, length, &comment)) break;
        first->comments += comment;
    }
    first->begin_byte = window->offset + window->begin - length - 1;
    first->next_line = first->line;
    for (;;) {
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

/* ---- which column a header cell names ---- */

static bool is_opening(char c) { return c == '(' || c == '['; }
static bool is_closing(char c) { return c == ')' || c == ']'; }
static bool is_joint(char c) { return c == '_' || c == ' ' || c == '-'; }

/* The request's column of that name (any case; blanks and hyphens are as good as underscores). */
static bool find_column(const pp_csv_request *request, const char *name, size_t length,
                        size_t *column)
{
    while (length && is_joint(name[length - 1])) length--;
    for (size_t c = 0; c < request->column_count; c++)
        for (size_t n = 0; n < 4 && request->columns[c].names[n]; n++) {
            const char *known = request->columns[c].names[n];
            size_t i = 0;
            while (i < length && known[i] &&
                   (pp_lower(name[i]) == known[i] || (known[i] == '_' && is_joint(name[i]))))
                i++;
            if (i < length || known[i]) continue;
            *column = c;
            return true;
        }
    return false;
}

typedef enum naming { NAMES_NOTHING, NAMES_COLUMN, NAMES_STRANGE_UNIT } naming;

typedef struct named {
    size_t column;
    bool unit_given;
    pp_length_unit unit;
    const char *unit_text; /* in the cell */
    size_t unit_length;
} named;

static bool takes_unit(const pp_csv_column *column)
{
    return column->type == PP_CSV_LENGTH || column->type == PP_CSV_NUMBER;
}

/* x, x_mm, x mm, x (in), x [mm] */
static naming read_name(const pp_csv_request *request, const char *text, size_t length, named *n)
{
    *n = (named){0};
    if (find_column(request, text, length, &n->column)) return NAMES_COLUMN;
    size_t base = length, unit = length, end = length;
    bool bracket = length && is_closing(text[length - 1]);
    while (base > 0 && !(bracket ? is_opening(text[base - 1]) : is_joint(text[base - 1]))) base--;
    if (base == 0) return NAMES_NOTHING;
    unit = base--;
    end -= bracket;
    if (!find_column(request, text, base, &n->column)) return NAMES_NOTHING;
    if (!takes_unit(&request->columns[n->column])) return NAMES_NOTHING;
    n->unit_text = text + unit;
    n->unit_length = end - unit;
    n->unit_given = pp_unit_find_length(n->unit_text, n->unit_length, &n->unit);
    if (n->unit_given) return NAMES_COLUMN;
    return bracket ? NAMES_STRANGE_UNIT : NAMES_NOTHING;
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

static const char *cell_text(const pp_csv_record *record, size_t i, size_t *length)
{
    *length = record->begin[i + 1] - record->begin[i];
    return record->text + record->begin[i];
}

static bool is_row(const pp_csv_request *request, const pp_csv_record *record,
                   const candidate *from)
{
    if (from->filled < request->plain_min || from->filled > request->plain_max) return false;
    for (size_t i = 0; i < from->filled; i++) {
        size_t length;
        const char *text = cell_text(record, i, &length);
        if (takes_unit(&request->columns[i]) && !is_number(text, length, from->delimiter))
            return false;
    }
    return true;
}

/* Columns named in the header, as bits; `numbers` counts cells that are numbers. */
static unsigned named_columns(const pp_csv_request *request, const pp_csv_record *record,
                              char delimiter, size_t *numbers)
{
    unsigned present = 0;
    *numbers = 0;
    for (size_t i = 0; i < record->count; i++) {
        size_t length;
        named n;
        const char *text = cell_text(record, i, &length);
        if (read_name(request, text, length, &n) == NAMES_COLUMN) present |= 1u << n.column;
        *numbers += is_number(text, length, delimiter);
    }
    return present;
}

static unsigned needed_columns(const pp_csv_request *request)
{
    unsigned needed = 0;
    for (size_t c = 0; c < request->column_count; c++)
        needed |= (unsigned)request->columns[c].needed << c;
    return needed;
}

static fitness judge(const pp_csv_request *request, const pp_csv_record *record,
                     const candidate *from)
{
    size_t numbers;
    if (request->plain_min && is_row(request, record, from)) return FITS_ROW;
    unsigned present = named_columns(request, record, from->delimiter, &numbers);
    unsigned needed = needed_columns(request);
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
static pp_status try_delimiter(const pp_csv_request *request, const first_row *first,
                               char delimiter, pp_arena *scratch, candidate *tried,
                               pp_csv_record **record, pp_error *broken, pp_error *error)
{
    PP_TRY(pp_csv_record_new(scratch, delimiter, record, error));
    pp_csv_record *r = *record;
    *tried = (candidate){.delimiter = delimiter, .fit = FITS_BROKEN};
    pp_status status = split(r, first, request->file->path, broken);
    if (status == PP_ENOMEM) return pp_fail_memory(error);
    if (status != PP_OK) return PP_OK;
    tried->cells = r->count;
    for (size_t i = 0; i < r->count; i++)
        if (r->begin[i + 1] > r->begin[i]) tried->filled = i + 1;
    tried->fit = judge(request, r, tried);
    return PP_OK;
}

/* ---- messages about the head ---- */

/* "x, y and z": the columns of `set`, in the request's order. */
static const char *list_columns(const pp_csv_request *request, unsigned set, char text[256])
{
    text[0] = '\0';
    for (size_t c = 0; set >> c; c++) {
        if (!(set >> c & 1)) continue;
        size_t used = strlen(text);
        const char *join = used == 0 ? "" : set >> c == 1 ? " and " : ", ";
        snprintf(text + used, 256 - used, "%s%s", join, request->columns[c].names[0]);
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
        const char *cell = cell_text(record, i, &length);
        if (used + PP_CSV_SHOWN_MAX + 8 > 256) break;
        snprintf(text + used, 256 - used, "%s%s%s", i ? ", " : "",
                 pp_csv_shown(cell, length, shown),
                 i + 1 == SHOWN && record->count > SHOWN ? ", ..." : "");
    }
    return text;
}

static pp_status fail_missing(const pp_csv_request *request, const pp_csv_record *record,
                              unsigned present, long line, pp_error *error)
{
    char missing[256], all[256], found[256];
    unsigned needed = needed_columns(request);
    for (size_t i = 0; i < record->count; i++) {
        named n;
        size_t length;
        const char *text = cell_text(record, i, &length);
        if (read_name(request, text, length, &n) == NAMES_STRANGE_UNIT &&
            (needed & ~present) >> n.column & 1)
            return pp_fail_at(error, PP_EINPUT, request->file->path, line, (long)i + 1,
                              "unknown unit '%.*s' of column %s; write %s",
                              (int)(n.unit_length < 20 ? n.unit_length : 20), n.unit_text,
                              request->columns[n.column].names[0], pp_unit_choices(PP_LENGTH));
    }
    return pp_fail_at(error, PP_EINPUT, request->file->path, line, 0,
                      "%s has no column %s (its header: %s); it needs %s", request->what,
                      list_columns(request, needed & ~present, missing), list_cells(record, found),
                      list_columns(request, needed, all));
}

static pp_status fail_unknown_row(const pp_csv_request *request, const pp_csv_record *record,
                                  const candidate *from, long line, pp_error *error)
{
    char names[256], found[256];
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
                          from->filled, request->what, list_columns(request, plain, names));
    return fail_missing(request, record, 0, line, error);
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

static void classify_bytes(pp_csv_plan *plan)
{
    for (int c = 0; c < 256; c++)
        plan->class_of[c] = c >= 0x80 ? PP_CSV_HIGH : c < ' ' ? PP_CSV_STOP : PP_CSV_ORDINARY;
    plan->class_of['\t'] = PP_CSV_ORDINARY;
    plan->class_of['"'] = PP_CSV_STOP;
    plan->class_of[(unsigned char)plan->delimiter] = PP_CSV_STOP;
}

static void assign(pp_csv_plan *plan, size_t cell, size_t column, pp_length_unit unit)
{
    const pp_csv_column *c = &plan->request->columns[column];
    plan->ops[cell] = (pp_csv_op){(uint8_t)c->type, (uint8_t)unit, (uint8_t)column};
    plan->cell_of[column] = cell + 1;
    if (!c->optional && plan->needed < cell + 1) plan->needed = cell + 1;
}

static pp_status plan_header(pp_csv_plan *plan, const pp_csv_record *record, long line,
                             pp_error *error)
{
    const pp_csv_request *request = plan->request;
    for (size_t i = 0; i < record->count; i++) {
        size_t length;
        named n;
        const char *text = cell_text(record, i, &length);
        if (read_name(request, text, length, &n) != NAMES_COLUMN) continue;
        if (plan->cell_of[n.column])
            return pp_fail_at(error, PP_EINPUT, request->file->path, line, (long)i + 1,
                              "columns %zu and %zu are both %s; rename or remove one of them",
                              plan->cell_of[n.column], i + 1, request->columns[n.column].names[0]);
        bool length_unit = request->columns[n.column].type == PP_CSV_LENGTH;
        assign(plan, i, n.column, !length_unit ? PP_MM : n.unit_given ? n.unit : request->unit);
    }
    return PP_OK;
}

static void plan_row(pp_csv_plan *plan, size_t filled)
{
    for (size_t i = 0; i < filled && i < plan->request->plain_max; i++)
        assign(plan, i, i,
               plan->request->columns[i].type == PP_CSV_LENGTH ? plan->request->unit : PP_MM);
}

/* A row that is data although it fits badly: when it has the right number of cells and some are
 * numbers, the wrong one is named when rows are read. */
static bool is_bad_row(const pp_csv_request *request, const candidate *from)
{
    return from->fit == FITS_DATA && request->plain_min && from->filled >= request->plain_min &&
           from->filled <= request->plain_max;
}

static pp_status make(const pp_csv_request *request, const first_row *first,
                      const candidate *chosen, const pp_csv_record *record, pp_csv_plan *plan,
                      pp_error *error)
{
    *plan = (pp_csv_plan){.request = request, .delimiter = chosen->delimiter};
    plan->comma = chosen->delimiter == ',' ? '.' : ',';
    plan->cells = record->count;
    plan->comments = first->comments;
    classify_bytes(plan);
    for (size_t i = 0; i < PP_CSV_CELLS_MAX; i++) plan->ops[i].type = PP_CSV_SKIP;
    if (chosen->fit == FITS_ROW || is_bad_row(request, chosen)) {
        plan_row(plan, chosen->filled);
        plan->first_byte = first->begin_byte;
        plan->first_line = first->line;
        return PP_OK;
    }
    size_t numbers;
    unsigned present = named_columns(request, record, chosen->delimiter, &numbers);
    if (chosen->fit == FITS_NAMES)
        return fail_missing(request, record, present, first->line, error);
    if (chosen->fit != FITS_HEADER)
        return fail_unknown_row(request, record, chosen, first->line, error);
    plan->header = true;
    plan->first_byte = first->end_byte;
    plan->first_line = first->next_line;
    return plan_header(plan, record, first->line, error);
}

/* Try each delimiter that occurs and take the one that fits. */
static pp_status choose(const pp_csv_request *request, const first_row *first, pp_arena *scratch,
                        pp_csv_record *records[3], pp_csv_plan *plan, pp_error *error)
{
    static const char DELIMITERS[] = {',', ';', '\t'};
    candidate tried[3] = {0};
    pp_error broken = {0};
    size_t count = 0, best = 0;
    for (size_t d = 0; d < sizeof DELIMITERS; d++) {
        bool occurs = memchr(first->bytes, DELIMITERS[d], first->length) != NULL;
        if (!occurs && (d > 0 || memchr(first->bytes, ';', first->length) ||
                        memchr(first->bytes, '\t', first->length)))
            continue;
        PP_TRY(try_delimiter(request, first, DELIMITERS[d], scratch, &tried[count], &records[count],
                             &broken, error));
        count++;
    }
    for (size_t i = 1; i < count; i++)
        if (tried[i].fit > tried[best].fit ||
            (tried[i].fit == tried[best].fit && tried[i].cells > tried[best].cells))
            best = i;
    for (size_t i = 0; i < count; i++)
        if (i != best && tried[i].fit == tried[best].fit && tried[best].fit >= FITS_HEADER)
            return fail_ambiguous(request, tried[i].delimiter, tried[best].delimiter, first->line,
                                  error);
    if (tried[best].fit == FITS_BROKEN)
        return pp_fail_at(error, broken.status, broken.file, broken.line, broken.column, "%s",
                          broken.message);
    return make(request, first, &tried[best], records[best], plan, error);
}

static pp_status read_head(const pp_csv_request *request, const pp_file *file, pp_arena *scratch,
                           pp_csv_record *records[3], pp_csv_plan *plan, pp_error *error)
{
    first_row *first;
    char *bytes;
    PP_TAKE(first, scratch, 1);
    PP_TAKE(bytes, scratch, pp_csv_window_room(file));
    pp_csv_window window;
    pp_csv_window_start(&window, file, bytes, 0, PP_CSV_PIECE);
    PP_TRY(pp_csv_window_fill(&window, error));
    PP_TRY(check_encoding(&window, error));
    if (window.end >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0) window.begin = 3;
    PP_TRY(read_first_row(&window, first, error));
    return choose(request, first, scratch, records, plan, error);
}

pp_status pp_csv_plan_make(const pp_csv_request *request, const pp_file *file, pp_arena *scratch,
                           pp_csv_plan *plan, pp_error *error)
{
    pp_csv_record *records[3] = {NULL, NULL, NULL};
    pp_status status = read_head(request, file, scratch, records, plan, error);
    for (int i = 0; i < 3; i++) pp_csv_record_free(records[i]);
    return status;
}

#include "input/csv/csv.h"

#include <stdatomic.h>
#include <string.h>

#include "base/parallel.h"
#include "input/csv/csv_parts.h"

/* Bytes of a part of the file: fixed, so that results never depend on the number of threads. */
enum { PART_BYTES = 4 << 20, THREADS_MAX = 64 };

typedef struct part {
    size_t lines; /* that begin in it */
    size_t first_row;
    long first_line;
    size_t rows, comments; /* taken */
    unsigned marks;
} part;

typedef struct reading {
    const pp_csv_plan *plan;
    pp_file file;
    size_t part_bytes, piece_bytes;
    size_t part_count, line_count;
    part *parts;
    int threads;
    char *window_bytes[THREADS_MAX]; /* one window per worker */
    pp_csv_values column[PP_CSV_COLUMNS_MAX];
    long *line;
    char *pool;
    atomic_bool left; /* some line is left to libcsv */
} reading;

/* ---- counting: a line belongs to the part in which it begins ---- */

static size_t part_begin(const reading *r, size_t p)
{
    size_t begin = r->plan->first_byte + p * r->part_bytes;
    return begin < r->file.size ? begin : r->file.size;
}

/* In lanes of bytes, which compilers turn into vector instructions. */
static size_t count_line_feeds(const char *bytes, size_t length)
{
    enum { LANES = 64, ROUNDS_MAX = 255 };
    size_t count = 0, at = 0;
    while (length - at >= LANES) {
        uint8_t lane[LANES] = {0};
        for (int round = 0; round < ROUNDS_MAX && length - at >= LANES; round++, at += LANES)
            for (int i = 0; i < LANES; i++) lane[i] = (uint8_t)(lane[i] + (bytes[at + i] == '\n'));
        for (int i = 0; i < LANES; i++) count += lane[i];
    }
    for (; at < length; at++) count += bytes[at] == '\n';
    return count;
}

/* Lines begin after line feeds: those of bytes begin-1 .. end-2 count for begin .. end-1. */
static pp_status count_part(void *context, size_t p, int worker, pp_error *error)
{
    reading *r = context;
    size_t begin = part_begin(r, p), end = part_begin(r, p + 1), lines = 0;
    if (p == 0)
        lines = begin < end; /* one begins here, whatever precedes it */
    else
        begin--;
    for (size_t at = begin; at + 1 < end;) {
        size_t want = end - 1 - at, got;
        if (want > PP_CSV_PIECE) want = PP_CSV_PIECE;
        PP_TRY(pp_file_read(&r->file, at, r->window_bytes[worker], want, &got, error));
        if (got == 0) break; /* the file became shorter: noticed when rows are taken */
        lines += count_line_feeds(r->window_bytes[worker], got);
        at += got;
    }
    r->parts[p].lines = lines;
    return PP_OK;
}

static pp_status count_lines(reading *r, pp_arena *scratch, pp_error *error)
{
    size_t bytes = r->file.size - r->plan->first_byte;
    r->part_count = (bytes + r->part_bytes - 1) / r->part_bytes;
    if ((size_t)r->threads > r->part_count) r->threads = (int)r->part_count;
    if (r->threads > THREADS_MAX) r->threads = THREADS_MAX;
    if (r->threads < 1) r->threads = 1;
    for (int i = 0; i < r->threads; i++)
        PP_TAKE(r->window_bytes[i], scratch, pp_csv_window_room(&r->file));
    PP_TAKE_ZERO(r->parts, scratch, r->part_count);
    PP_TRY(pp_parallel(r->threads, r->part_count, count_part, r, error));
    for (size_t p = 0; p < r->part_count; p++) {
        r->parts[p].first_row = r->line_count;
        r->parts[p].first_line = r->plan->first_line + (long)r->line_count;
        r->line_count += r->parts[p].lines;
    }
    if (r->line_count > PP_CSV_ROWS_MAX)
        return pp_fail_at(error, PP_EINPUT, r->file.path, 0, 0,
                          "more than %zu lines; split or thin the file", PP_CSV_ROWS_MAX);
    return PP_OK;
}

/* ---- where rows go ---- */

/* Room for `rows` rows; texts take no more bytes than the file. */
static pp_status take_room(reading *r, size_t rows, size_t pool, bool lines, pp_arena *arena,
                           pp_error *error)
{
    const pp_csv_request *request = r->plan->request;
    bool texts = false;
    for (size_t c = 0; c < request->column_count; c++) {
        pp_csv_values *values = &r->column[c];
        if (!r->plan->cell_of[c]) continue;
        switch (request->columns[c].type) {
        case PP_CSV_LENGTH:
        case PP_CSV_NUMBER:
            PP_TAKE(values->number, arena, rows);
            break;
        case PP_CSV_TEXT:
            PP_TAKE(values->text, arena, rows);
            texts = true;
            break;
        case PP_CSV_WORD:
            PP_TAKE(values->code, arena, rows);
            break;
        case PP_CSV_COUNT:
            PP_TAKE(values->count, arena, rows);
            break;
        }
    }
    if (lines) PP_TAKE(r->line, arena, rows);
    if (texts) PP_TAKE(r->pool, arena, pool);
    return PP_OK;
}

static pp_csv_rows start_rows(const reading *r, size_t first_row, size_t row_count, long first_line)
{
    pp_csv_rows rows = {.plan = r->plan,
                        .line = r->line,
                        .keep = true,
                        .row = first_row,
                        .row_end = first_row + row_count,
                        .next_line = first_line,
                        .pool = r->pool};
    memcpy(rows.column, r->column, sizeof rows.column);
    return rows;
}

/* ---- in parallel: plain rows only ---- */

/* Put the window at the first line that begins in the part; there is one. */
static pp_status find_first_line(const reading *r, size_t p, pp_csv_window *window, bool *found,
                                 pp_error *error)
{
    size_t begin = part_begin(r, p);
    pp_csv_window_start(window, &r->file, window->bytes, p == 0 ? begin : begin - 1,
                        r->piece_bytes);
    PP_TRY(pp_csv_window_fill(window, error));
    *found = true;
    if (p == 0) return PP_OK;
    const char *feed = memchr(window->bytes, '\n', window->end);
    while (!feed && !window->last && window->end <= PP_CSV_LINE_MAX) {
        PP_TRY(pp_csv_window_fill(window, error));
        feed = memchr(window->bytes, '\n', window->end);
    }
    *found = feed != NULL;
    if (feed) window->begin = (size_t)(feed + 1 - window->bytes);
    return PP_OK;
}

/* Take the plain rows of the window that begin before byte `end` of the file. False: a line was
 * left. */
static bool take_window(pp_csv_rows *rows, pp_csv_window *window, size_t end)
{
    const char *at = window->bytes + window->begin;
    const char *feed = memrchr(at, '\n', window->end - window->begin);
    const char *stop = feed ? feed + 1 : at;
    size_t limit = end - window->offset;
    if ((size_t)(stop - window->bytes) > limit) stop = window->bytes + limit;
    at = pp_csv_take_plain(rows, at, stop);
    window->begin = (size_t)(at - window->bytes);
    return at >= stop;
}

/* When a line is left to libcsv, the whole file is read again in one piece: a quotation mark may
 * reach into any later part. */
static pp_status take_part(void *context, size_t p, int worker, pp_error *error)
{
    reading *r = context;
    part *own = &r->parts[p];
    if (own->lines == 0 || atomic_load(&r->left)) return PP_OK;
    size_t end = part_begin(r, p + 1);
    pp_csv_window window = {.bytes = r->window_bytes[worker]};
    bool taken;
    PP_TRY(find_first_line(r, p, &window, &taken, error));
    pp_csv_rows rows = start_rows(r, own->first_row, own->lines, own->first_line);
    if (rows.pool) rows.pool += window.offset + window.begin - r->plan->first_byte;
    while (taken && window.offset + window.begin < end) {
        taken = take_window(&rows, &window, end);
        if (!taken || window.offset + window.begin >= end) break;
        taken = !window.last && window.end - window.begin <= PP_CSV_LINE_MAX;
        if (taken) PP_TRY(pp_csv_window_fill(&window, error));
    }
    if (!taken) atomic_store(&r->left, true);
    own->rows = rows.row - own->first_row;
    own->comments = rows.comments;
    own->marks = rows.marks;
    return PP_OK;
}

static void move_rows(reading *r, size_t to, size_t from, size_t count)
{
    for (size_t c = 0; c < r->plan->request->column_count; c++) {
        pp_csv_values *v = &r->column[c];
        if (v->number) memmove(v->number + to, v->number + from, count * sizeof *v->number);
        if (v->text) memmove(v->text + to, v->text + from, count * sizeof *v->text);
        if (v->code) memmove(v->code + to, v->code + from, count * sizeof *v->code);
        if (v->count) memmove(v->count + to, v->count + from, count * sizeof *v->count);
    }
    if (r->line) memmove(r->line + to, r->line + from, count * sizeof *r->line);
}

/* *taken false: some line was left, or the decimal marks differ; nothing is lost but time. */
static pp_status take_parts(reading *r, pp_csv_table *table, bool *taken, pp_error *error)
{
    unsigned marks = 0;
    PP_TRY(pp_parallel(r->threads, r->part_count, take_part, r, error));
    table->rows = 0;
    table->comments = r->plan->comments;
    for (size_t p = 0; p < r->part_count; p++) {
        const part *own = &r->parts[p];
        if (own->rows && own->first_row != table->rows)
            move_rows(r, table->rows, own->first_row,
                      own->rows); /* close the gaps of blank lines */
        table->rows += own->rows;
        table->comments += own->comments;
        marks |= own->marks;
    }
    *taken = !atomic_load(&r->left) && marks != PP_CSV_BOTH_MARKS;
    return PP_OK;
}

/* ---- in one piece: every row, every message ---- */

static pp_status take_line(pp_csv_rows *rows, pp_csv_record *record, const char *line,
                           size_t length, pp_error *error)
{
    const char *path = rows->plan->request->file->path;
    bool comment;
    long number = rows->next_line++;
    if (!record->open && pp_csv_idle_line(line, length, &comment)) {
        rows->comments += comment;
        return PP_OK;
    }
    PP_TRY(pp_csv_record_add(record, path, line, length, number, error));
    return record->open ? PP_OK : pp_csv_take_record(rows, record, error);
}

/* Until rows->row_end. */
static pp_status take_lines(const reading *r, pp_csv_rows *rows, pp_csv_record *record,
                            pp_error *error)
{
    pp_csv_window window;
    pp_csv_window_start(&window, &r->file, r->window_bytes[0], r->plan->first_byte, r->piece_bytes);
    bool plain = !r->plan->request->trial.all_by_libcsv, find = !rows->keep;
    for (;;) {
        if (plain && !record->open) take_window(rows, &window, r->file.size);
        if (find && rows->row == rows->row_end) return PP_OK;
        const char *line;
        size_t length;
        bool found;
        PP_TRY(pp_csv_window_line(&window, rows->next_line, &line, &length, &found, error));
        if (!found) break;
        PP_TRY(take_line(rows, record, line, length, error));
    }
    return record->open ? pp_csv_record_unclosed(record, r->file.path, error) : PP_OK;
}

static pp_status take_serially(const reading *r, pp_csv_rows *rows, pp_arena *scratch,
                               pp_error *error)
{
    pp_csv_record *record;
    PP_TRY(pp_csv_record_new(scratch, r->plan->delimiter, &record, error));
    pp_status status = take_lines(r, rows, record, error);
    pp_csv_record_free(record);
    return status;
}

/* ---- the whole ---- */

static pp_status read_rows(reading *r, pp_memory *memory, pp_csv_table *table, pp_error *error)
{
    const pp_csv_request *request = r->plan->request;
    size_t pool = r->file.size - r->plan->first_byte + 1;
    PP_TRY(count_lines(r, &memory->scratch, error));
    PP_TRY(take_room(r, r->line_count, pool, request->lines, &memory->keep, error));
    bool taken = false;
    if (!request->trial.all_by_libcsv) PP_TRY(take_parts(r, table, &taken, error));
    if (!taken) {
        pp_csv_rows rows = start_rows(r, 0, r->line_count, r->plan->first_line);
        PP_TRY(take_serially(r, &rows, &memory->scratch, error));
        table->rows = rows.row;
        table->comments = r->plan->comments + rows.comments;
    }
    memcpy(table->column, r->column, sizeof table->column);
    table->header = r->plan->header;
    table->line = r->line;
    return PP_OK;
}

/* Open, plan, do, close; *scratch is released. */
typedef pp_status (*reading_work)(reading *r, pp_memory *memory, void *result, pp_error *error);

static pp_status with_file(const pp_csv_request *request, int threads, pp_memory *memory,
                           reading_work work, void *result, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    reading r = {.threads = threads, .part_bytes = PART_BYTES, .piece_bytes = PP_CSV_PIECE};
    if (request->trial.part_bytes) r.part_bytes = request->trial.part_bytes;
    if (request->trial.piece_bytes) r.piece_bytes = request->trial.piece_bytes;
    pp_csv_plan *plan = pp_arena_take(&memory->scratch, 1, sizeof *plan);
    if (!plan) return pp_fail_memory(error);
    PP_TRY(pp_file_open(request->job, request->file, &r.file, error));
    pp_status status = pp_csv_plan_make(request, &r.file, &memory->scratch, plan, error);
    r.plan = plan;
    if (status == PP_OK) status = work(&r, memory, result, error);
    pp_file_close(&r.file);
    pp_arena_release(&memory->scratch, mark);
    return status;
}

static pp_status read_table(reading *r, pp_memory *memory, void *result, pp_error *error)
{
    pp_csv_table table = {0};
    PP_TRY(read_rows(r, memory, &table, error));
    *(pp_csv_table *)result = table;
    return PP_OK;
}

pp_status pp_csv_read(const pp_csv_request *request, int threads, pp_memory *memory,
                      pp_csv_table *table, pp_error *error)
{
    return with_file(request, threads, memory, read_table, table, error);
}

typedef struct place {
    size_t row, column;
    long line, cell;
} place;

static pp_status find_row(reading *r, pp_memory *memory, void *result, pp_error *error)
{
    place *wanted = result;
    PP_TAKE(r->window_bytes[0], &memory->scratch, pp_csv_window_room(&r->file));
    PP_TRY(take_room(r, 1, PP_CSV_LINE_MAX + 8, true, &memory->scratch, error));
    pp_csv_rows rows = start_rows(r, 0, wanted->row + 1, r->plan->first_line);
    rows.keep = false;
    PP_TRY(take_serially(r, &rows, &memory->scratch, error));
    wanted->line = r->line[0];
    wanted->cell = (long)r->plan->cell_of[wanted->column];
    return PP_OK;
}

pp_status pp_csv_find(const pp_csv_request *request, size_t row, size_t column, pp_memory *memory,
                      long *line, long *cell, pp_error *error)
{
    place wanted = {.row = row, .column = column};
    PP_TRY(with_file(request, 1, memory, find_row, &wanted, error));
    *line = wanted.line;
    *cell = wanted.cell;
    return PP_OK;
}

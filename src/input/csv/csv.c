#include "input/csv/csv.h"

#include <stdatomic.h>
#include <string.h>

#include "base/parallel.h"
#include "base/text.h"
#include "input/csv/csv_parts.h"

/* Bytes of a part of the file: fixed, so that results never depend on the number of threads. */
enum { PART_BYTES = 4 << 20, THREADS_MAX = 64 };

typedef struct part {
    size_t lines; /* that begin in it */
    size_t first_row;
    long first_line;
    size_t rows, comments, blank; /* taken */
    char *text, *text_end;        /* of its cells, in the pool */
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
    pp_csv_values column[PP_CSV_SLOTS];
    long *line;
    char *pool;
    size_t pool_bytes;
    pp_mark pool_end; /* the arena with the pool as the last thing in it */
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
            for (size_t i = 0; i < LANES; i++)
                lane[i] = (uint8_t)(lane[i] + (bytes[at + i] == '\n'));
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
    bool texts = false;
    for (size_t c = 0; c < r->plan->column_count; c++) {
        pp_csv_values *values = &r->column[c];
        if (!r->plan->cell_of[c]) continue;
        switch (r->plan->columns[c].type) {
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
    r->pool_bytes = pool;
    r->pool_end = pp_arena_mark(arena);
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
    own->text = rows.pool;
    while (taken && window.offset + window.begin < end) {
        taken = pp_csv_take_window(&rows, &window, end);
        if (!taken || window.offset + window.begin >= end) break;
        taken = !window.last && window.end - window.begin <= PP_CSV_LINE_MAX;
        if (taken) PP_TRY(pp_csv_window_fill(&window, error));
    }
    if (!taken) atomic_store(&r->left, true);
    own->text_end = rows.pool;
    own->rows = rows.row - own->first_row;
    own->comments = rows.comments;
    own->blank = rows.blank;
    own->marks = rows.marks;
    return PP_OK;
}

static void move_rows(reading *r, size_t to, size_t from, size_t count)
{
    for (size_t c = 0; c < r->plan->column_count; c++) {
        pp_csv_values *v = &r->column[c];
        if (v->number) memmove(v->number + to, v->number + from, count * sizeof *v->number);
        if (v->text) memmove(v->text + to, v->text + from, count * sizeof *v->text);
        if (v->code) memmove(v->code + to, v->code + from, count * sizeof *v->code);
        if (v->count) memmove(v->count + to, v->count + from, count * sizeof *v->count);
    }
    if (r->line) memmove(r->line + to, r->line + from, count * sizeof *r->line);
}

/* *taken false: some line was left, or the decimal marks differ; nothing is lost but time. */
static pp_status take_parts(reading *r, pp_csv_table *table, pp_table_reading *seen,
                            unsigned *marks, bool *taken, pp_error *error)
{
    PP_TRY(pp_parallel(r->threads, r->part_count, take_part, r, error));
    size_t comments = 0, blank = 0;
    table->rows = 0;
    *marks = 0;
    for (size_t p = 0; p < r->part_count; p++) {
        const part *own = &r->parts[p];
        if (own->rows && own->first_row != table->rows)
            move_rows(r, table->rows, own->first_row,
                      own->rows); /* close the gaps of blank lines */
        table->rows += own->rows;
        comments += own->comments;
        blank += own->blank;
        *marks |= own->marks;
    }
    *taken = !atomic_load(&r->left) && *marks != PP_CSV_BOTH_MARKS;
    if (!*taken) return PP_OK;
    seen->comments += comments;
    seen->blank += blank;
    return PP_OK;
}

/* The texts of a part to `to`, further to the front. An empty cell's text is not in the pool. */
static void move_texts(reading *r, const part *own, size_t first_row, char *to)
{
    for (size_t c = 0; c < r->plan->column_count; c++) {
        const char **text = r->column[c].text;
        for (size_t i = first_row; text && i < first_row + own->rows; i++)
            if (text[i][0]) text[i] = to + (text[i] - own->text);
    }
    memmove(to, own->text, (size_t)(own->text_end - own->text));
}

/* Each part had as much room for its texts as it has bytes: move them together, and give back what
 * is left behind them. */
static void close_up_texts(reading *r, pp_arena *arena)
{
    if (!r->pool) return;
    char *end = r->pool;
    for (size_t p = 0, row = 0; p < r->part_count; row += r->parts[p++].rows) {
        const part *own = &r->parts[p];
        if (own->text_end == own->text) continue;
        if (own->text != end) move_texts(r, own, row, end);
        end += own->text_end - own->text;
    }
    pp_mark now = pp_arena_mark(arena);
    if (now.block != r->pool_end.block || now.used != r->pool_end.used) return;
    enum { ALIGNMENT = 64 }; /* of what follows */
    arena->used -= (r->pool_bytes - (size_t)(end - r->pool)) / ALIGNMENT * ALIGNMENT;
}

/* ---- the whole ---- */

static pp_status take_all_serially(reading *r, pp_memory *memory, pp_csv_table *table,
                                   pp_table_note *note, unsigned *marks, pp_error *error)
{
    pp_csv_rows rows = start_rows(r, 0, r->line_count, r->plan->first_line);
    pp_csv_serial serial = {.plan = r->plan,
                            .file = &r->file,
                            .window_bytes = r->window_bytes[0],
                            .piece_bytes = r->piece_bytes,
                            .all_by_libcsv = r->plan->request->trial.all_by_libcsv,
                            .rows = &rows,
                            .memory = memory,
                            .note = note,
                            .reading = &note->reading};
    PP_TRY(pp_csv_take_serially(&serial, error));
    table->rows = rows.row;
    note->reading.comments += rows.comments;
    note->reading.blank += rows.blank;
    *marks = rows.marks;
    return pp_csv_refuse(r->plan->request, note, error);
}

static pp_status keep_reading(const pp_table_reading *found, pp_arena *keep,
                              const pp_table_reading **kept, pp_error *error)
{
    pp_table_reading *copy;
    PP_TAKE(copy, keep, 1);
    *copy = *found;
    *kept = copy;
    return PP_OK;
}

static pp_status read_rows(reading *r, pp_memory *memory, pp_table_note *note, pp_csv_table *table,
                           pp_error *error)
{
    const pp_csv_request *request = r->plan->request;
    const pp_csv_plan *plan = r->plan;
    size_t pool = r->file.size - plan->first_byte + 1;
    PP_TRY(count_lines(r, &memory->scratch, error));
    PP_TRY(take_room(r, r->line_count, pool, request->lines, &memory->keep, error));
    bool taken = false;
    unsigned marks = 0;
    if (!request->trial.all_by_libcsv)
        PP_TRY(take_parts(r, table, &note->reading, &marks, &taken, error));
    if (taken) close_up_texts(r, &memory->keep);
    if (!taken) PP_TRY(take_all_serially(r, memory, table, note, &marks, error));
    memcpy(table->column, r->column, sizeof table->column);
    for (size_t c = plan->spare_first; c < plan->column_count; c++) {
        table->spare[table->spare_count].header = plan->columns[c].names[0];
        table->spare[table->spare_count].cell = plan->cell_of[c];
        table->spare[table->spare_count++].text = r->column[c].text;
    }
    table->line = r->line;
    note->reading.rows = table->rows;
    note->reading.decimal = marks == PP_CSV_COMMA ? ',' : marks ? '.' : 0;
    return keep_reading(&note->reading, &memory->keep, &table->reading, error);
}

/* Open, plan, do, close; *scratch is released. */
typedef pp_status (*reading_work)(reading *r, pp_memory *memory, pp_table_note *note, void *result,
                                  pp_error *error);

static pp_status with_file(const pp_csv_request *request, int threads, pp_memory *memory,
                           reading_work work, pp_table_note *note, void *result, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    reading r = {.threads = threads, .part_bytes = PART_BYTES, .piece_bytes = PP_CSV_PIECE};
    if (request->trial.part_bytes) r.part_bytes = request->trial.part_bytes;
    if (request->trial.piece_bytes) r.piece_bytes = request->trial.piece_bytes;
    pp_csv_plan *plan = pp_arena_take(&memory->scratch, 1, sizeof *plan);
    if (!plan) return pp_fail_memory(error);
    PP_TRY(pp_file_open(request->job ? request->job->path : request->named_in, request->file,
                        &r.file, error));
    pp_status status = pp_csv_plan_make(request, &r.file, memory, plan, error);
    r.plan = plan;
    if (status == PP_OK) {
        note->reading = plan->reading;
        status = pp_csv_cut_totals(plan, &r.file, &memory->scratch, &note->reading, error);
    }
    if (status == PP_OK) status = work(&r, memory, note, result, error);
    pp_file_close(&r.file);
    pp_arena_release(&memory->scratch, mark);
    return status;
}

static pp_status read_table(reading *r, pp_memory *memory, pp_table_note *note, void *result,
                            pp_error *error)
{
    pp_csv_table table = {0};
    PP_TRY(read_rows(r, memory, note, &table, error));
    *(pp_csv_table *)result = table;
    return PP_OK;
}

pp_status pp_csv_read(const pp_csv_request *request, int threads, pp_memory *memory,
                      pp_csv_table *table, pp_error *error)
{
    pp_table_note own = {0}, *note = request->note ? request->note : &own;
    note->reading.what = request->what;
    pp_status status = with_file(request, threads, memory, read_table, note, table, error);
    if (status != PP_EINPUT || note->problem_count) return status;
    pp_status noted = pp_csv_note_error(note, &memory->keep, error); /* of the head */
    return noted == PP_OK ? status : pp_fail_memory(error);
}

/* ---- problems ---- */

pp_status pp_csv_note(const pp_csv_request *request, pp_table_note *note, size_t row, size_t column,
                      pp_memory *memory, const char *text, bool *full, pp_error *error)
{
    pp_error problem = {0};
    *full = note->problem_count == PP_PROBLEMS_MAX;
    if (!*full)
        PP_TRY(pp_csv_find(request, row, column, memory, &problem.line, &problem.column, error));
    pp_fail_at(&problem, PP_EINPUT, request->file->path, problem.line, problem.column, "%s", text);
    pp_status noted = pp_csv_note_error(note, &memory->keep, &problem);
    return noted == PP_OK ? PP_OK : pp_fail_memory(error);
}

pp_status pp_csv_refuse(const pp_csv_request *request, const pp_table_note *note, pp_error *error)
{
    if (note->problem_count == 0) return PP_OK;
    pp_text all = {0};
    pp_text_add(&all, note->problems[0].text);
    for (size_t i = 1; i < note->problem_count; i++) {
        const pp_problem *p = &note->problems[i];
        pp_text_print(&all, "\n%s:%ld:", request->file->path, p->line);
        if (p->column) pp_text_print(&all, "%ld:", p->column);
        pp_text_print(&all, " %s", p->text);
    }
    if (note->more) pp_text_print(&all, "\n  and more; these are the first %d", PP_PROBLEMS_MAX);
    pp_status status =
        all.failed ? pp_fail_memory(error)
                   : pp_fail_at(error, PP_EINPUT, request->file->path, note->problems[0].line,
                                note->problems[0].column, "%s", all.data);
    pp_text_free(&all);
    return status;
}

/* ---- where a row stands ---- */

typedef struct place {
    size_t row, column;
    long line, cell;
} place;

static pp_status find_row(reading *r, pp_memory *memory, pp_table_note *note, void *result,
                          pp_error *error)
{
    place *wanted = result;
    PP_TAKE(r->window_bytes[0], &memory->scratch, pp_csv_window_room(&r->file));
    PP_TRY(take_room(r, 1, PP_CSV_LINE_MAX + 8, true, &memory->scratch, error));
    pp_csv_rows rows = start_rows(r, 0, wanted->row + 1, r->plan->first_line);
    rows.keep = false;
    pp_csv_serial serial = {.plan = r->plan,
                            .file = &r->file,
                            .window_bytes = r->window_bytes[0],
                            .piece_bytes = r->piece_bytes,
                            .all_by_libcsv = r->plan->request->trial.all_by_libcsv,
                            .rows = &rows,
                            .memory = memory,
                            .reading = &note->reading};
    PP_TRY(pp_csv_take_serially(&serial, error));
    wanted->line = r->line[0];
    wanted->cell = (long)r->plan->cell_of[wanted->column];
    return PP_OK;
}

pp_status pp_csv_find(const pp_csv_request *request, size_t row, size_t column, pp_memory *memory,
                      long *line, long *cell, pp_error *error)
{
    place wanted = {.row = row, .column = column};
    pp_table_note unused = {0};
    PP_TRY(with_file(request, 1, memory, find_row, &unused, &wanted, error));
    *line = wanted.line;
    *cell = wanted.cell;
    return PP_OK;
}

/* A table of the report against the one the results give now: bytes first, then cell by cell. */
#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include "answer/paths.h"
#include "base/number.h"
#include "verify/compare_parts.h"

pp_status pp_compare_map(const char *folder, const char *name, pp_arena *arena, pp_mapped *file,
                         pp_error *error)
{
    struct stat facts;
    *file = (pp_mapped){.bytes = ""};
    char *path = pp_path_join(folder, name, arena);
    if (!path) return pp_fail_memory(error);
    int handle = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (handle < 0 && errno == ENOENT) return PP_OK;
    void *bytes = MAP_FAILED;
    bool plain = handle >= 0 && fstat(handle, &facts) == 0 && S_ISREG(facts.st_mode);
    if (plain && facts.st_size > 0)
        bytes = mmap(NULL, (size_t)facts.st_size, PROT_READ, MAP_PRIVATE, handle, 0);
    if (handle >= 0) close(handle);
    if (!plain || (facts.st_size > 0 && bytes == MAP_FAILED))
        return pp_fail_at(error, PP_EIO, path, 0, 0, "cannot be read");
    file->there = true;
    file->length = (size_t)facts.st_size;
    if (file->length) file->bytes = bytes;
    return PP_OK;
}

void pp_compare_unmap(pp_mapped *file)
{
    if (file->length) munmap((void *)(uintptr_t)file->bytes, file->length);
    *file = (pp_mapped){.bytes = ""};
}

typedef struct table_check {
    pp_differences *comparison;
    pp_arena *arena;
    const char *file;
    pp_mapped recorded;
    size_t offset; /* compared so far */
    size_t row;    /* rows up to there, the header included; counted from the first difference */
    bool counting;
    bool ended; /* the recorded table is too short; noted */
    const char *header;
    size_t header_length;
    pp_tolerance tolerance;
} table_check;

/* The end of a row: behind its line feed, which may not stand in quotes. */
static const char *row_end(const char *at, const char *end)
{
    bool quoted = false;
    while (at < end) {
        if (*at == '"') quoted = !quoted;
        if (*at++ == '\n' && !quoted) break;
    }
    return at;
}

typedef struct cell {
    const char *text;
    size_t length;
} cell;

/* Cut the next cell off [*at, end); false when the row is over. */
static bool next_cell(const char **at, const char *end, cell *c)
{
    if (*at >= end) return false;
    bool quoted = false;
    const char *start = *at, *to = start;
    while (to < end && (quoted || (*to != ',' && *to != '\n' && *to != '\r'))) {
        if (*to == '"') quoted = !quoted;
        to++;
    }
    *c = (cell){start, (size_t)(to - start)};
    *at = to < end && *to == ',' ? to + 1 : end;
    return true;
}

static bool same_cell(const table_check *check, cell a, cell b)
{
    double x, y;
    if (a.length == b.length && memcmp(a.text, b.text, a.length) == 0) return true;
    return pp_number_read(a.text, a.length, '.', &x) && pp_number_read(b.text, b.length, '.', &y) &&
           pp_compare_close(check->tolerance, x, y);
}

static void note_cell(table_check *check, size_t column, cell recorded, cell now)
{
    char where[96];
    const char *at = check->header, *end = check->header + check->header_length;
    cell name = {"", 0};
    for (size_t i = 0; i <= column; i++)
        if (!next_cell(&at, end, &name)) name = (cell){"?", 1};
    int length =
        snprintf(where, sizeof where, "row %zu, %.*s", check->row, (int)name.length, name.text);
    pp_compare_note(
        check->comparison,
        (pp_difference){.kind = PP_RESULT_CHANGED,
                        .file = check->file,
                        .where = pp_compare_keep(check->arena, where, (size_t)length),
                        .recorded = pp_compare_keep(check->arena, recorded.text, recorded.length),
                        .now = pp_compare_keep(check->arena, now.text, now.length)});
}

static void compare_row(table_check *check, const char *recorded, const char *recorded_end,
                        const char *now, const char *now_end)
{
    cell a, b;
    for (size_t column = 0;; column++) {
        bool more_a = next_cell(&recorded, recorded_end, &a);
        bool more_b = next_cell(&now, now_end, &b);
        if (!more_a && !more_b) return;
        if (!more_a) a = (cell){"", 0};
        if (!more_b) b = (cell){"", 0};
        if (!same_cell(check, a, b)) note_cell(check, column, a, b);
    }
}

static void note_length(table_check *check, const char *what)
{
    char where[64];
    int length = snprintf(where, sizeof where, "%s after row %zu", what, check->row);
    pp_compare_note(check->comparison,
                    (pp_difference){.kind = PP_RESULT_CHANGED,
                                    .file = check->file,
                                    .where = pp_compare_keep(check->arena, where, (size_t)length)});
}

static void count_up_to_here(table_check *check)
{
    const char *at = check->recorded.bytes, *end = at + check->offset;
    for (; at < end; check->row++) at = row_end(at, end);
    if (check->row) check->row--; /* the header is row 0 */
    check->counting = true;
}

static void compare_rows(table_check *check, const char *now, size_t length)
{
    const char *end = now + length, *recorded_end = check->recorded.bytes + check->recorded.length;
    if (!check->counting) count_up_to_here(check);
    while (now < end && !check->ended) {
        const char *recorded = check->recorded.bytes + check->offset;
        const char *now_next = row_end(now, end);
        if (recorded == recorded_end) {
            note_length(check, "the table ends too early,");
            check->ended = true;
            return;
        }
        const char *recorded_next = row_end(recorded, recorded_end);
        if (check->offset) check->row++;
        compare_row(check, recorded, recorded_next, now, now_next);
        check->offset = (size_t)(recorded_next - check->recorded.bytes);
        now = now_next;
    }
}

/* Pieces are whole rows; the first is the header. */
static pp_status compare_piece(void *context, const char *bytes, size_t length, pp_error *error)
{
    table_check *check = context;
    (void)error;
    size_t left = check->recorded.length - check->offset;
    if (!check->header) {
        check->header = pp_compare_keep(check->arena, bytes, length);
        check->header_length = length;
    }
    if (check->ended) return PP_OK;
    if (!check->counting && length <= left &&
        memcmp(check->recorded.bytes + check->offset, bytes, length) == 0)
        check->offset += length;
    else
        compare_rows(check, bytes, length);
    return PP_OK;
}

static void finish_table(table_check *check)
{
    if (check->ended || check->offset >= check->recorded.length) return;
    if (!check->counting) count_up_to_here(check);
    note_length(check, "more rows than there should be,");
}

void pp_compare_table_text(const char *name, const pp_mapped *recorded, const pp_text *now,
                           pp_arena *arena, pp_differences *comparison)
{
    table_check check = {.comparison = comparison,
                         .arena = arena,
                         .file = name,
                         .recorded = *recorded,
                         .tolerance = pp_compare_tolerance(name)};
    const char *end = now->data + now->length, *rows = row_end(now->data, end);
    (void)compare_piece(&check, now->data, (size_t)(rows - now->data), NULL);
    if (rows < end) (void)compare_piece(&check, rows, (size_t)(end - rows), NULL);
    finish_table(&check);
    for (const char *at = rows; at < end; at = row_end(at, end)) comparison->rows++;
}

pp_status pp_compare_table(const char *folder, const pp_results *now, pp_csv table, int threads,
                           pp_arena *arena, pp_differences *comparison, pp_error *error)
{
    const char *name = pp_csv_file_name(table);
    table_check check = {.comparison = comparison,
                         .arena = arena,
                         .file = name,
                         .tolerance = pp_compare_tolerance(name)};
    size_t rows = pp_csv_rows(now, table);
    PP_TRY(pp_compare_map(folder, name, arena, &check.recorded, error));
    pp_status status = PP_OK;
    if (check.recorded.there != (rows > 0)) {
        pp_compare_note(
            comparison,
            (pp_difference){.kind = rows ? PP_REPORT_MISSING : PP_REPORT_SURPLUS, .file = name});
    } else if (rows) {
        const pp_sink sink = {compare_piece, &check};
        status = pp_csv_write(now, table, threads, &sink, error);
        if (status == PP_OK) finish_table(&check);
        comparison->rows += rows;
        comparison->files++;
    }
    pp_compare_unmap(&check.recorded);
    return status;
}

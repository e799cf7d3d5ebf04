/* Hole lists of every kind: lists or a message; and both ways of splitting give the same texts,
 * words, counts and lines. */
#include "fuzz/memory_file.h"
#include "fuzz/memory_kept.h"

#include <math.h>
#include <string.h>

#include "base/names.h"
#include "input/csv/csv.h"
#include "input/lists/holelist.h"

static const pp_csv_word FACES[] = {{"entry", 0}, {"exit", 1}};
static memory_kept kept;

static const pp_csv_column COLUMNS[] = {
    {.names = {"hole", "id"}, .type = PP_CSV_TEXT, .needed = true},
    {.names = {"x"}, .type = PP_CSV_LENGTH, .needed = true},
    {.names = {"y"}, .type = PP_CSV_LENGTH, .needed = true},
    {.names = {"diameter", "dia", "d"}, .type = PP_CSV_LENGTH, .optional = true},
    {.names = {"face"}, .type = PP_CSV_WORD, .optional = true, .words = FACES, .word_count = 2},
    {.names = {"round"}, .type = PP_CSV_COUNT, .optional = true, .empty = 1},
    {.names = {"disposition"}, .type = PP_CSV_TEXT, .optional = true, .lines = true},
};
enum { COLUMN_COUNT = sizeof COLUMNS / sizeof COLUMNS[0] };

static void check_same_column(const pp_csv_values *a, const pp_csv_values *b, size_t rows)
{
    FUZZ_CHECK(!a->number == !b->number && !a->text == !b->text);
    FUZZ_CHECK(!a->code == !b->code && !a->count == !b->count);
    if (a->number) FUZZ_CHECK(memcmp(a->number, b->number, rows * sizeof *a->number) == 0);
    if (a->code) FUZZ_CHECK(memcmp(a->code, b->code, rows) == 0);
    if (a->count) FUZZ_CHECK(memcmp(a->count, b->count, rows * sizeof *a->count) == 0);
    for (size_t i = 0; a->text && i < rows; i++) FUZZ_CHECK(strcmp(a->text[i], b->text[i]) == 0);
}

static void compare_ways(const pp_job *job, const pp_job_file *file, unsigned choice)
{
    pp_csv_request request = {.job = job,
                              .file = file,
                              .what = "the list",
                              .columns = COLUMNS,
                              .column_count = COLUMN_COUNT,
                              .plain_min = 3,
                              .plain_max = 4,
                              .lines = true};
    pp_memory *memory = memory_begin(&kept);
    pp_csv_table plain = {0}, other = {0};
    pp_error error = {0}, other_error = {0};
    pp_status status = pp_csv_read(&request, 1, memory, &plain, &error);
    request.trial.all_by_libcsv = choice & 1;
    request.trial.part_bytes = 1 + (choice >> 1 & 63);
    request.trial.piece_bytes = 1 + (choice >> 7 & 63);
    pp_status again = pp_csv_read(&request, 1, memory, &other, &other_error);
    FUZZ_CHECK(status == again && plain.rows == other.rows);
    for (int c = 0; status == PP_OK && c < COLUMN_COUNT; c++)
        check_same_column(&plain.column[c], &other.column[c], plain.rows);
    FUZZ_CHECK(error.line == other_error.line && error.column == other_error.column);
    FUZZ_CHECK(strcmp(error.message, other_error.message) == 0);
}

/* What every later stage relies on. */
static void check_lists(const pp_hole_files *f)
{
    FUZZ_CHECK(f->nominal.count > 0);
    for (size_t i = 0; i < f->nominal.count; i++)
        FUZZ_CHECK(f->nominal.name[i][0] && isfinite(f->nominal.x[i]) && isfinite(f->nominal.y[i]));
    const pp_readings *m = &f->measured;
    for (size_t i = 0; i < m->count; i++)
        FUZZ_CHECK(m->round[i] >= 1 && m->face[i] <= PP_EXIT && m->line[i] >= 1 &&
                   (!m->diameter || m->diameter[i] > 0 || isnan(m->diameter[i])));
    for (size_t i = 0; i < f->ligament_count; i++) FUZZ_CHECK(f->ligaments[i].ligament >= 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char NOMINAL[] = "A1,10,20\nA2,40,20\n";
    char path[64], nominal_path[64];
    int handle = memory_file(data, size, path);
    int nominal = memory_file((const uint8_t *)NOMINAL, sizeof NOMINAL - 1, nominal_path);
    pp_job job = {.path = "plate.ini"};
    job.plate.outline = PP_OUTLINE_DISC;
    job.plate.diameter = 1000;
    pp_job_file fuzzed = {.path = path, .line = 7}, good = {.path = nominal_path, .line = 6};
    pp_job_file *const places[] = {&job.holes.nominal, &job.holes.measured, &job.holes.ligaments,
                                   &job.holes.checks, &job.holes.datum_points};
    unsigned choice = 2166136261u;
    for (size_t i = 0; i < size; i++) choice = (choice ^ data[i]) * 16777619u;
    compare_ways(&job, &fuzzed, choice);
    for (int kind = 0; kind < 5; kind++) {
        for (int i = 0; i < 5; i++) *places[i] = (pp_job_file){0};
        job.holes.nominal = good;
        *places[kind] = fuzzed;
        pp_memory *memory = memory_begin(&kept);
        pp_error error = {0};
        pp_hole_files files;
        pp_status status = pp_holelist_read(&job, 1, memory, &files, &error);
        if (status == PP_OK)
            check_lists(&files);
        else
            FUZZ_CHECK(status == PP_EINPUT && *error.message);
    }
    close(handle);
    close(nominal);
    return 0;
}

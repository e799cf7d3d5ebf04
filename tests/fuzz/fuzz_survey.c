/* Surveys: whatever the bytes, a survey or a message; and the scanning loop, cut into parts and
 * pieces of any size, reads what libcsv reads, bit for bit. */
#include "fuzz/memory_file.h"
#include "fuzz/memory_kept.h"

#include <string.h>

#include "input/csv/csv.h"
#include "input/lists/survey.h"

static memory_kept kept;

static const pp_csv_column COLUMNS[] = {
    {.names = {"x"}, .type = PP_CSV_LENGTH, .needed = true},
    {.names = {"y"}, .type = PP_CSV_LENGTH, .needed = true},
    {.names = {"z"}, .type = PP_CSV_LENGTH, .needed = true},
};

static pp_csv_request make_request(const pp_job *job)
{
    return (pp_csv_request){.job = job,
                            .file = &job->survey.file,
                            .what = "the survey",
                            .columns = COLUMNS,
                            .column_count = 3,
                            .plain_min = 3,
                            .plain_max = 3,
                            .lines = true};
}

static void check_same(const pp_csv_table *a, const pp_csv_table *b)
{
    FUZZ_CHECK(a->rows == b->rows && a->reading->header == b->reading->header &&
               a->reading->comments == b->reading->comments);
    for (int c = 0; c < 3; c++)
        FUZZ_CHECK(memcmp(a->column[c].number, b->column[c].number, a->rows * 8) == 0);
    FUZZ_CHECK(memcmp(a->line, b->line, a->rows * sizeof *a->line) == 0);
}

static void check_same_error(const pp_error *a, const pp_error *b)
{
    FUZZ_CHECK(a->line == b->line && a->column == b->column);
    FUZZ_CHECK(strcmp(a->message, b->message) == 0 && strchr(a->message, ';'));
}

static void compare_ways(const pp_job *job, unsigned choice)
{
    pp_memory *memory = memory_begin(&kept);
    pp_csv_request request = make_request(job);
    pp_csv_table plain = {0}, other = {0};
    pp_error error = {0}, other_error = {0};
    pp_status status = pp_csv_read(&request, 1, memory, &plain, &error);
    request.trial.all_by_libcsv = choice & 1;
    request.trial.part_bytes = 1 + (choice >> 1 & 63);
    request.trial.piece_bytes = 1 + (choice >> 7 & 63);
    pp_status again =
        pp_csv_read(&request, 1 + (int)(choice >> 13 & 1), memory, &other, &other_error);
    FUZZ_CHECK(status == again);
    if (status == PP_OK)
        check_same(&plain, &other);
    else
        check_same_error(&error, &other_error);
    if (status == PP_OK && plain.rows) {
        long line = 0, cell;
        size_t row = choice % plain.rows;
        FUZZ_CHECK(pp_csv_find(&request, row, 1, memory, &line, &cell, &error) == PP_OK);
        FUZZ_CHECK(line == plain.line[row]);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char path[64];
    int handle = memory_file(data, size, path);
    pp_job job = {.path = "plate.ini"};
    job.survey.file = (pp_job_file){.path = path, .line = 7};
    unsigned choice = 2166136261u; /* FNV-1a of the bytes */
    for (size_t i = 0; i < size; i++) choice = (choice ^ data[i]) * 16777619u;
    job.plate.outline = choice & 1 ? PP_OUTLINE_DISC : PP_OUTLINE_NONE;
    job.plate.diameter = 1000;
    compare_ways(&job, choice >> 3);

    pp_memory *memory = memory_begin(&kept);
    pp_error error = {0};
    pp_survey survey;
    pp_status status = pp_survey_read(&job, &job.survey.file, 1, memory, &survey, &error);
    if (status == PP_OK)
        FUZZ_CHECK(survey.count >= 3);
    else
        FUZZ_CHECK(status == PP_EINPUT &&
                   (strchr(error.message, ';') || strchr(error.message, '?')));
    close(handle);
    return 0;
}

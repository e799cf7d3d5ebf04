/* The data sets of data/reference/strd. */
#ifndef PP_TESTS_STRD_H
#define PP_TESTS_STRD_H

#include "input/csv/csv.h"
#include "support/check.h"

static const pp_csv_column STRD_COLUMNS[] = {
    {.names = {"value"}, .type = PP_CSV_NUMBER, .needed = true}};

/* The numbers of a set, read as any CSV is. */
static inline const double *strd_read(const char *name, size_t count, pp_memory *memory)
{
    char path[512];
    snprintf(path, sizeof path, "%s%s.txt", PP_SOURCE_DIR "/data/reference/strd/", name);
    pp_job job = {.path = "plate.ini"};
    pp_job_file file = {.path = path, .line = 1};
    pp_csv_request request = {.job = &job,
                              .file = &file,
                              .what = "the data set",
                              .columns = STRD_COLUMNS,
                              .column_count = 1,
                              .plain_min = 1,
                              .plain_max = 1};
    pp_csv_table table;
    pp_error error = {0};
    assert_ok(pp_csv_read(&request, 1, memory, &table, &error), &error);
    assert_int_equal(table.rows, count);
    return table.column[0].number;
}

#endif

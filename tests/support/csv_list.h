/* A list for tests of the table reader: a column of every type, and how it is asked for. */
#ifndef PP_TESTS_CSV_LIST_H
#define PP_TESTS_CSV_LIST_H

#include "input/csv/csv.h"
#include "support/scratch_file.h"

enum { HOLE, X, Y, FACE, ROUND, NOTE, VALUE, COLUMNS };

static const pp_csv_word FACES[] = {{"entry", 0}, {"exit", 1}};
static const pp_csv_column KNOWN[COLUMNS] = {
    [HOLE] = {.names = {"hole", "id"}, .type = PP_CSV_TEXT, .needed = true},
    [X] = {.names = {"x"}, .type = PP_CSV_LENGTH, .needed = true},
    [Y] = {.names = {"nominal_y", "y"}, .type = PP_CSV_LENGTH, .needed = true},
    [FACE] =
        {.names = {"face"}, .type = PP_CSV_WORD, .optional = true, .words = FACES, .word_count = 2},
    [ROUND] = {.names = {"round"}, .type = PP_CSV_COUNT, .optional = true, .empty = 1},
    [NOTE] = {.names = {"disposition"}, .type = PP_CSV_TEXT, .optional = true, .lines = true},
    [VALUE] = {.names = {"value"}, .type = PP_CSV_NUMBER, .optional = true},
};

static const pp_job JOB = {.path = "plate.ini"};

static inline pp_csv_request request_for(const scratch_file *file)
{
    return (pp_csv_request){.job = &JOB,
                            .file = &file->named,
                            .what = "the list",
                            .unit = PP_MM,
                            .columns = KNOWN,
                            .column_count = COLUMNS,
                            .plain_min = 3,
                            .plain_max = 3,
                            .lines = true};
}

#endif

/* The table reader and its file: what is none, and finding the place of a row read before. */
#include "support/check.h"
#include "support/csv_list.h"

#include <sys/stat.h>

static void what_is_no_file_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *path, *message;
    } CASES[] = {
        {"/nowhere/points.csv", "can't be opened (No such file or directory); check the name on "
                                "line 7 of plate.ini"},
        {PP_SOURCE_DIR, "is a folder, not a file; check the name on line 7 of plate.ini"},
        {"/dev/null", "is a pipe or a device, not a file; check the name on line 7 of plate.ini"},
    };
    for (size_t i = 0; i < sizeof CASES / sizeof CASES[0]; i++) {
        scratch_file file = {.named = {.path = CASES[i].path, .line = 7}};
        pp_csv_request request = request_for(&file);
        pp_memory memory = {0};
        pp_error error = {0};
        pp_csv_table table = {.rows = 4711};
        assert_int_equal(pp_csv_read(&request, 1, &memory, &table, &error), PP_EIO);
        assert_string_equal(error.message, CASES[i].message);
        assert_string_equal(error.file, CASES[i].path);
        assert_int_equal(table.rows, 4711);
        pp_memory_free(&memory);
    }
}

/* A pipe nobody writes to must not be waited for. */
static void a_pipe_is_refused_at_once(void **state)
{
    (void)state;
    scratch_file file;
    scratch_file_write(&file, "", 0);
    unlink(file.path);
    assert_int_equal(mkfifo(file.path, 0600), 0);
    pp_csv_request request = request_for(&file);
    pp_memory memory = {0};
    pp_error error = {0};
    pp_csv_table table;
    assert_int_equal(pp_csv_read(&request, 1, &memory, &table, &error), PP_EIO);
    assert_string_equal(error.message, "is a pipe or a device, not a file; check the name on "
                                       "line 7 of plate.ini");
    pp_memory_free(&memory);
    unlink(file.path);
    assert_int_equal(symlink(file.path, file.path), 0); /* to itself */
    assert_int_equal(pp_csv_read(&request, 1, &memory, &table, &error), PP_EIO);
    assert_non_null(strstr(error.message, "can't be opened"));
    pp_memory_free(&memory);
    scratch_file_remove(&file);
}

static void rows_are_found_again(void **state)
{
    (void)state;
    static const char TEXT[] =
        "# c\nhole,x,y,disposition\nA1,1,2,\n\nA2,1,2,\"x\ny\"\n,,\nA3,1,2\n";
    scratch_file file;
    scratch_file_write(&file, TEXT, strlen(TEXT));
    for (int way = 0; way < 2; way++) {
        pp_csv_request request = request_for(&file);
        request.trial.all_by_libcsv = way == 1;
        static const long LINES[] = {3, 5, 8};
        for (size_t row = 0; row < 3; row++) {
            pp_memory memory = {0};
            pp_error error = {0};
            long line, cell;
            assert_ok(pp_csv_find(&request, row, Y, &memory, &line, &cell, &error), &error);
            assert_int_equal(line, LINES[row]);
            assert_int_equal(cell, 3);
            pp_memory_free(&memory);
        }
    }
    scratch_file_remove(&file);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_no_file_is_refused),
        cmocka_unit_test(a_pipe_is_refused_at_once),
        cmocka_unit_test(rows_are_found_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

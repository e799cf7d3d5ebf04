#include "support/check.h"
#include "support/place.h"
#include "support/sample_results.h"

#include "report/tables/xlsx.h"

/* One part of the file (a zip) as text, or NULL. */
static char *part(const test_place *place, const char *name)
{
    char command[1200];
    snprintf(command, sizeof command, "unzip -p '%s' '%s' > '%s' 2>/dev/null",
             test_path(place, "results.xlsx"), name, test_path(place, "part"));
    return system(command) == 0 ? test_read(test_path(place, "part")) : NULL;
}

static void write_book(const test_place *place, pp_sample *sample)
{
    pp_error error = {0};
    remove(test_path(place, "results.xlsx"));
    assert_ok(
        pp_xlsx_write(&sample->results, test_path(place, "results.xlsx"), &sample->memory, &error),
        &error);
}

static size_t count(const char *text, const char *what)
{
    size_t found = 0;
    for (const char *at = text; (at = strstr(at, what)); at += strlen(what)) found++;
    return found;
}

static void needs_unzip(void)
{
    if (system("unzip -v >/dev/null 2>&1") == 0) return;
    print_message("skipped: needs unzip\n");
    skip();
}

static void sheets_hold_the_rows(void **state)
{
    (void)state;
    needs_unzip();
    test_place place = test_place_make();
    pp_sample sample;
    pp_sample_make(&sample, NULL);
    write_book(&place, &sample);
    char *book = part(&place, "xl/workbook.xml");
    const char *sheets[] = {"summary", "holes", "ligaments", "exceptions"};
    for (size_t i = 0; i < 4; i++) {
        char name[64];
        snprintf(name, sizeof name, "<sheet name=\"%s\"", sheets[i]);
        assert_non_null(strstr(book, name));
    }
    free(book);
    char *holes = part(&place, "xl/worksheets/sheet2.xml");
    assert_int_equal(count(holes, "<row "), sample.measures.bore_count + 1);
    assert_non_null(strstr(holes, "R001C002"));
    free(holes);
    char *ligaments = part(&place, "xl/worksheets/sheet3.xml");
    assert_int_equal(count(ligaments, "<row "), sample.measures.ligament_count + 1);
    assert_non_null(strstr(ligaments, "<v>2.9871</v>"));
    free(ligaments);
    char *exceptions = part(&place, "xl/worksheets/sheet4.xml");
    assert_int_equal(count(exceptions, "<row "), sample.judgement.exception_count + 1);
    free(exceptions);
    pp_sample_free(&sample);
    test_place_remove(&place);
}

static void texts_are_never_formulas(void **state)
{
    (void)state;
    needs_unzip();
    test_place place = test_place_make();
    pp_sample sample;
    pp_sample_make(&sample, &(pp_sample_options){.hostile = true, .inch = true});
    static char endless[40001]; /* more than a cell holds */
    memset(endless, 'x', sizeof endless - 1);
    sample.job.serial = endless;
    write_book(&place, &sample);
    for (int i = 1; i <= 4; i++) {
        char name[64];
        snprintf(name, sizeof name, "xl/worksheets/sheet%d.xml", i);
        char *sheet = part(&place, name);
        assert_non_null(sheet);
        assert_null(strstr(sheet, "<f>"));
        assert_null(strstr(sheet, "<script"));
        assert_null(strstr(sheet, "<img"));
        if (i == 2) assert_non_null(strstr(sheet, ">=2+3<"));
        if (i == 3) assert_non_null(strstr(sheet, "<v>0.1176023622047")); /* 2.9871 / 25.4 */
        free(sheet);
    }
    pp_sample_free(&sample);
    test_place_remove(&place);
}

static void the_same_results_give_the_same_bytes(void **state)
{
    (void)state;
    test_place place = test_place_make();
    pp_sample sample;
    pp_sample_make(&sample, NULL);
    write_book(&place, &sample);
    char command[1100];
    snprintf(command, sizeof command, "cp '%s' '%s'", test_path(&place, "results.xlsx"),
             test_path(&place, "first"));
    assert_int_equal(system(command), 0);
    sleep(2); /* a zip knows the time of day to two seconds */
    write_book(&place, &sample);
    snprintf(command, sizeof command, "cmp '%s' '%s'", test_path(&place, "results.xlsx"),
             test_path(&place, "first"));
    assert_int_equal(system(command), 0);
    pp_error error = {0};
    assert_int_equal(pp_xlsx_write(&sample.results, test_path(&place, "no/such/folder.xlsx"),
                                   &sample.memory, &error),
                     PP_EIO);
    pp_sample_free(&sample);
    test_place_remove(&place);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sheets_hold_the_rows),
        cmocka_unit_test(texts_are_never_formulas),
        cmocka_unit_test(the_same_results_give_the_same_bytes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

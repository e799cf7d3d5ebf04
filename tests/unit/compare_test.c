#include "support/check.h"
#include "support/place.h"
#include "support/sample_results.h"

#include "answer/inputs.h"
#include "report/folder/write.h"
#include "verify/compare.h"

/* A report on disk whose inputs exist, the same results in memory, and a comparison of the two. */
typedef struct scene {
    test_place place;
    char folder[300];
    pp_sample sample;
    pp_memory memory;
    pp_differences comparison;
} scene;

static int begin(void **state)
{
    scene *s = calloc(1, sizeof *s);
    s->place = test_place_make();
    snprintf(s->folder, sizeof s->folder, "%s/plate-report", s->place.path);
    char job_path[300];
    snprintf(job_path, sizeof job_path, "%s/plate.ini", s->place.path);
    pp_sample_make(&s->sample, &(pp_sample_options){.job_path = job_path});
    s->sample.job.path = pp_arena_text(&s->sample.memory.keep, job_path, strlen(job_path));
    pp_error error = {0};
    for (size_t i = 0; i < 4; i++) {
        pp_input_file *input = &s->sample.inputs[i];
        const char *path = test_path(&s->place, input->written);
        test_write(path, input->role);
        assert_ok(pp_hash_file(path, input->sha256, &error), &error);
    }
    s->sample.job.date = NULL; /* the day of writing then */
    s->sample.results.date = "2026-12-01";
    assert_ok(pp_report_write(&s->sample.results, s->folder, &(pp_report_options){.threads = 1},
                              &s->memory, &error),
              &error);
    s->sample.results.date = "2027-02-03"; /* verified later */
    *state = s;
    return 0;
}

static int end(void **state)
{
    scene *s = *state;
    test_place_remove(&s->place);
    pp_sample_free(&s->sample);
    pp_memory_free(&s->memory);
    free(s);
    return 0;
}

/* Compare, and return the first difference (kind -1 when there is none). */
static pp_difference compare(scene *s, const char *inputs_folder)
{
    pp_error error = {0};
    pp_recorded recorded;
    memset(&s->comparison, 0, sizeof s->comparison);
    assert_ok(pp_recorded_read(s->folder, &(pp_recorded_options){inputs_folder, false}, &s->memory,
                               &recorded, &error),
              &error);
    assert_ok(pp_compare_inputs(&recorded, 2, &s->memory, &s->comparison, &error), &error);
    assert_ok(
        pp_compare_report(&recorded, &s->sample.results, 2, &s->memory, &s->comparison, &error),
        &error);
    pp_recorded_free(&recorded);
    if (s->comparison.count == 0) return (pp_difference){.kind = (pp_difference_kind)-1};
    return s->comparison.items[0];
}

static const char *in_folder(scene *s, const char *name)
{
    static char path[600];
    snprintf(path, sizeof path, "%s/%s", s->folder, name);
    return path;
}

/* Replace the first `old` in a file of the report by `new_`. */
static void edit(scene *s, const char *name, const char *old, const char *new_)
{
    char *text = test_read(in_folder(s, name));
    char *at = strstr(text, old);
    assert_non_null(at);
    FILE *file = fopen(in_folder(s, name), "wb");
    fprintf(file, "%.*s%s%s", (int)(at - text), text, new_, at + strlen(old));
    fclose(file);
    free(text);
}

static void an_untouched_report_holds(void **state)
{
    scene *s = *state;
    compare(s, NULL);
    for (size_t i = 0; i < s->comparison.count; i++)
        print_error("%s: %s\n", s->comparison.items[i].file, s->comparison.items[i].where);
    assert_int_equal(s->comparison.count, 0);
    assert_true(s->comparison.values > 300);
    assert_true(s->comparison.rows > 100);
    assert_int_equal(s->comparison.files, 14);
}

static void a_changed_input_is_told_from_a_missing_one(void **state)
{
    scene *s = *state;
    test_write(test_path(&s->place, "survey.csv"), "surwey");
    pp_difference d = compare(s, NULL);
    assert_int_equal(s->comparison.count, 1);
    assert_int_equal(d.kind, PP_INPUT_CHANGED);
    assert_string_equal(d.where, "survey");
    assert_string_equal(d.recorded, s->sample.inputs[1].sha256);
    assert_string_not_equal(d.now, d.recorded);
    remove(test_path(&s->place, "survey.csv"));
    d = compare(s, NULL);
    assert_int_equal(s->comparison.count, 1);
    assert_int_equal(d.kind, PP_INPUT_MISSING);
    mkdir(test_path(&s->place, "moved"), 0755);
    test_write(test_path(&s->place, "moved/survey.csv"), "survey");
    test_write(test_path(&s->place, "moved/plate.ini"), "job");
    test_write(test_path(&s->place, "moved/nominal.csv"), "nominal");
    test_write(test_path(&s->place, "moved/measured.csv"), "measured");
    char moved[300];
    snprintf(moved, sizeof moved, "%s/moved", s->place.path);
    compare(s, moved);
    assert_int_equal(s->comparison.count, 0);
}

static void a_changed_result_is_named(void **state)
{
    scene *s = *state;
    s->sample.judgement.position_fold.largest += 3e-8; /* another processor */
    compare(s, NULL);
    assert_int_equal(s->comparison.count, 0);
    s->sample.judgement.position_fold.largest += 1e-6;
    pp_difference d = compare(s, NULL);
    assert_int_equal(s->comparison.count, 1);
    assert_int_equal(d.kind, PP_RESULT_CHANGED);
    assert_string_equal(d.file, "results.json");
    assert_string_equal(d.where, "holes.position.largest");
    assert_non_null(d.recorded);
    assert_non_null(d.now);
    s->sample.judgement.position_fold.largest -= 1e-6;
    s->sample.judgement.position_fold.out = 2;
    assert_string_equal(compare(s, NULL).where, "holes.position.out");
}

static void a_forged_value_is_found_wherever_it_stands(void **state)
{
    scene *s = *state;
    const struct {
        const char *file, *old, *new_;
        pp_difference_kind kind;
    } forged[] = {
        {"results.json", "\"does not conform\"", "\"conforms\"", PP_RESULT_CHANGED},
        {"results.json", "\"flatness_limit\"", "\"flatness_limitt\"", PP_RESULT_CHANGED},
        {"results.json", "\"gap_limit\": 0.3", "\"gap_limit\": 0.4", PP_RESULT_CHANGED},
        {"results.json", "\"ready\": false,", "", PP_RESULT_CHANGED},
        {"results.json", "\"judged\": [", "\"judged\": [\"drift\",", PP_RESULT_CHANGED},
        {"holes.csv", ",out,", ",in,", PP_RESULT_CHANGED},
        {"ligaments.csv", "2.9871", "3.9871", PP_RESULT_CHANGED},
        {"areas.csv", "gap,", "high,", PP_RESULT_CHANGED},
        {"map.csv", "x,y,height", "x,y,depth", PP_RESULT_CHANGED},
        {"holddown.csv", "R001C002", "R001C009", PP_RESULT_CHANGED},
        {"report.html", "18 of 19 holes", "19 of 19 holes", PP_PAGE_CHANGED},
        {"certificate.pdf", "obj", "0bj", PP_PAGE_CHANGED},
        {"setup-sheet.pdf", "obj", "0bj", PP_PAGE_CHANGED},
        {"setups.csv", "lift,1", "lift,2", PP_RESULT_CHANGED},
        {"drilling.csv", ",1,1", ",2,1", PP_RESULT_CHANGED},
        {"results.qif", "FAIL", "PASS", PP_PAGE_CHANGED},
    };
    for (size_t i = 0; i < sizeof forged / sizeof forged[0]; i++) {
        char *before = NULL;
        struct stat facts;
        stat(in_folder(s, forged[i].file), &facts);
        FILE *file = fopen(in_folder(s, forged[i].file), "rb");
        before = malloc((size_t)facts.st_size);
        assert_int_equal(fread(before, 1, (size_t)facts.st_size, file), facts.st_size);
        fclose(file);
        edit(s, forged[i].file, forged[i].old, forged[i].new_);
        pp_difference d = compare(s, NULL);
        if (s->comparison.count == 0 || d.kind != forged[i].kind)
            print_error("%s, %s\n", forged[i].file, forged[i].old);
        assert_true(s->comparison.count > 0);
        assert_int_equal(d.kind, forged[i].kind);
        assert_string_equal(d.file, forged[i].file);
        file = fopen(in_folder(s, forged[i].file), "wb");
        fwrite(before, 1, (size_t)facts.st_size, file);
        fclose(file);
        free(before);
    }
    compare(s, NULL);
    assert_int_equal(s->comparison.count, 0);
}

static void cells_are_named_by_row_and_column(void **state)
{
    scene *s = *state;
    edit(s, "ligaments.csv", "2.9871", "2.98715");
    pp_difference d = compare(s, NULL);
    assert_int_equal(s->comparison.count, 1);
    assert_string_equal(d.where, "row 12, ligament");
    assert_string_equal(d.recorded, "2.98715");
    assert_string_equal(d.now, "2.9871");
    edit(s, "ligaments.csv", "2.98715", "2.98710000001"); /* within the tolerance */
    compare(s, NULL);
    assert_int_equal(s->comparison.count, 0);
}

static void rows_and_files_can_be_too_many_or_too_few(void **state)
{
    scene *s = *state;
    char *text = test_read(in_folder(s, "areas.csv"));
    test_write(in_folder(s, "areas.csv"), "side,area,peak,x,y,xmin,ymin,xmax,ymax,holes\n");
    assert_non_null(strstr(compare(s, NULL).where, "ends too early"));
    assert_int_equal(s->comparison.count, 1);
    test_write(in_folder(s, "areas.csv"), "");
    assert_non_null(strstr(compare(s, NULL).where, "ends too early"));
    FILE *file = fopen(in_folder(s, "areas.csv"), "wb");
    fprintf(file, "%s%s", text, "low,1,1,1,1,1,1,1,1,1\n");
    fclose(file);
    assert_non_null(strstr(compare(s, NULL).where, "more rows than there should be, after row 3"));
    assert_int_equal(s->comparison.count, 1);
    test_write(in_folder(s, "areas.csv"), text);
    free(text);
    remove(in_folder(s, "map.csv"));
    pp_difference d = compare(s, NULL);
    assert_int_equal(d.kind, PP_REPORT_MISSING);
    assert_string_equal(d.file, "map.csv");
    test_write(in_folder(s, "map.csv"), "x");
    s->sample.flatness.surface_valid = false;
    bool surplus = false;
    compare(s, NULL);
    for (size_t i = 0; i < s->comparison.count; i++)
        surplus = surplus || (s->comparison.items[i].kind == PP_REPORT_SURPLUS &&
                              strcmp(s->comparison.items[i].file, "map.csv") == 0);
    assert_true(surplus);
}

static void a_spreadsheet_is_compared_where_there_is_one(void **state)
{
    scene *s = *state;
    pp_error error = {0};
    assert_ok(pp_report_write(&s->sample.results, s->folder,
                              &(pp_report_options){.threads = 2, .xlsx = true, .letter = true},
                              &s->memory, &error),
              &error);
    compare(s, NULL);
    assert_int_equal(s->comparison.count, 0);
    assert_int_equal(s->comparison.files, 15);
    FILE *file = fopen(in_folder(s, "results.xlsx"), "r+b");
    fseek(file, 3000, SEEK_SET);
    int byte = fgetc(file);
    fseek(file, 3000, SEEK_SET);
    fputc(byte ^ 4, file);
    fclose(file);
    pp_difference d = compare(s, NULL);
    assert_int_equal(s->comparison.count, 1);
    assert_int_equal(d.kind, PP_PAGE_CHANGED);
    assert_string_equal(d.file, "results.xlsx");
}

static void what_is_no_report_is_refused(void **state)
{
    scene *s = *state;
    pp_error error = {0};
    pp_recorded recorded;
    const char *place = s->place.path;
    assert_int_equal(
        pp_recorded_read(place, &(pp_recorded_options){0}, &s->memory, &recorded, &error), PP_EIO);
    const char *bad[] = {"{", "{\"format\": \"else\", \"version\": 1}",
                         "{\"format\": \"plateproof-results\", \"version\": 2}",
                         "{\"format\": \"plateproof-results\", \"version\": 1, \"inputs\": []}"};
    for (size_t i = 0; i < 4; i++) {
        test_write(test_path(&s->place, "results.json"), bad[i]);
        assert_int_equal(
            pp_recorded_read(place, &(pp_recorded_options){0}, &s->memory, &recorded, &error),
            PP_EINPUT);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(an_untouched_report_holds, begin, end),
        cmocka_unit_test_setup_teardown(a_changed_input_is_told_from_a_missing_one, begin, end),
        cmocka_unit_test_setup_teardown(a_changed_result_is_named, begin, end),
        cmocka_unit_test_setup_teardown(a_forged_value_is_found_wherever_it_stands, begin, end),
        cmocka_unit_test_setup_teardown(cells_are_named_by_row_and_column, begin, end),
        cmocka_unit_test_setup_teardown(rows_and_files_can_be_too_many_or_too_few, begin, end),
        cmocka_unit_test_setup_teardown(a_spreadsheet_is_compared_where_there_is_one, begin, end),
        cmocka_unit_test_setup_teardown(what_is_no_report_is_refused, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

#include "support/check.h"
#include "support/place.h"
#include "support/sample_results.h"

#include "report/folder/write.h"

static void every_file_has_something_in_it(void **state)
{
    (void)state;
    test_place place = test_place_make();
    pp_sample sample;
    pp_sample_make(&sample, &(pp_sample_options){.job_path = test_path(&place, "plate.ini")});
    pp_error error = {0};
    const char *target = test_path(&place, "plate-report");
    const pp_report_options options = {.threads = 2};
    assert_ok(pp_report_write(&sample.results, target, &options, &sample.memory, &error), &error);
    const char *names[] = {"results.json", "report.html", "certificate.pdf", "results.qif",
                           "holes.csv",    "areas.csv",   "ligaments.csv",   "holddown.csv",
                           "map.csv",      "setups.csv",  "drilling.csv",    "setup-sheet.pdf"};
    char path[600];
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        snprintf(path, sizeof path, "%s/%s", target, names[i]);
        char *bytes = test_read(path);
        if (!bytes) print_error("no %s\n", names[i]);
        assert_non_null(bytes);
        assert_true(bytes[0] != '\0');
        if (i == 0) assert_non_null(strstr(bytes, "\"../plate.ini\""));
        free(bytes);
    }
    pp_sample_drop_holes(&sample);
    assert_ok(pp_report_write(&sample.results, target, &options, &sample.memory, &error), &error);
    snprintf(path, sizeof path, "%s/holes.csv", target);
    assert_int_not_equal(access(path, F_OK), 0);
    snprintf(path, sizeof path, "%s/map.csv", target);
    assert_int_equal(access(path, F_OK), 0);
    pp_sample_free(&sample);
    test_place_remove(&place);
}

static bool after_some_asking(void *context)
{
    int *left = context;
    return (*left)-- == 0;
}

static void stopping_anywhere_changes_nothing(void **state)
{
    (void)state;
    test_place place = test_place_make();
    pp_sample sample;
    pp_sample_make(&sample, &(pp_sample_options){.job_path = test_path(&place, "plate.ini")});
    pp_error error = {0};
    const char *target = test_path(&place, "plate-report");
    int asked = 0;
    for (;; asked++) {
        int left = asked;
        const pp_report_options options = {
            .threads = 1, .stopped = after_some_asking, .stopped_context = &left};
        pp_status status =
            pp_report_write(&sample.results, target, &options, &sample.memory, &error);
        if (status == PP_OK) break;
        assert_int_equal(status, PP_ECANCELLED);
        assert_int_equal(test_count(place.path), 0);
    }
    assert_true(asked > 8);
    assert_int_equal(test_count(place.path), 1);
    pp_sample_free(&sample);
    test_place_remove(&place);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_file_has_something_in_it),
        cmocka_unit_test(stopping_anywhere_changes_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

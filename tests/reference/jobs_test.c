/* Hole jobs whose results an independent program computed: data/reference/jobs. Every key of each
 * expected.json is held against results.json: values to 1e-6 mm, all else exactly. */
#include <jansson.h>

#include "report/json/json.h"
#include "support/check.h"
#include "support/holes_run.h"

static const double TOLERANCE = 1e-6;

static int failures;

static void fail_at(const char *path, const json_t *got, const json_t *want)
{
    char *g = got ? json_dumps(got, JSON_ENCODE_ANY | JSON_COMPACT) : NULL;
    char *w = json_dumps(want, JSON_ENCODE_ANY | JSON_COMPACT);
    print_error("%s: got %.200s, want %.200s\n", path, g ? g : "nothing", w);
    free(g);
    free(w);
    failures++;
}

static void compare(const char *path, const json_t *got, const json_t *want)
{
    char below[512];
    if (json_is_object(want)) {
        const char *key;
        json_t *value;
        json_object_foreach((json_t *)(uintptr_t)want, key, value)
        {
            snprintf(below, sizeof below, "%s.%s", path, key);
            compare(below, json_object_get(got, key), value);
        }
    } else if (json_is_array(want)) {
        if (json_array_size(got) != json_array_size(want)) {
            fail_at(path, got, want);
            return;
        }
        for (size_t i = 0; i < json_array_size(want); i++) {
            snprintf(below, sizeof below, "%s[%zu]", path, i);
            compare(below, json_array_get(got, i), json_array_get(want, i));
        }
    } else if (json_is_real(want)) {
        if (!json_is_number(got) ||
            !(fabs(json_number_value(got) - json_number_value(want)) <= TOLERANCE))
            fail_at(path, got, want);
    } else if (json_is_integer(want)) {
        if (!json_is_number(got) || json_number_value(got) != json_number_value(want))
            fail_at(path, got, want);
    } else if (!json_equal(got, want)) {
        fail_at(path, got, want);
    }
}

static void check_job(const char *name)
{
    char path[512];
    snprintf(path, sizeof path, "%s/data/reference/jobs/%s/job.ini", PP_SOURCE_DIR, name);
    pp_error error = {0};
    holes_run run = {0};
    assert_ok(holes_run_file(&run, path, 2, &error), &error);
    pp_text text = {0};
    assert_ok(pp_json_write(&run.results, NULL, &text, &error), &error);
    json_error_t problem;
    json_t *got = json_loadb(text.data, text.length, 0, &problem);
    assert_non_null(got);
    snprintf(path, sizeof path, "%s/data/reference/jobs/%s/expected.json", PP_SOURCE_DIR, name);
    json_t *want = json_load_file(path, 0, &problem);
    assert_non_null(want);
    compare(name, got, want);
    json_decref(got);
    json_decref(want);
    pp_text_free(&text);
    pp_memory_free(&run.memory);
}

static void jobs_are_judged_as_an_independent_program_does(void **state)
{
    (void)state;
    static const char *const JOBS[] = {"both_faces",     "faces_aligned", "guarded", "inch_repeats",
                                       "others_plugged", "rework",        "sample",  "thin",
                                       "tri_bestfit",    "tri_clean",     "warm"};
    for (size_t i = 0; i < sizeof JOBS / sizeof *JOBS; i++) check_job(JOBS[i]);
    assert_int_equal(failures, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(jobs_are_judged_as_an_independent_program_does)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}

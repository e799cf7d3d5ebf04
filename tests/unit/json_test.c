#include "support/check.h"
#include "support/sample_results.h"

#include <locale.h>
#include <stdlib.h>

#include <jansson.h>

#include "answer/paths.h"
#include "report/json/json.h"

static json_t *written(const pp_results *results, pp_text *text)
{
    pp_error error = {0};
    assert_ok(pp_json_write(results, NULL, text, &error), &error);
    json_error_t where;
    json_t *root = json_loadb(text->data, text->length, JSON_REJECT_DUPLICATES, &where);
    if (!root) print_error("%s at line %d\n", where.text, where.line);
    assert_non_null(root);
    return root;
}

/* Every key of `want` is in `got`, in the same order, with the same type; null in `want` allows
 * null or a real. Arrays: every item of `got` is like the first of `want`. */
static void assert_like(const char *path, json_t *got, json_t *want)
{
    char deeper[256];
    if (json_is_null(want)) {
        assert_true(json_is_null(got) || json_is_real(got));
        return;
    }
    if (json_typeof(got) != json_typeof(want) && !(json_is_boolean(got) && json_is_boolean(want))) {
        print_error("%s: type %d, want %d\n", path, json_typeof(got), json_typeof(want));
        fail();
    }
    if (json_is_object(want)) {
        void *at = json_object_iter(got);
        const char *key;
        json_t *value;
        json_object_foreach(want, key, value)
        {
            snprintf(deeper, sizeof deeper, "%s.%s", path, key);
            while (at && strcmp(json_object_iter_key(at), key) != 0)
                at = json_object_iter_next(got, at);
            if (!at) print_error("%s: missing, or out of order\n", deeper);
            assert_non_null(at);
            assert_like(deeper, json_object_iter_value(at), value);
        }
    } else if (json_is_array(want)) {
        for (size_t i = 0; i < json_array_size(got); i++)
            assert_like(path, json_array_get(got, i), json_array_get(want, 0));
    }
}

static void keys_order_and_types_are_the_documented_ones(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, NULL);
    pp_text text = {0};
    json_t *got = written(&sample.results, &text);
    json_error_t where;
    json_t *want = json_load_file(PP_SOURCE_DIR "/tests/unit/results_format.json", 0, &where);
    assert_non_null(want);
    assert_like("", got, want);
    json_decref(want);
    json_decref(got);
    pp_text_free(&text);
    pp_sample_free(&sample);
}

static const json_t *at(const json_t *root, const char *path)
{
    char key[64];
    while (*path) {
        size_t length = strcspn(path, ".");
        snprintf(key, sizeof key, "%.*s", (int)length, path);
        root = json_is_array(root) ? json_array_get(root, strtoul(key, NULL, 10))
                                   : json_object_get(root, key);
        if (!root) print_error("no %s\n", key);
        assert_non_null(root);
        path += length + (path[length] == '.');
    }
    return root;
}

static void values_are_the_results(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, NULL);
    pp_text text = {0};
    json_t *root = written(&sample.results, &text);
    assert_string_equal(json_string_value(at(root, "verdict")), "does not conform");
    assert_string_equal(json_string_value(at(root, "inputs.0.file")), "../plate.ini");
    assert_string_equal(json_string_value(at(root, "inputs.3.instrument")), "ARM");
    assert_int_equal(json_integer_value(at(root, "flatness.least_squares.highest.row")), 9);
    assert_near(json_real_value(at(root, "flatness.least_squares.highest.z")), sample.survey.z[8],
                1e-12);
    assert_string_equal(json_string_value(at(root, "flatness.minimum_zone.witness.3.side")),
                        "lower");
    assert_near(json_real_value(at(root, "flatness.straightedge.0.limit")), 1.2, 0);
    assert_true(json_is_null(at(root, "flatness.straightedge.1.limit")));
    assert_string_equal(json_string_value(at(root, "flatness.straightedge.1.verdict")),
                        "not judged");
    assert_string_equal(json_string_value(at(root, "holddown.plan.0.blocks.0")), "R001C002");
    assert_int_equal(json_integer_value(at(root, "holes.nominal")), 19);
    assert_int_equal(json_integer_value(at(root, "holes.measured")), 18);
    assert_string_equal(json_string_value(at(root, "holes.unmeasured.0")), "R005C003");
    assert_string_equal(json_string_value(at(root, "holes.misdrilled_pairs.0.1")),
                        json_string_value(at(root, "holes.extra.0")));
    assert_string_equal(json_string_value(at(root, "holes.plugged.0")), "R001C001");
    assert_string_equal(json_string_value(at(root, "holes.others.1.hole")), "T2");
    assert_string_equal(json_string_value(at(root, "holes.position.largest_hole")), "R001C002");
    assert_near(json_real_value(at(root, "holes.position.largest")), 2 * hypot(0.1672, 0.0833),
                1e-12);
    assert_true(json_is_null(at(root, "holes.drift.limit")));
    assert_near(json_real_value(at(root, "holes.ligament.smallest")), 2.9871, 0);
    assert_string_equal(json_string_value(at(root, "exceptions.worst.0.verdict")),
                        "does not conform");
    assert_int_equal(json_integer_value(at(root, "exceptions.count")),
                     sample.judgement.exception_count);
    json_decref(root);
    pp_text_free(&text);
    pp_sample_free(&sample);
}

static void missing_sections_are_left_out_and_missing_values_null(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, NULL);
    pp_sample_drop_holes(&sample);
    sample.limits.flatness_limit.value = NAN;
    sample.flatness.least_squares_slope.valid = false;
    sample.flatness.surface_valid = false;
    sample.job.plate.outline = PP_OUTLINE_NONE;
    sample.job.plate.thickness = NAN;
    pp_text text = {0};
    json_t *root = written(&sample.results, &text);
    const char *gone[] = {"holddown", "holes", "plate"};
    for (size_t i = 0; i < 3; i++) assert_null(json_object_get(root, gone[i]));
    assert_true(json_is_null(at(root, "flatness.limit")));
    assert_true(json_is_null(at(root, "flatness.least_squares.slope_x")));
    assert_null(json_object_get(at(root, "flatness"), "surface"));
    json_decref(root);
    pp_text_free(&text);
    pp_sample_free(&sample);
}

static void bytes_do_not_depend_on_locale_or_sign_of_zero(void **state)
{
    (void)state;
    pp_sample sample;
    pp_sample_make(&sample, &(pp_sample_options){.hostile = true});
    pp_text first = {0}, second = {0};
    pp_error error = {0};
    assert_ok(pp_json_write(&sample.results, NULL, &first, &error), &error);
    sample.flatness.minimum_zone.plane.normal[0] = -0.0;
    char *before = setlocale(LC_NUMERIC, "de_DE.UTF-8"); /* where it is installed */
    assert_ok(pp_json_write(&sample.results, NULL, &second, &error), &error);
    if (before) setlocale(LC_NUMERIC, "C");
    assert_int_equal(first.length, second.length);
    assert_memory_equal(first.data, second.data, first.length);
    assert_int_equal(first.data[first.length - 1], '\n');
    pp_text_free(&first);
    pp_text_free(&second);
    pp_sample_free(&sample);
}

static void paths_are_seen_from_the_report(void **state)
{
    (void)state;
    pp_arena arena = {0};
    char *there = realpath(PP_SOURCE_DIR, NULL);
    assert_non_null(there);
    struct {
        const char *path, *folder, *want;
    } cases[] = {
        {PP_SOURCE_DIR "/tests/job.ini", PP_SOURCE_DIR "/tests/job-report", "../job.ini"},
        {PP_SOURCE_DIR "/tests/job.ini", PP_SOURCE_DIR "/tests/job-report/", "../job.ini"},
        {PP_SOURCE_DIR "/tests/job.ini", PP_SOURCE_DIR "/src/../src/new", "../../tests/job.ini"},
        {PP_SOURCE_DIR "/tests/job.ini", PP_SOURCE_DIR "/tests", "job.ini"},
        {"tests/job.ini", "tests/job.ini-report", "../job.ini"},
        {"/nowhere/job.ini", "/nowhere else/report", "../../nowhere/job.ini"},
        {"/job.ini", "/report", "../job.ini"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        assert_string_equal(pp_path_relative(cases[i].path, cases[i].folder, &arena),
                            cases[i].want);
    pp_job job = {.path = "a/b.c/plate.ini", .name = "plate"};
    assert_string_equal(pp_path_default_report(&job, &arena), "a/b.c/plate-report");
    job.path = "plate.ini";
    assert_string_equal(pp_path_default_report(&job, &arena), "plate-report");
    free(there);
    pp_arena_free(&arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keys_order_and_types_are_the_documented_ones),
        cmocka_unit_test(values_are_the_results),
        cmocka_unit_test(missing_sections_are_left_out_and_missing_values_null),
        cmocka_unit_test(bytes_do_not_depend_on_locale_or_sign_of_zero),
        cmocka_unit_test(paths_are_seen_from_the_report),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

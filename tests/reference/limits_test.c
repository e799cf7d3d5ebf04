/* Limits against second copies of the published tables, and against the expected results of the
 * reference jobs. */
#include <jansson.h>

#include "support/limits.h"
#include "support/table.h"

static pp_memory memory;
static pp_error error;

static int release(void **state)
{
    (void)state;
    pp_memory_free(&memory);
    return 0;
}

/* Every row of a hole table, for both fits. `scale`: mm of its unit. */
static void check_hole_table(const char *file, pp_table which, double scale)
{
    test_table t = table_read(file);
    assert_int_equal(t.rows, 10);
    for (size_t i = 0; i < t.rows; i++) {
        const double *v = &t.value[i * t.columns];
        for (int close = 0; close < 2; close++) {
            pp_job job = blank_job(&memory);
            job.rules.table = which;
            job.rules.fit = close ? PP_FIT_CLOSE : PP_FIT_STANDARD;
            job.holes.tube_diameter = v[0] * scale;
            pp_limits l = limits_of(&job, NAN, &memory);
            double size = v[close ? 3 : 1] * scale, under = v[close ? 4 : 2] * scale;
            assert_near(l.hole_nominal.value, size, 1e-12);
            assert_near(l.hole_under.value, under, 1e-12);
            assert_near(l.hole_over.value, v[5] * scale, 1e-12);
            assert_near(l.hole_over_limit.value, v[6] * scale, 1e-12);
            assert_near(l.diameter_lower, size - under, 1e-12);
            assert_near(l.diameter_upper, size + v[5] * scale, 1e-12);
            assert_near(l.diameter_upper_limit, size + v[6] * scale, 1e-12);
        }
    }
    free(t.value);
}

static void hole_tables_agree_with_the_second_copy(void **state)
{
    (void)state;
    check_hole_table("data/reference/tube_holes/holes_inch.csv", PP_TABLE_INCH, 25.4);
    check_hole_table("data/reference/tube_holes/holes_metric.csv", PP_TABLE_METRIC, 1);
}

/* Every tube goes by its inch size and by its printed metric label, in both tables. */
static void a_tube_goes_by_inch_size_and_metric_label(void **state)
{
    (void)state;
    test_table inch = table_read("data/reference/tube_holes/holes_inch.csv");
    test_table metric = table_read("data/reference/tube_holes/holes_metric.csv");
    for (size_t i = 0; i < inch.rows; i++)
        for (int which = 0; which < 2; which++)
            for (int label = 0; label < 2; label++) {
                pp_job job = blank_job(&memory);
                job.rules.table = which ? PP_TABLE_METRIC : PP_TABLE_INCH;
                job.holes.tube_diameter = label ? metric.value[i * metric.columns] + 0.005
                                                : inch.value[i * inch.columns] * 25.4 - 0.005;
                double want = which ? metric.value[i * metric.columns + 1]
                                    : inch.value[i * inch.columns + 1] * 25.4;
                assert_near(limits_of(&job, NAN, &memory).hole_nominal.value, want, 1e-12);
                job.holes.tube_diameter += label ? 0.0011 : -0.0011;
                pp_limits untouched = {.count = 77};
                assert_int_equal(pp_limits_resolve(&job, NAN, &memory, &untouched, &error),
                                 PP_EINPUT);
                assert_non_null(strstr(error.message, "give [rules] hole_nominal, hole_under"));
                assert_int_equal(untouched.count, 77);
            }
    free(inch.value);
    free(metric.value);
}

/* Minimum column, and the formula at every printed thickness: max(minimum, formula). */
static void check_ligament_table(const char *file, pp_table which, double scale,
                                 double minimum_tolerance, double tolerance)
{
    test_table t = table_read(file);
    assert_int_equal(t.rows, 24);
    static const double inches[] = {1, 1.5, 2, 2.5, 3, 4, 5, 6};
    for (size_t i = 0; i < t.rows; i++) {
        const double *v = &t.value[i * t.columns];
        for (size_t k = 0; k < 8; k++) {
            pp_job job = blank_job(&memory);
            job.rules.table = which;
            job.plate.thickness = inches[k] * 25.4;
            job.holes.tube_diameter = v[0] * scale;
            pp_limits l = limits_of(&job, v[1] * scale, &memory);
            assert_near(l.hole_nominal.value, v[2] * scale, 1e-12);
            assert_near(l.ligament_nominal, (v[1] - v[2]) * scale, 1e-12);
            assert_near(l.ligament_minimum.value, v[3] * scale, minimum_tolerance);
            double want = v[4 + k] > v[3] ? v[4 + k] : v[3];
            assert_near(l.ligament_standard.value, want * scale, tolerance);
        }
    }
    free(t.value);
}

static void ligament_tables_agree_with_the_second_copy(void **state)
{
    (void)state;
    /* printed to 0.001 in; pitches are exact */
    check_ligament_table("data/reference/tube_holes/ligaments_inch.csv", PP_TABLE_INCH, 25.4, 1e-12,
                         0.000501 * 25.4);
    /* twice rounded (0.0005 in, then 0.005 mm), beside holes and pitches rounded to 0.01 mm */
    check_ligament_table("data/reference/tube_holes/ligaments_metric.csv", PP_TABLE_METRIC, 1,
                         1e-12, 0.0127 + 0.005 + 0.005 + 0.005);
}

static void drift_allowance_agrees_with_the_second_copy(void **state)
{
    (void)state;
    test_table t = table_read("data/reference/tube_holes/drift_inch.csv");
    static const double inches[] = {1, 1.5, 2, 2.5, 3, 4, 5, 6};
    for (size_t i = 0; i < t.rows; i++)
        for (size_t k = 0; k < 8; k++) {
            pp_job job = blank_job(&memory);
            job.rules.table = PP_TABLE_INCH;
            job.plate.thickness = inches[k] * 25.4;
            job.holes.tube_diameter = t.value[i * t.columns] * 25.4;
            pp_limits l = limits_of(&job, NAN, &memory);
            assert_near(l.drift_allowance / 25.4, t.value[i * t.columns + 1 + k], 0.0000501);
        }
    free(t.value);
}

static void gbt_formula_agrees_with_the_second_copy(void **state)
{
    (void)state;
    test_table t = table_read("data/reference/tube_holes/bridges_gbt.csv");
    static const double thickness[] = {20, 40, 60, 80, 100, 120, 140, 160, 200};
    for (size_t i = 0; i < t.rows; i++)
        for (size_t k = 0; k < 9; k++) {
            const double *v = &t.value[i * t.columns];
            pp_job job = blank_job(&memory);
            job.rules.set = "gbt-151-style";
            job.rules.fit = PP_FIT_CLOSE;
            job.plate.thickness = thickness[k];
            job.holes.tube_diameter = v[0];
            pp_limits l = limits_of(&job, v[2], &memory);
            assert_near(l.hole_nominal.value, v[1], 1e-12);
            assert_near(l.ligament_minimum.value, v[4], 1e-12);
            assert_near(l.ligament_standard.value, v[5 + k] > v[4] ? v[5 + k] : v[4], 0.000501);
            assert_non_null(strstr(l.ligament_standard.source, "from memory"));
            assert_near(l.hole_over_limit.value, l.hole_over.value, 0);
        }
    free(t.value);
}

/* Worked example: 0.625 in tube, span over 36 in: 0.6250 + 0.0156 + 0.0100 = 0.6506 in. */
static void baffle_holes_follow_the_span_rule(void **state)
{
    (void)state;
    static const struct {
        double tube, span, nominal; /* in */
    } cases[] = {
        {0.625, 36.1, 0.640625}, {0.750, 36, 0.78125}, {0.750, 12, 0.78125},
        {1.25, 40, 1.265625},    {1.5, 40, 1.53125},   {1.5, 20, 1.53125},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        pp_job job = blank_job(&memory);
        job.rules.part = PP_BAFFLE;
        job.rules.table = PP_TABLE_INCH;
        job.holes.tube_diameter = cases[i].tube * 25.4;
        job.rules.unsupported_span = cases[i].span * 25.4;
        pp_limits l = limits_of(&job, cases[i].tube * 25.4 * 1.25, &memory);
        assert_near(l.diameter_lower, cases[i].nominal * 25.4, 1e-12);
        assert_near(l.diameter_upper, (cases[i].nominal + 0.010) * 25.4, 1e-12);
        assert_near(l.diameter_upper_limit, (cases[i].nominal + 0.015) * 25.4, 1e-12);
        assert_true(isnan(l.ligament_standard.value) && isnan(l.ligament_minimum.value));
        assert_true(isnan(l.ligament_nominal) && isnan(l.drift_allowance));

        job.rules.table = PP_TABLE_METRIC; /* the metric table: never wider than the inch one */
        l = limits_of(&job, NAN, &memory);
        double clearance = cases[i].nominal - cases[i].tube > 0.02 ? 0.8 : 0.4;
        assert_near(l.hole_nominal.value, cases[i].tube * 25.4 + clearance, 1e-12);
        assert_near(l.hole_under.value, 0, 0);
        assert_near(l.hole_over.value, 0.25, 1e-15);
        assert_near(l.hole_over_limit.value, 0.38, 1e-15);
    }
    pp_job job = blank_job(&memory);
    job.rules.part = PP_BAFFLE;
    job.holes.tube_diameter = 19.05;
    pp_limits l;
    assert_int_equal(pp_limits_resolve(&job, NAN, &memory, &l, &error), PP_EINPUT);
    assert_non_null(strstr(error.message, "unsupported_span"));
}

static double real_of(json_t *section, const char *key)
{
    json_t *value = json_object_get(section, key);
    return json_is_number(value) ? json_number_value(value) : NAN;
}

static void same_or_absent(double got, double want)
{
    if (!isnan(want)) assert_near(got, want, 1e-6);
}

static void reference_jobs_have_their_expected_limits(void **state)
{
    (void)state;
    static const char *const names[] = {
        "both_faces",     "faces_aligned", "guarded", "inch_repeats",
        "others_plugged", "rework",        "sample",  "thin",
        "tri_bestfit",    "tri_clean",     "warm"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        char path[256];
        snprintf(path, sizeof path, "data/reference/jobs/%s/job.ini", names[i]);
        pp_job job;
        assert_ok(pp_job_read(path, &memory, &job, &error), &error);
        snprintf(path, sizeof path, "data/reference/jobs/%s/expected.json", names[i]);
        json_t *expected = json_load_file(path, 0, NULL);
        assert_non_null(expected);
        /* tri_bestfit leaves the pitch to its pattern, which has 32 mm */
        pp_limits l = limits_of(&job, pp_given(job.holes.pitch) ? job.holes.pitch : 32, &memory);
        json_t *holes = json_object_get(expected, "holes");
        json_t *diameter = json_object_get(holes, "diameter");
        json_t *ligament = json_object_get(holes, "ligament");
        json_t *position = json_object_get(holes, "position");
        json_t *drift = json_object_get(holes, "drift");
        assert_near(l.hole_nominal.value, real_of(diameter, "nominal"), 1e-6);
        assert_near(l.diameter_lower, real_of(diameter, "lower"), 1e-6);
        assert_near(l.diameter_upper, real_of(diameter, "upper"), 1e-6);
        assert_near(l.diameter_upper_limit, real_of(diameter, "upper_limit"), 1e-6);
        assert_near(l.ligament_nominal, real_of(ligament, "nominal"), 1e-6);
        assert_near(l.ligament_standard.value, real_of(ligament, "standard_limit"), 1e-6);
        assert_near(l.ligament_minimum.value, real_of(ligament, "minimum_limit"), 1e-6);
        assert_near(l.position_limit.value, real_of(position, "limit"), 1e-6);
        same_or_absent(l.drift_allowance, real_of(drift, "allowance"));
        same_or_absent(l.drift_limit.value, real_of(drift, "limit"));
        assert_memory_equal(l.ligament_minimum.source, "job file, line ", 15);
        json_decref(expected);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hole_tables_agree_with_the_second_copy),
        cmocka_unit_test(a_tube_goes_by_inch_size_and_metric_label),
        cmocka_unit_test(ligament_tables_agree_with_the_second_copy),
        cmocka_unit_test(drift_allowance_agrees_with_the_second_copy),
        cmocka_unit_test(gbt_formula_agrees_with_the_second_copy),
        cmocka_unit_test(baffle_holes_follow_the_span_rule),
        cmocka_unit_test(reference_jobs_have_their_expected_limits),
    };
    return cmocka_run_group_tests(tests, NULL, release);
}

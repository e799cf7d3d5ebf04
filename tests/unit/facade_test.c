/* The installed interface: answers that can be told by hand, and every refusal leaves the outputs.
 */
#include "support/check.h"
#include "support/place.h"

#include <stdlib.h>

#include "plateproof/plateproof.h"

/* ---- planes ---- */

/* The corners of a square of 200 mm at 0.25, -0.25, 0.25, -0.25 and its centre: the plane is z = 0,
 * all four corners touch the zone. */
static void planes_of_a_twisted_square(void **state)
{
    (void)state;
    const double x[] = {-100, 100, 100, -100, 0}, y[] = {-100, -100, 100, 100, 0};
    const double z[] = {0.25, -0.25, 0.25, -0.25, 0};
    pp_error error;
    pp_plane_fit fit;
    assert_ok(pp_fit_planes(5, x, y, z, &fit, &error), &error);
    assert_near(fit.flatness, 0.5, 1e-12);
    assert_near(fit.peak, 0.25, 1e-12);
    assert_near(fit.valley, 0.25, 1e-12);
    assert_near(fit.rms, 0.25 * sqrt(4.0 / 5), 1e-12); /* root mean square over five points */
    assert_near(fit.normal[2], 1, 1e-12);
    assert_near(fit.zone_flatness, 0.5, 1e-12);
    assert_near(fit.zone_normal[2], 1, 1e-12);
    assert_true(fit.zone_exact);
}

static void planes_are_refused(void **state)
{
    (void)state;
    const double x[] = {0, 10, 20, 30}, y[] = {0, 10, 20, NAN}, z[] = {0, 1, 0, INFINITY};
    pp_error error;
    pp_plane_fit fit, before;
    memset(&fit, 0x5a, sizeof fit);
    before = fit;
    assert_int_equal(pp_fit_planes(2, x, y, z, &fit, &error), PP_EINPUT);
    assert_non_null(strchr(error.message, ';'));
    assert_int_equal(pp_fit_planes(3, x, y, x, &fit, &error), PP_EINPUT); /* one line */
    assert_non_null(strstr(error.message, "one line"));
    assert_int_equal(pp_fit_planes(4, x, y, z, &fit, &error), PP_EINPUT);
    assert_string_equal(error.message, "y[3] is not a finite number; leave it out");
    assert_int_equal(pp_fit_planes(4, x, x, z, &fit, &error), PP_EINPUT);
    assert_string_equal(error.message, "z[3] is not a finite number; leave it out");
    assert_int_equal(pp_fit_planes(2, x, y, z, &fit, NULL), PP_EINPUT);
    assert_memory_equal(&fit, &before, sizeof fit);
}

/* ---- ligaments ---- */

/* A row of four holes of 25.5, 25.5, 26.5 and 28.75 mm, 32 mm apart, as drilled where drawn:
 * ligaments 32 - 25.5 = 6.5, 32 - 26 = 6, 32 - 27.625 = 4.375. */
static const pp_drilled_hole ROW[] = {
    {0, 0, 0, 0, 25.5}, {32, 0, 32, 0, 25.5}, {64, 0, 64, 0, 26.5}, {96, 0, 96, 0, 28.75}};

static void ligaments_of_a_row(void **state)
{
    (void)state;
    pp_error error;
    pp_ligament_count count;
    pp_ligament_rule rule = {.standard = 5.75, .minimum = 4.5, .remainder_share = 0.5};
    assert_ok(pp_judge_ligaments(4, ROW, &rule, &count, &error), &error);
    assert_int_equal(count.pairs, 3);
    assert_int_equal(count.standard, 2);
    assert_int_equal(count.thin, 1);
    assert_int_equal(count.in_remainder, 0);
    assert_near(count.smallest, 4.375, 1e-12);
    assert_near(count.mean, (6.5 + 6 + 4.375) / 3, 1e-12);
    assert_int_equal(count.smallest_a, 2);
    assert_int_equal(count.smallest_b, 3);
    assert_int_equal(count.outcome, PP_OUTCOME_DOES_NOT_CONFORM);

    rule.minimum = 4.375; /* limits are inclusive: now in the remainder, of which half may be */
    rule.pitch = 32;
    assert_ok(pp_judge_ligaments(4, ROW, &rule, &count, &error), &error);
    assert_int_equal(count.in_remainder, 1);
    assert_int_equal(count.remainder_allowed, 1); /* half of three pairs, down */
    assert_int_equal(count.outcome, PP_OUTCOME_CONFORMS);
}

static void refused(size_t count, const pp_drilled_hole *holes, pp_ligament_rule rule,
                    const char *words)
{
    pp_error error;
    pp_ligament_count result, before;
    memset(&result, 0x5a, sizeof result);
    before = result;
    assert_int_equal(pp_judge_ligaments(count, holes, &rule, &result, &error), PP_EINPUT);
    if (!strstr(error.message, words) || !strchr(error.message, ';'))
        fail_msg("said: %s", error.message);
    assert_memory_equal(&result, &before, sizeof result);
}

static void ligaments_are_refused(void **state)
{
    (void)state;
    const pp_ligament_rule rule = {.standard = 5.75, .minimum = 4.5, .remainder_share = 0.04};
    pp_drilled_hole holes[4];
    memcpy(holes, ROW, sizeof holes);
    refused(0, holes, rule, "no hole was given");
    holes[2].diameter = 0;
    refused(4, holes, rule, "diameter of hole 2");
    holes[2].diameter = NAN;
    refused(4, holes, rule, "not a finite number");
    memcpy(holes, ROW, sizeof holes);
    holes[3].nominal_x = 64.0000005; /* within 1 um of hole 2 */
    refused(4, holes, rule, "same nominal centre");
    refused(4, ROW, (pp_ligament_rule){.standard = 4, .minimum = 4.5}, "standard not below");
    refused(4, ROW, (pp_ligament_rule){.standard = 4}, "minimum above zero");
    refused(4, ROW, (pp_ligament_rule){.pitch = -1, .standard = 4, .minimum = 3},
            "pitch not below");
    refused(4, ROW, (pp_ligament_rule){.standard = 4, .minimum = 3, .remainder_share = 4}, "share");
    refused(4, ROW, (pp_ligament_rule){.standard = INFINITY, .minimum = 3}, "finite");
}

/* ---- whole jobs ---- */

static void a_job_as_the_program_would(void **state)
{
    (void)state;
    pp_error error;
    pp_outcome outcome = PP_OUTCOME_NOT_JUDGED;
    char *json = NULL;
    const char *job = PP_SOURCE_DIR "/tests/cli/files/small.ini";
    assert_ok(pp_inspect_job(job, NULL, 2, &outcome, &json, &error), &error);
    assert_int_equal(outcome, PP_OUTCOME_CONFORMS);
    assert_non_null(strstr(json, "\"format\": \"plateproof-results\""));
    assert_non_null(strstr(json, "\"verdict\": \"conforms\""));
    char *again = NULL;
    assert_ok(pp_inspect_job(job, NULL, 1, &outcome, &again, &error), &error);
    assert_string_equal(json, again);
    pp_release(json);
    pp_release(again);
    pp_release(NULL);
}

static void a_job_is_refused(void **state)
{
    (void)state;
    pp_error error;
    pp_outcome outcome = PP_OUTCOME_NOT_PROVEN;
    char untouched, *json = &untouched;
    const char *job = PP_SOURCE_DIR "/tests/cli/files/small.ini";
    assert_int_equal(pp_inspect_job(job, NULL, 0, &outcome, &json, &error), PP_EINPUT);
    assert_int_equal(pp_inspect_job(job, NULL, 257, &outcome, &json, &error), PP_EINPUT);
    assert_int_equal(pp_inspect_job("no/such.ini", NULL, 1, &outcome, &json, &error), PP_EIO);
    job = PP_SOURCE_DIR "/tests/corpus/job/030-thickness-0.ini";
    assert_int_equal(pp_inspect_job(job, NULL, 1, &outcome, &json, &error), PP_EINPUT);
    assert_true(error.line > 0);
    job = PP_SOURCE_DIR "/tests/cli/files/small.ini";
    assert_int_equal(pp_inspect_job(job, "/proc/no/report", 1, &outcome, &json, &error), PP_EIO);
    assert_int_equal(outcome, PP_OUTCOME_NOT_PROVEN);
    assert_ptr_equal(json, &untouched);
}

static void a_report_is_written(void **state)
{
    (void)state;
    pp_error error;
    pp_outcome outcome;
    test_place place = test_place_make();
    const char *report = test_path(&place, "report");
    const char *job = PP_SOURCE_DIR "/tests/cli/files/survey.ini";
    assert_ok(pp_inspect_job(job, report, 1, &outcome, NULL, &error), &error);
    char *json = test_read(test_path(&place, "report/results.json"));
    assert_non_null(json);
    free(json);
    test_place_remove(&place);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(planes_of_a_twisted_square), cmocka_unit_test(planes_are_refused),
        cmocka_unit_test(ligaments_of_a_row),         cmocka_unit_test(ligaments_are_refused),
        cmocka_unit_test(a_job_as_the_program_would), cmocka_unit_test(a_job_is_refused),
        cmocka_unit_test(a_report_is_written),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

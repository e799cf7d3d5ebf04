#include "base/constants.h"
#include "support/check.h"
#include "support/random.h"
#include "support/scratch_file.h"

#include "input/lists/survey.h"

static pp_job make_job(void)
{
    pp_job job = {.path = "plate.ini"};
    job.plate.outline = PP_OUTLINE_DISC;
    job.plate.diameter = 3200;
    return job;
}

static pp_status read_bytes(pp_job *job, const char *bytes, size_t length, int threads,
                            pp_memory *memory, pp_survey *survey, pp_error *error)
{
    scratch_file file;
    scratch_file_write(&file, bytes, length);
    job->survey.file = file.named;
    pp_status status = pp_survey_read(job, &job->survey.file, threads, memory, survey, error);
    scratch_file_remove(&file);
    return status;
}

static void points_come_in_millimetre_with_their_frame(void **state)
{
    (void)state;
    pp_job job = make_job();
    job.survey.length_unit = PP_INCH;
    job.survey.up = PP_UP_MINUS_X;
    job.survey.angle_deg = -90;
    job.survey.origin_x = 5.5;
    pp_memory memory = {0};
    pp_survey s;
    pp_error error = {0};
    static const char TEXT[] = "z,x,y_mm\n1.5,2,30\n# note\n1.25,2.385,-17.5\n-3,1,0\n";
    assert_ok(read_bytes(&job, TEXT, strlen(TEXT), 2, &memory, &s, &error), &error);
    assert_int_equal(s.count, 3);
    assert_near(s.x[1], 2.385 * 25.4, 0);
    assert_near(s.y[1], -17.5, 0);
    assert_near(s.z[1], 1.25 * 25.4, 0);
    assert_string_equal(s.file, "points.csv");
    /* -x up: plate axes are (y, -z, -x); turned by -90 degrees (x, y) becomes (y, -x) */
    double x, y, z;
    pp_survey_to_plate(&s.frame, 3, 4, 7, &x, &y, &z);
    assert_near(x, -7 + 5.5, 0);
    assert_near(y, -4, 0);
    assert_near(z, -3, 0);
    pp_memory_free(&memory);
}

static void turns_are_exact_for_quarters_and_close_between(void **state)
{
    (void)state;
    for (int degrees = -720; degrees <= 720; degrees += 15) {
        pp_job job = {.survey.angle_deg = degrees};
        pp_survey_frame f = pp_survey_frame_of(&job, job.survey.angle_deg);
        double angle = degrees * PP_PI / 180;
        bool quarter = degrees % 90 == 0;
        assert_near(f.cosine, quarter ? nearbyint(cos(angle)) : cos(angle), quarter ? 0 : 3e-15);
        assert_near(f.sine, quarter ? nearbyint(sin(angle)) : sin(angle), quarter ? 0 : 3e-15);
    }
}

/* Enough rows for several parts, with a comment and an exponent inside, against strtod. */
static void many_rows_read_alike_on_any_number_of_threads(void **state)
{
    (void)state;
    enum { COUNT = 450000 };
    test_random random = {2385};
    char *text = malloc((size_t)COUNT * 40), *at = text;
    double *want = malloc(3 * COUNT * sizeof *want);
    assert_true(text && want);
    at = stpcpy(at, "x,y,z\n");
    for (int i = 0; i < COUNT; i++) {
        double x = random_between(&random, -1500, 1500), y = random_between(&random, -500, 500),
               z = random_between(&random, -1, 1);
        char row[64];
        sprintf(row, i % 1000 ? "%.4f,%.3f,%.*f" : "%.17g,%.3e,%.*f", x, y, i % 12, z);
        char *rest = row;
        for (int k = 0; k < 3; k++, rest++) want[3 * i + k] = strtod(rest, &rest);
        at += sprintf(at, "%s\n%s", row, i % 77777 ? "" : "# again\n\n");
    }
    for (int threads = 1; threads <= 3; threads++) {
        pp_job job = make_job();
        pp_memory memory = {0};
        pp_survey s;
        pp_error error = {0};
        assert_ok(read_bytes(&job, text, (size_t)(at - text), threads, &memory, &s, &error),
                  &error);
        assert_int_equal(s.count, COUNT);
        for (int i = 0; i < COUNT; i++)
            if (s.x[i] != want[3 * i] || s.y[i] != want[3 * i + 1] || s.z[i] != want[3 * i + 2])
                fail_msg("row %d", i + 1);
        pp_memory_free(&memory);
    }
    free(want);
    free(text);
}

/* ---- refusals ---- */

static void rows_excluded_are_gone_and_the_others_keep_their_numbers(void **state)
{
    (void)state;
    static const char TEXT[] = "x,y,z\n0,0,1\n100,0,2\n0,100,900\n100,100,4\n50,50,5\n20,80,6\n";
    pp_job job = make_job();
    pp_memory memory = {0};
    pp_survey s;
    pp_error error = {0};
    assert_ok(read_bytes(&job, TEXT, strlen(TEXT), 1, &memory, &s, &error), &error);
    assert_int_equal(pp_survey_row(&s, 4), 5);
    job.survey.exclude = " 3 , 5-6";
    assert_ok(read_bytes(&job, TEXT, strlen(TEXT), 1, &memory, &s, &error), &error);
    assert_int_equal(s.count, 3);
    assert_near(s.z[2], 4, 0);
    assert_int_equal(pp_survey_row(&s, 2), 4);
    static const char *const wrong[] = {"0",  "7",  "3-",  "5-3",  "x",
                                        "-2", "3,", "3;4", "1-99", "+1"};
    for (size_t k = 0; k < sizeof wrong / sizeof *wrong; k++) {
        job.survey.exclude = wrong[k];
        assert_int_equal(read_bytes(&job, TEXT, strlen(TEXT), 1, &memory, &s, &error), PP_EINPUT);
        assert_non_null(strstr(error.message, wrong[k]));
        assert_non_null(strstr(error.message, "data rows"));
    }
    job.survey.exclude = "1-4";
    assert_int_equal(read_bytes(&job, TEXT, strlen(TEXT), 1, &memory, &s, &error), PP_EINPUT);
    assert_non_null(strstr(error.message, "at least 3"));
    pp_memory_free(&memory);
}

static void expect(pp_job job, const char *text, const char *want)
{
    char got[PP_ERROR_TEXT_MAX + 64] = "read";
    pp_memory memory = {0};
    pp_survey s = {.count = 4711};
    pp_error error = {0};
    pp_status status = read_bytes(&job, text, strlen(text), 2, &memory, &s, &error);
    if (status != PP_OK) {
        snprintf(got, sizeof got, "%ld:%ld: %s", error.line, error.column, error.message);
        assert_int_equal(status, PP_EINPUT);
        assert_int_equal(s.count, 4711);
    }
    if (strcmp(got, want) != 0) fail_msg("of:\n%s\ngot:  %s\nwant: %s", text, got, want);
    pp_memory_free(&memory);
}

static void too_few_points_are_refused(void **state)
{
    (void)state;
    expect(make_job(), "x,y,z\n", "0:0: 0 survey points; a plane needs at least 3");
    expect(make_job(), "1,2,3\n", "0:0: 1 survey point; a plane needs at least 3");
    expect(make_job(), "0,0,0\n5,0,0\n\n", "0:0: 2 survey points; a plane needs at least 3");
}

#define TO_THE_SIDE "a plane needs points to the side of it, survey the plate across too"

static void points_in_one_line_are_refused(void **state)
{
    (void)state;
    expect(make_job(), "1,2,3\n1,2,3\n1,2,3\n1,2,3\n",
           "0:0: all 4 points lie in one place; a plane needs points spread over the plate");
    /* along (3, 4, 0) through (1e6, 1e6), as a job without outline may have it */
    pp_job far = {.path = "plate.ini"};
    expect(far, "1000000,1000000,3\n1000003,1000004,3\n1000300,1000400,3\n1000060,1000080,3\n",
           "0:0: all 4 points lie in one line (within 0.000 mm over 500.000 mm); " TO_THE_SIDE);
    /* 0.4 mm to the side of a line of 500 mm: less than a thousandth; 0.6 mm is more */
    expect(make_job(), "0,0,0\n300,400,0\n150.32,199.76,0\n",
           "0:0: all 3 points lie in one line (within 0.400 mm over 500.000 mm); " TO_THE_SIDE);
    expect(make_job(), "0,0,0\n300,400,0\n150.48,199.64,0\n", "read");
}

/* One profile over a plate that bows by 6 mm in 1000: the points do have a plane, the upright one.
 */
static void one_profile_is_a_line_in_plan(void **state)
{
    (void)state;
    expect(make_job(), "-500,7,0\n-250,7,4.5\n0,7,6\n250,7,4.5\n500,7,0\n",
           "0:0: all 5 points lie in one line (within 0.000 mm over 1000.000 mm); " TO_THE_SIDE);
}

static void plates_surveyed_standing_are_read(void **state)
{
    (void)state;
    pp_job job = {.path = "plate.ini"};
    expect(job, "0,7,0\n500,7.01,0\n0,7,300\n500,7.02,300\n250,7,150\n", "read");
    expect(job, "7,0,0\n7,500,0\n7,0,300\n7.1,500,300\n7,250,150\n", "read");
    expect(job, "1e6,1e6,1e6\n1000001,1e6,1e6\n1e6,1000001,1e6\n", "read");
    expect(job, "0,0,0\n3000,0,0.2\n0,12,0\n3000,12,0.1\n", "read"); /* a strip */
}

/* Pearson's ten points (1901), drawn out along z: plate-like, however steep. */
static void pearsons_points_drawn_out_are_read(void **state)
{
    (void)state;
    static const double X[] = {0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4};
    static const double Y[] = {5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5};
    char text[2000], *at = text;
    for (int i = 0; i < 10; i++)
        for (int k = 0; k < 2; k++) at += sprintf(at, "%g,%g,%d\n", X[i], Y[i], 10 * k);
    pp_job job = {.path = "plate.ini"};
    expect(job, text, "read");
}

static void points_far_off_the_plate_are_refused(void **state)
{
    (void)state;
#define UNIT " is the unit wrong? write length_unit in the job file or the unit in the header"
    pp_job job = make_job();
    /* half the largest dimension beyond the rim of the 3200 mm disc: 3200 mm from the centre */
    expect(job, "x,y,z\n0,0,0\n1600,0,0\n\n# c\n0,3200,0\n-1000,5,0\n", "read");
    expect(job, "x,y,z\n0,0,0\n1600,0,0\n\n# c\n0,3200.01,0\n-1000,5,0\n",
           "6:1: the point at x = 0 mm, y = 3200.01 mm on the plate lies far beyond its outline "
           "(diameter 3200 mm);" UNIT);
    /* inch taken for millimetre: the plate frame counts, not the survey's */
    job.survey.up = PP_UP_X;
    job.survey.origin_x = 1000;
    expect(job, "z,x_in,y\n0,0,150\n1,0,0\n0,0,0\n", "read");
    expect(job, "z,x,y_in\n0,0,150\n1,0,0\n0,0,0\n",
           "2:2: the point at x = 4810 mm, y = 0 mm on the plate lies far beyond its outline "
           "(diameter 3200 mm);" UNIT);
    job = make_job();
    job.plate.outline = PP_OUTLINE_RECTANGLE;
    job.plate.width = 2400;
    job.plate.height = 1200;
    job.plate.centre_x = 100;
    expect(job, "2500,0,0\n0,1800,0\n0,0,0\n", "read");
    expect(job, "0,0,0\n2500.1,0,0\n0,1800,0\n",
           "2:1: the point at x = 2500.1 mm, y = 0 mm on the plate lies far beyond its outline "
           "(width 2400 mm, height 1200 mm);" UNIT);
}

static void a_wrong_row_is_named(void **state)
{
    (void)state;
    expect(make_job(), "x,y,z\n0,0,0\n5,0,0\n5,5,zero\n",
           "4:3: 'zero' in column z is not a finite number; correct the cell");
    expect(
        make_job(), "x,y\n0,0\n",
        "1:0: the survey has no column z (its header: x, y); it needs x, y and z; what other words "
        "mean can be said in the job file: X-Ist:x under measured_columns, columns of [survey] "
        "and so on");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(points_come_in_millimetre_with_their_frame),
        cmocka_unit_test(turns_are_exact_for_quarters_and_close_between),
        cmocka_unit_test(many_rows_read_alike_on_any_number_of_threads),
        cmocka_unit_test(rows_excluded_are_gone_and_the_others_keep_their_numbers),
        cmocka_unit_test(too_few_points_are_refused),
        cmocka_unit_test(points_in_one_line_are_refused),
        cmocka_unit_test(one_profile_is_a_line_in_plan),
        cmocka_unit_test(plates_surveyed_standing_are_read),
        cmocka_unit_test(pearsons_points_drawn_out_are_read),
        cmocka_unit_test(points_far_off_the_plate_are_refused),
        cmocka_unit_test(a_wrong_row_is_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* Pitch over several steps: which pairs, what value, and how it is judged. */
#include "base/constants.h"
#include "report/tables/csvout.h"
#include "support/seven_holes.h"

/* E lies 0.4 too far out; the whole pattern lies elsewhere and turned by 90 degrees, which moves no
 * distance. */
#define TURNED                                                                                     \
    "hole,x,y,diameter\nC,100,50,25.7\nE,100,82.4,25.7\nNE,72.287187,66,25.7\n"                    \
    "NW,72.287187,34,25.7\nW,100,18,25.7\nSW,127.712813,34,25.7\nSE,127.712813,66,25.7\n"

static void every_row_of_two_steps_is_a_pair(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB_HEAD JOB_HOLES "align = best-fit\npitch_steps = 2\n"
                                                     "pitch_error_limit = 0.3\n[rules]\n" SIZES,
                                  SEVEN, TURNED, NULL});
    const pp_pair_list *list = &run.measures.pitch_errors;
    const pp_pair_fold *fold = &run.judgement.pair[PP_PITCH_ERROR];
    assert_int_equal(list->count, 3); /* through C: E-W, NE-SW, NW-SE */
    assert_near(fold->largest, 0.4, 1e-9);
    assert_int_equal(fold->a, named(&run, "E"));
    assert_int_equal(fold->b, named(&run, "W"));
    assert_near(fold->mean, 0.4 / 3, 1e-6);
    assert_int_equal(section(&run, PP_PITCH_ERROR), PP_DOES_NOT_CONFORM);
    assert_int_equal(run.judgement.section[PP_PITCH_ERROR].failed, 1);
    pp_results results = {.measures = &run.measures, .judgement = &run.judgement};
    pp_text text = {0};
    pp_sink sink = pp_sink_text(&text);
    pp_error error = {0};
    assert_int_equal(pp_csv_rows(&results, PP_CSV_PITCH_ERRORS), 3);
    assert_ok(pp_csv_write(&results, PP_CSV_PITCH_ERRORS, 1, &sink, &error), &error);
    assert_non_null(strstr(text.data, "\nE,W,entry,0.4"));
    assert_non_null(strstr(text.data, ",,0.3,out\nNE,SW,entry,"));
    pp_text_free(&text);
    pp_memory_free(&run.memory);
}

/* Twelve neighbours: E is 0.4 off C, and by the cosine of 60 degrees off NE and SE. A limit at the
 * value itself is kept. */
static void one_step_is_the_pitch_itself(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB_HEAD JOB_HOLES
                                  "align = best-fit\npitch_error_limit = 0.4\n[rules]\n" SIZES,
                                  SEVEN, TURNED, NULL});
    assert_int_equal(run.measures.pitch_errors.count, 12);
    assert_near(run.judgement.pair[PP_PITCH_ERROR].largest, 0.4, 1e-9);
    assert_near(finding(&run, PP_PITCH_ERROR, "E")->value, hypot(16.4, 27.712813) - 32, 1e-6);
    assert_int_equal(section(&run, PP_PITCH_ERROR), PP_CONFORMS);
    pp_memory_free(&run.memory);
}

/* u = sqrt(2) 0.02/2 = 0.0141: 0.4 is neither proven within 0.41 nor beyond it. */
static void guarded_needs_proof_and_uncertainty(void **state)
{
    (void)state;
#define GUARDED_PITCH                                                                              \
    JOB_HEAD JOB_HOLES "align = best-fit\npitch_steps = 2\npitch_error_limit = 0.41\n"
    holes_run run;
    run_texts(&run, (holes_texts){GUARDED_PITCH "uncertainty_position = 0.02\n"
                                                "uncertainty_diameter = 0.01\n[rules]\n"
                                                "decision = guarded\n" SIZES,
                                  SEVEN, TURNED, NULL});
    assert_near(run.judgement.section[PP_PITCH_ERROR].u, sqrt(2) * 0.01, 1e-12);
    assert_int_equal(section(&run, PP_PITCH_ERROR), PP_NOT_PROVEN);
    pp_memory_free(&run.memory);
    pp_error error = {0};
    assert_int_equal(
        holes_run_texts(&run,
                        (holes_texts){GUARDED_PITCH "uncertainty_diameter = 0.01\n"
                                                    "[rules]\ndecision = guarded\n" SIZES,
                                      SEVEN, TURNED, NULL},
                        1, &error),
        PP_EINPUT);
    assert_non_null(strstr(error.message, "uncertainty_position"));
    pp_memory_free(&run.memory);
}

/* A plugged hole has no pitch; a hole not measured leaves the section not proven. */
static void a_plugged_hole_has_no_pitch(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run,
              (holes_texts){JOB_HEAD JOB_HOLES "coverage = every-hole\npitch_steps = 2\n"
                                               "pitch_error_limit = 0.3\n[rules]\n" SIZES,
                            SEVEN,
                            "hole,x,y,diameter,disposition\nC,0,0,25.7,\nE,32.4,0,25.7,plugged\n"
                            "NE,16,27.71,25.7,\nNW,-16,27.71,25.7,\nW,-32,0,25.7,\n"
                            "SW,-16,-27.71,25.7,\n",
                            NULL});
    assert_int_equal(run.measures.pitch_errors.count, 1); /* NE-SW */
    assert_near(run.judgement.pair[PP_PITCH_ERROR].largest, 2 * 0.002813 * cos(PP_PI / 6), 1e-5);
    assert_int_equal(section(&run, PP_PITCH_ERROR), PP_NOT_PROVEN);
    pp_memory_free(&run.memory);
}

/* Plugged at the far end of a row: W comes after E, and is none of its pairs. */
static void no_row_ends_at_a_plugged_hole(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB_HEAD JOB_HOLES "align = best-fit\npitch_steps = 2\n"
                                                     "pitch_error_limit = 0.3\n[rules]\n" SIZES,
                                  SEVEN,
                                  "hole,x,y,diameter,disposition\nC,0,0,25.7,\nE,32,0,25.7,\n"
                                  "NE,16,27.712813,25.7,\nNW,-16,27.712813,25.7,\n"
                                  "W,-32.5,0,25.7,plugged\nSW,-16,-27.712813,25.7,\n"
                                  "SE,16,-27.712813,25.7,\n",
                                  NULL});
    const pp_pair_list *list = &run.measures.pitch_errors;
    assert_int_equal(list->count, 2); /* NE-SW, NW-SE */
    for (size_t i = 0; i < list->count; i++)
        assert_int_not_equal(list->pairs[i].b, named(&run, "W"));
    assert_int_equal(section(&run, PP_PITCH_ERROR), PP_CONFORMS);
    pp_memory_free(&run.memory);
}

/* Three pitches are more than seven holes have: the limit judges nothing, and that is said. */
static void a_limit_without_pairs_is_said(void **state)
{
    (void)state;
    for (int steps = 2; steps <= 3; steps++) {
        char job[2000];
        snprintf(job, sizeof job, "%spitch_steps = %d\npitch_error_limit = 0.5\n[rules]\n%s",
                 JOB_HEAD JOB_HOLES "align = best-fit\n", steps, SIZES);
        holes_run run;
        run_texts(&run, (holes_texts){job, SEVEN, TURNED, NULL});
        assert_int_equal(cautioned(&run, "pitch_error_limit judged nothing"), steps == 3);
        assert_int_equal(section(&run, PP_PITCH_ERROR), steps == 3 ? PP_NOT_JUDGED : PP_CONFORMS);
        pp_memory_free(&run.memory);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_row_of_two_steps_is_a_pair),
        cmocka_unit_test(one_step_is_the_pitch_itself),
        cmocka_unit_test(guarded_needs_proof_and_uncertainty),
        cmocka_unit_test(a_plugged_hole_has_no_pitch),
        cmocka_unit_test(no_row_ends_at_a_plugged_hole),
        cmocka_unit_test(a_limit_without_pairs_is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

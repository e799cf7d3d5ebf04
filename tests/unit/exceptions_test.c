/* The list of exceptions, cautions and single limits: what people are told of a judgement. */
#include "answer/summary.h"
#include "support/seven_holes.h"

#define HEAD                                                                                       \
    "[plate]\noutline = disc\ndiameter = 400\nthickness = 30\n[holes]\nnominal = nominal.csv\n"    \
    "measured = measured.csv\npitch = 32\nuncertainty_diameter = 0.02\n"                           \
    "uncertainty_position = 0.01\n"
#define LIMITS "[rules]\n" SIZES
#define NOMINAL "hole,x,y\nA1,0,0\nA2,32,0\nA3,64,0\n"

static void check_exception(const holes_run *run, size_t i, const char *fault, pp_verdict verdict)
{
    assert_true(i < run->judgement.exception_count);
    const pp_finding *f = &run->judgement.findings[run->judgement.exceptions[i]];
    pp_text text = {0};
    pp_finding_fault(&text, &run->results, f);
    assert_string_equal(text.data, fault);
    assert_int_equal(pp_exception_verdict(&run->judgement, f), verdict);
    pp_text_free(&text);
}

/* 4 % of three holes, or of two ligaments, allows none in the remainder. */
static void a_broken_share_lists_its_items(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){
                        HEAD LIMITS "ligament_standard = 6.2\nligament_minimum = 3\n", NOMINAL,
                        "hole,x,y,diameter\nA1,0,0,25.7\nA2,32,0,25.77\nA3,63.9,0,25.7\n", NULL});
    assert_int_equal(run.judgement.exception_count, 2);
    check_exception(&run, 0,
                    "ligament 6.165 mm, below 6.200 mm: in the remainder, of which there are too "
                    "many",
                    PP_DOES_NOT_CONFORM);
    check_exception(&run, 1,
                    "diameter 25.770 mm, above 25.750 mm: in the remainder, of which there are too "
                    "many",
                    PP_DOES_NOT_CONFORM);
    pp_memory_free(&run.memory);
}

/* Guard band 1.645 * 0.01: 25.74 may lie above 25.75, 25.77 does; one is open, so the share is
 * broken by the other alone. */
static void an_open_item_breaks_no_share(void **state)
{
    (void)state;
    holes_run run;
    const char *job = HEAD LIMITS "decision = guarded\n";
    run_texts(&run,
              (holes_texts){job, NOMINAL,
                            "hole,x,y,diameter\nA1,0,0,25.7\nA2,32,0,25.74\nA3,64,0,25.7\n", NULL});
    assert_int_equal(run.judgement.exception_count, 1);
    check_exception(&run, 0,
                    "diameter 25.740 mm, not proven within 25.750 mm: perhaps in the remainder, of "
                    "which there may be too many",
                    PP_NOT_PROVEN);
    pp_memory_free(&run.memory);
    run_texts(&run, (holes_texts){job, NOMINAL,
                                  "hole,x,y,diameter\nA1,0,0,25.7\nA2,32,0,25.74\nA3,64,0,25.77\n",
                                  NULL});
    check_exception(&run, 0,
                    "diameter 25.770 mm, above 25.750 mm: in the remainder, of which there are too "
                    "many",
                    PP_DOES_NOT_CONFORM);
    check_exception(&run, 1,
                    "diameter 25.740 mm, not proven within 25.750 mm: perhaps in the remainder, of "
                    "which there are too many",
                    PP_NOT_PROVEN);
    pp_memory_free(&run.memory);
}

/* Cautions are for people: in the units of the job. */
static void cautions_are_in_the_units_of_the_job(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){"[job]\nunits = inch\n[holes]\nnominal = nominal.csv\n"
                                  "measured = measured.csv\npitch = 1.25\n[rules]\n"
                                  "hole_nominal = 1.012\nhole_under = 0.004\nhole_over = 0.002\n"
                                  "hole_over_limit = 0.01\nligament_standard = 0.2\n"
                                  "ligament_minimum = 0.12\n",
                                  "hole,x,y\nA1,0,0\nA2,2,0\n",
                                  "hole,x,y,diameter\nA1,0,0,25.7\nA2,2,0,25.7\n", NULL});
    assert_true(cautioned(&run, "within 1.25 pitches (pitch 1.25 in): no ligament was judged"));
    assert_true(cautioned(&run, "about 25.4 times the nominal 1.012 in: is the unit"));
    pp_memory_free(&run.memory);
}

/* What no drill does and no drawing asks for is asked about. */
static void radii_and_a_zone_wider_than_the_web_are_asked_about(void **state)
{
    (void)state;
    static const char job[] =
        "[holes]\nnominal = nominal.csv\nmeasured = measured.csv\npitch = 32\n"
        "position_limit = %s\n[rules]\nhole_nominal = 25.7\nhole_over = 0.1\n"
        "ligament_minimum = 4\n";
    for (int wide = 0; wide < 2; wide++) {
        holes_run run;
        char text[256];
        snprintf(text, sizeof text, job, wide ? "6.4" : "6.2");
        run_texts(&run, (holes_texts){text, "hole,x,y\nA1,0,0\nA2,32,0\n",
                                      wide ? "hole,x,y,diameter\nA1,0,0,25.7\nA2,32,0,25.7\n"
                                           : "hole,x,y,diameter\nA1,0,0,12.85\nA2,32,0,12.85\n",
                                      NULL});
        assert_int_equal(cautioned(&run, "wider than the metal between two holes, 6.3 mm as drawn"),
                         wide);
        assert_int_equal(cautioned(&run, "about half of the nominal 25.7 mm: are they radii?"),
                         !wide);
        pp_memory_free(&run.memory);
    }
}

/* Any limit may be given alone: one upper limit, one least ligament hold for every hole and pair;
 * what is not given is not judged. */
static void any_limit_may_be_given_alone(void **state)
{
    (void)state;
    static const struct {
        const char *rules;
        size_t under, in, remainder, out; /* of diameters 25.69, 25.7, 25.81 */
        size_t standard, thin;            /* of ligaments 6.305, 6.245 */
    } CASE[] = {
        {"ligament_minimum = 6.25\n", 0, 0, 0, 0, 1, 1},
        {"ligament_standard = 6.25\n", 0, 0, 0, 0, 1, 1},
        {"part = baffle\nligament_minimum = 6.25\n", 0, 0, 0, 0, 1, 1},
        {"hole_nominal = 25.7\n", 0, 0, 0, 0, 0, 0},
        {"hole_nominal = 25.7\nhole_over = 0.1\n", 0, 2, 0, 1, 0, 0},
        {"hole_nominal = 25.7\nhole_over_limit = 0.1\n", 0, 2, 0, 1, 0, 0},
        {"hole_nominal = 25.7\nhole_over = 0.1\nhole_over_limit = 0.2\n", 0, 2, 1, 0, 0, 0},
        {"hole_nominal = 25.7\nhole_under = 0.005\n", 1, 2, 0, 0, 0, 0},
    };
    for (size_t i = 0; i < sizeof CASE / sizeof *CASE; i++) {
        char job[600];
        snprintf(job, sizeof job, "%s[rules]\n%s", HEAD, CASE[i].rules);
        holes_run run;
        run_texts(&run, (holes_texts){job, NOMINAL,
                                      "hole,x,y,diameter\nA1,0,0,25.69\nA2,32,0,25.7\n"
                                      "A3,64,0,25.81\n",
                                      NULL});
        const pp_count_rule *d = &run.judgement.diameter_fold.rule;
        const pp_count_rule *l = &run.judgement.ligament_fold.rule;
        assert_int_equal(d->under, CASE[i].under);
        assert_int_equal(d->in, CASE[i].in);
        assert_int_equal(d->remainder, CASE[i].remainder);
        assert_int_equal(d->out, CASE[i].out);
        assert_int_equal(l->in, CASE[i].standard);
        assert_int_equal(l->remainder, 0);
        assert_int_equal(l->out, CASE[i].thin);
        pp_memory_free(&run.memory);
    }
    holes_run run;
    pp_error error = {0};
    holes_texts texts = {HEAD "[rules]\nhole_over = 0.1\n", NOMINAL,
                         "hole,x,y,diameter\nA1,0,0,25.69\n", NULL};
    assert_int_equal(holes_run_texts(&run, texts, 1, &error), PP_EINPUT);
    assert_non_null(strstr(error.message, "count from hole_nominal"));
    pp_memory_free(&run.memory);
}

static void check_uncertainty(const pp_summary *summary, const char *name, const char *words)
{
    for (size_t i = 0; i < summary->count; i++)
        if (strcmp(summary->rows[i].name, name) == 0) {
            assert_string_equal(summary->rows[i].uncertainty, words);
            return;
        }
    fail_msg("no row %s", name);
}

/* U_pos = 0.02 of one coordinate, U_d = 0.02. Of the results: position 2 U_pos, ligament
 * sqrt(2 * 0.02^2 + 0.02^2/2) = 0.0316, drift sqrt(2) U_pos = 0.0283, edge sqrt(0.02^2 + 0.02^2/4)
 * = 0.0224; the direct ligament its own. */
static void results_have_the_uncertainty_of_their_parts(void **state)
{
    (void)state;
    static const char job[] =
        "[plate]\noutline = disc\ndiameter = 400\nthickness = 30\n[holes]\nnominal = nominal.csv\n"
        "measured = measured.csv\npitch = 32\nuncertainty_diameter = 0.02\n"
        "uncertainty_position = 0.02\nuncertainty_ligament = 0.03\nposition_limit = 0.3\n";
    static const char measured[] = "hole,x,y,diameter,face\nA1,0,0,25.7,\nA2,32,0.1,25.7,\n"
                                   "A2,32,0.1,25.7,exit\nA3,63.9,0,25.7,\n";
    for (int direct = 0; direct < 2; direct++) {
        char text[600];
        snprintf(text, sizeof text, "%s%s", job, direct ? "ligaments = more.csv\n" : "");
        holes_run run;
        run_texts(&run,
                  (holes_texts){text, NOMINAL, measured, "hole_a,hole_b,ligament\nA1,A2,6.1\n"});
        pp_summary summary;
        pp_error error = {0};
        assert_ok(pp_summary_make(&run.results, &run.memory, &summary, &error), &error);
        check_uncertainty(&summary, "position", "U = 0.040 mm (k = 2)");
        check_uncertainty(&summary, "diameter", "U = 0.020 mm (k = 2)");
        check_uncertainty(&summary, "ligament",
                          direct ? "U = 0.030 mm (k = 2)" : "U = 0.032 mm (k = 2)");
        check_uncertainty(&summary, "edge ligament", "U = 0.022 mm (k = 2)");
        check_uncertainty(&summary, "drill drift", "U = 0.028 mm (k = 2)");
        pp_memory_free(&run.memory);
    }
}

/* Guard band 1.645 * 0.02 about 0.3 and 1.645 * 0.01 about 25.75: both values of A2 lie in it. */
static void what_is_not_proven_is_counted(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){HEAD "position_limit = 0.3\n" LIMITS "decision = guarded\n"
                                       "remainder_share = 50 %\n",
                                  NOMINAL,
                                  "hole,x,y,diameter\nA1,0,0,25.7\nA2,32,0.145,25.74\n"
                                  "A3,64,0,25.7\n",
                                  NULL});
    pp_summary summary;
    pp_error error = {0};
    assert_ok(pp_summary_make(&run.results, &run.memory, &summary, &error), &error);
    for (size_t i = 0; i < summary.count; i++) {
        const pp_summary_row *row = &summary.rows[i];
        bool counted = strstr(row->detail, ", 1 not proven") != NULL;
        assert_int_equal(counted, row->which == PP_POSITION || row->which == PP_DIAMETER);
    }
    pp_memory_free(&run.memory);
}

/* Datum points 100 apart, found 1 and 2 off: a shift of -1 and -2, no turn. */
static void how_the_readings_were_taken_is_said(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){"[holes]\nnominal = nominal.csv\nmeasured = measured.csv\n"
                                  "align = datum-points\ndatum_points = more.csv\n"
                                  "exit_view = turned-about-y\ntemperature = 20 C\n",
                                  NOMINAL,
                                  "hole,x,y,diameter,face\nA1,1,2.03,25.7,\nA2,33,2,25.7,\n"
                                  "A3,65,2,25.7,\nA3,-65,2,25.7,exit\n",
                                  "P1,0,0,1,2\nP2,100,0,101,2\n"});
    pp_summary summary;
    pp_error error = {0};
    assert_ok(pp_summary_make(&run.results, &run.memory, &summary, &error), &error);
    assert_string_equal(summary.taken,
                        "Hole places are aligned on datum points: turned by 0\u00b0, shifted by "
                        "-1.000 mm along x and -2.000 mm along y; root mean square distance from "
                        "nominal 0.017 mm. The exit face was measured turned about y. Measured at "
                        "20 \u00b0C and brought to 20 \u00b0C with an expansion of 11.5e-6 per K.");
    pp_memory_free(&run.memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_broken_share_lists_its_items),
        cmocka_unit_test(an_open_item_breaks_no_share),
        cmocka_unit_test(cautions_are_in_the_units_of_the_job),
        cmocka_unit_test(radii_and_a_zone_wider_than_the_web_are_asked_about),
        cmocka_unit_test(any_limit_may_be_given_alone),
        cmocka_unit_test(results_have_the_uncertainty_of_their_parts),
        cmocka_unit_test(what_is_not_proven_is_counted),
        cmocka_unit_test(how_the_readings_were_taken_is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* Judging beyond the counts: misdrilled pairs, holes of kind other, plug gauges, attribute checks,
 * edges, and what is said beside the verdict. */
#include "support/seven_holes.h"

/* --- misdrilled, others, gauges, checks ------------------------------------------------------- */

/* Half of ligament_minimum is 1.5 (half the nominal ligament 3.15): C-E at 1.4 is misdrilled, W-SW
 * at 1.6 only thin; extra X overlaps NE. */
static void a_hole_in_its_neighbour_is_misdrilled(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB "coverage = sample\n" RULES, SEVEN,
                                  "hole,x,y,diameter\nC,4.9,0,25.7\nE,32,0,25.7\nW,-32,0,25.7\n"
                                  "SW,-32,-27.3,25.7\nX,16,40,25.7\nNE,16,27.71,25.7\n",
                                  NULL});
    const pp_judgement *j = &run.judgement;
    assert_int_equal(j->misdrilled_count, 2);
    assert_string_equal(pp_bore_name(&run.measures, j->misdrilled[0].a), "C");
    assert_string_equal(pp_bore_name(&run.measures, j->misdrilled[0].b), "E");
    assert_near(j->misdrilled[0].ligament, 1.4, 1e-12);
    assert_string_equal(pp_bore_name(&run.measures, j->misdrilled[1].a), "NE");
    assert_string_equal(pp_bore_name(&run.measures, j->misdrilled[1].b), "X");
    assert_int_equal(section(&run, PP_MISDRILLED), PP_DOES_NOT_CONFORM);
    assert_int_equal(j->ligament_fold.rule.out, 2);
    /* what is wrong as a whole is listed first */
    assert_true(j->findings[j->exceptions[0]].characteristic >= PP_EXTRA_HOLE);
    pp_memory_free(&run.memory);
}

#define WITH_OTHERS                                                                                \
    "hole,x,y,kind,diameter,under,over\nC,0,0,tube,,,\nE,32,0,tube,,,\nT1,60,0,other,20,0.1,0.2\n" \
    "T2,-60,0,other,20,,\n"

static void other_holes_have_limits_of_their_own(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB "other_ligament_minimum = 5\n" RULES, WITH_OTHERS,
                                  "hole,x,y,diameter\nC,0,0,25.7\nE,32,0,25.7\nT1,60.1,0,20.15\n"
                                  "T2,-60,0,19\n",
                                  NULL});
    const pp_judgement *j = &run.judgement;
    assert_int_equal(run.measures.tube_count, 2);
    assert_int_equal(j->others_count, 2);
    assert_near(j->others[0].position, 0.2, 1e-12);
    assert_near(j->others[0].diameter, 20.15, 0);
    assert_int_equal(j->others[0].verdict, PP_CONFORMS);
    assert_int_equal(j->others[1].verdict, PP_CONFORMS); /* no size of its own to hold it to */
    assert_near(run.measures.other_ligaments[0].value, 28.1 - 10.075 - 12.85, 1e-12);
    assert_int_equal(j->verdict, PP_CONFORMS);
    assert_string_equal(j->basis, "2 of 2 holes, entry face");
    pp_memory_free(&run.memory);
    /* too large, and not measured at all */
    run_texts(&run,
              (holes_texts){JOB RULES, WITH_OTHERS,
                            "hole,x,y,diameter\nC,0,0,25.7\nE,32,0,25.7\nT1,60,0,20.25\n", NULL});
    assert_int_equal(run.judgement.others[0].verdict, PP_DOES_NOT_CONFORM);
    assert_int_equal(run.judgement.others[1].verdict, PP_NOT_PROVEN);
    assert_int_equal(section(&run, PP_DIAMETER), PP_CONFORMS); /* the tube holes' */
    assert_int_equal(run.judgement.verdict, PP_DOES_NOT_CONFORM);
    assert_int_equal(run.measures.unmeasured_count, 0);
    assert_true(cautioned(&run, "kind other was not measured (T2)"));
    pp_memory_free(&run.memory);
}

/* Plug gauges: go passes, no_go does not: in tolerance. no_go passes: in the remainder if no_go_max
 * does not, oversize if it does, not proven if it was not tried. Ligaments use the proven upper
 * bound. */
static void gauges_alone_prove_a_class(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run,
              (holes_texts){JOB "coverage = sample\n[rules]\nremainder_share = 50 %\n" SIZES WEBS,
                            SEVEN,
                            "hole,x,y,go,no_go,no_go_max\nC,0,0,yes,no,\nE,32,0,yes,yes,no\n"
                            "NE,16,27.712813,yes,yes,yes\nNW,-16,27.712813,yes,yes,\n"
                            "W,-32,0,no,no,no\n",
                            NULL});
    const pp_count_rule *rule = &run.judgement.diameter_fold.rule;
    assert_int_equal(rule->in, 1);
    assert_int_equal(rule->remainder, 1);
    assert_int_equal(rule->out, 1);
    assert_int_equal(rule->under, 1);
    assert_int_equal(rule->unclassed, 1);
    assert_int_equal(finding(&run, PP_DIAMETER, "NW")->verdict, PP_NOT_PROVEN);
    assert_int_equal(run.judgement.section[PP_DIAMETER].not_proven, 1);
    /* C at most 25.75, E at most 25.95 */
    assert_near(run.measures.ligaments[0].value, 32 - (25.75 + 25.95) / 2, 1e-12);
    assert_true(isnan(run.judgement.diameter_fold.mean));
    pp_memory_free(&run.memory);
}

static void checks_of_the_list_are_judged(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB "checks = more.csv\n" RULES, SEVEN, ALL_GOOD,
                                  "hole,characteristic,value,low,high,result\n"
                                  "C,groove depth,0.41,0.3,0.5,\nE,groove depth,0.55,0.3,0.5,\n"
                                  "W,burr,,,,ok\nSW,burr,,,,no\nSE,finish,3.2,,,\n"});
    const pp_judgement *j = &run.judgement;
    size_t first = j->first[PP_CHECK];
    assert_int_equal(j->findings[first].verdict, PP_CONFORMS);
    assert_int_equal(j->findings[first + 1].verdict, PP_DOES_NOT_CONFORM);
    assert_near(pp_finding_upper(j, &j->findings[first + 1]), 0.5, 0);
    assert_int_equal(j->findings[first + 2].verdict, PP_CONFORMS);
    assert_int_equal(j->findings[first + 3].verdict, PP_DOES_NOT_CONFORM);
    assert_int_equal(j->findings[first + 4].verdict, PP_NOT_JUDGED);
    assert_int_equal(section(&run, PP_CHECK), PP_DOES_NOT_CONFORM);
    assert_int_equal(j->verdict, PP_DOES_NOT_CONFORM);
    pp_memory_free(&run.memory);
}

static void metal_to_the_edge_is_judged(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run,
              (holes_texts){JOB_HEAD JOB_HOLES "edge_ligament_minimum = 55.152\n[rules]\n" SIZES,
                            SEVEN, ALL_GOOD, NULL});
    assert_near(run.judgement.edge_fold.smallest, 100 - 32 - 12.85, 1e-12);
    assert_int_equal(run.judgement.edge_fold.smallest_hole, named(&run, "E"));
    assert_int_equal(run.judgement.section[PP_EDGE].failed, 2); /* E and W */
    pp_memory_free(&run.memory);
}

/* --- what is said beside the verdict ---------------------------------------------------------- */

static void an_instrument_past_its_date_is_said(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){"[job]\ninspection_date = 2026-11-20\n" JOB_HEAD
                                  "[holes]\nnominal = nominal.csv\nmeasured = measured.csv @ARM\n"
                                  "pitch = 32\nposition_limit = 0.3\n[instrument ARM]\n"
                                  "calibration_due = 2026-11-19\n",
                                  SEVEN, ALL_GOOD, NULL});
    assert_true(cautioned(&run, "Calibration of instrument ARM"));
    pp_memory_free(&run.memory);
}

static void what_was_judged_is_listed(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB RULES, SEVEN, ALL_GOOD, NULL});
    const pp_judgement *j = &run.judgement;
    assert_int_equal(j->judged_count, 3);
    assert_string_equal(j->judged[0], "position");
    assert_string_equal(j->judged[1], "diameter");
    assert_string_equal(j->judged[2], "ligament");
    assert_int_equal(j->not_judged_count, 2);
    assert_string_equal(j->not_judged[0], "edge");
    assert_string_equal(j->not_judged[1], "drift");
    assert_string_equal(j->decision_rule, "simple: measurement uncertainty not taken into account");
    assert_int_equal(j->verdict, PP_CONFORMS);
    pp_memory_free(&run.memory);
    run_texts(&run, (holes_texts){JOB_HEAD JOB_HOLES, SEVEN, ALL_GOOD, NULL});
    assert_int_equal(run.judgement.verdict, PP_NOT_JUDGED);
    pp_memory_free(&run.memory);
}

/* What the smooth surface noticed in its survey is said, each thing once and only where it is so.
 */
static void what_a_survey_shows_is_said_once(void **state)
{
    (void)state;
    static const size_t outliers[] = {4, 42, 78, 79, 80, 81, 82, 83, 90};
    static const bool left_out[] = {[8] = true};
    static const char asked[] = "8 points of the survey far off the smooth surface may be real: "
                                "row 4, 42, 78, 79, 80, 81 and 2 more";
    const char *const sentences[] = {
        "noisier than",
        "too few points",
        asked,
        "1 point of the survey stands alone, far off all around: row 90; left out",
        "2 points of the survey beyond the outline",
        "13 % of the plate"};
    for (int troubled = 0; troubled < 2; troubled++) {
        holes_run run;
        run_texts(&run, (holes_texts){JOB RULES, SEVEN, ALL_GOOD, NULL});
        pp_error error = {0};
        pp_flatness flatness = {.points = 441, .surface_valid = true};
        if (troubled)
            flatness.surface = (pp_surface){.noisier_than_stated = true,
                                            .noise_unreliable = true,
                                            .outlier_count = 9,
                                            .outliers = outliers,
                                            .left_out = left_out,
                                            .left_out_count = 1,
                                            .outside_count = 2,
                                            .unseen_share = 0.131};
        else
            flatness.surface.unseen_share = 0.009;
        assert_ok(pp_judge(&(pp_judge_request){&run.job, &run.limits, &flatness, &run.measures,
                                               &run.files, 2},
                           &run.memory, &run.judgement, &error),
                  &error);
        for (size_t k = 0; k < sizeof sentences / sizeof *sentences; k++)
            assert_int_equal(cautioned(&run, sentences[k]), troubled);
        pp_memory_free(&run.memory);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_hole_in_its_neighbour_is_misdrilled),
        cmocka_unit_test(other_holes_have_limits_of_their_own),
        cmocka_unit_test(gauges_alone_prove_a_class),
        cmocka_unit_test(checks_of_the_list_are_judged),
        cmocka_unit_test(metal_to_the_edge_is_judged),
        cmocka_unit_test(an_instrument_past_its_date_is_said),
        cmocka_unit_test(what_was_judged_is_listed),
        cmocka_unit_test(what_a_survey_shows_is_said_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

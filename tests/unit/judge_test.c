/* Judging on small patterns worked out by hand: one value against one limit, classes, shares,
 * guarded decisions. */
#include "rules/decide.h"
#include "support/seven_holes.h"

/* --- one value, one limit --------------------------------------------------------------------- */

static void a_value_at_its_limit_conforms(void **state)
{
    (void)state;
    assert_int_equal(pp_decide_upper(0.3, 0.3, 0), PP_CONFORMS); /* inclusive */
    assert_int_equal(pp_decide_upper(0.3000009, 0.3, 0), PP_CONFORMS);
    assert_int_equal(pp_decide_upper(0.3000011, 0.3, 0), PP_DOES_NOT_CONFORM);
    assert_int_equal(pp_decide_lower(3, 3, 0), PP_CONFORMS);
    assert_int_equal(pp_decide_lower(2.9999989, 3, 0), PP_DOES_NOT_CONFORM);
    assert_int_equal(pp_decide_upper(5, NAN, 0), PP_NOT_JUDGED);
    /* guard band 0.0329 = 1.645 * 0.02 */
    assert_int_equal(pp_decide_upper(0.2671, 0.3, 0.0329), PP_CONFORMS);
    assert_int_equal(pp_decide_upper(0.26711, 0.3, 0.0329), PP_NOT_PROVEN);
    assert_int_equal(pp_decide_upper(0.3329, 0.3, 0.0329), PP_NOT_PROVEN);
    assert_int_equal(pp_decide_upper(0.33291, 0.3, 0.0329), PP_DOES_NOT_CONFORM);
    assert_int_equal(pp_decide_upper(0.1, 0.3, NAN), PP_NOT_PROVEN); /* never by accident */
}

/* dx = dy = 0.1: 0.2828 within 0.3; dx = 0.15: 0.30 outside 0.25 (worked textbook examples). */
static void positions_are_those_of_the_textbook(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB "coverage = sample\n" RULES, SEVEN,
                                  "hole,x,y,diameter\nC,0.1,0.1,25.7\nE,32.15,0,25.7\n", NULL});
    assert_near(finding(&run, PP_POSITION, "C")->value, 0.2828427, 1e-7);
    assert_int_equal(section(&run, PP_POSITION), PP_CONFORMS);
    assert_near(run.judgement.position_fold.largest, 0.3, 1e-12);
    assert_int_equal(run.judgement.position_fold.largest_hole, named(&run, "E"));
    assert_string_equal(run.judgement.basis, "2 of 7 holes, entry face");
    assert_true(cautioned(&run, "the holes measured conform"));
    assert_true(cautioned(&run, "Entry face only: drill drift not seen"));
    assert_true(cautioned(&run, "Temperature not stated"));
    pp_memory_free(&run.memory);
}

/* Hole 10.0 at maximum material measured 10.2: bonus 0.2, allowed 0.5; hole dx = 0.15: 0.30 against
 * 0.25 is out, with a bonus of 0.10 allowed 0.35: in. */
static void maximum_material_gives_a_bonus(void **state)
{
    (void)state;
    holes_run run;
    const char *job = JOB_HEAD JOB_HOLES "position_limit = 0.25\nmaterial_condition = maximum\n"
                                         "coverage = sample\n[rules]\nhole_nominal = 10\n"
                                         "hole_under = 0\nhole_over = 0.5\nhole_over_limit = 0.5\n";
    run_texts(&run, (holes_texts){job, SEVEN,
                                  "hole,x,y,diameter\nC,0.15,0,10.1\nE,32.15,0,10.0\n"
                                  "W,-32,0.22,10.25\nW,-32,0.22,10.2\n",
                                  NULL});
    const pp_judgement *j = &run.judgement;
    assert_near(pp_finding_upper(j, finding(&run, PP_POSITION, "C")), 0.35, 1e-12);
    assert_int_equal(finding(&run, PP_POSITION, "C")->verdict, PP_CONFORMS);
    assert_int_equal(finding(&run, PP_POSITION, "E")->verdict, PP_DOES_NOT_CONFORM);
    /* the smallest reading gives the bonus */
    assert_near(pp_finding_upper(j, finding(&run, PP_POSITION, "W")), 0.45, 1e-12);
    assert_int_equal(finding(&run, PP_POSITION, "W")->verdict, PP_CONFORMS);
    assert_int_equal(j->position_fold.out, 1);
    pp_memory_free(&run.memory);
}

/* --- classes and shares ----------------------------------------------------------------------- */

/* remainder_share 15 % of 7: one in the remainder is allowed, two are not. */
static void one_in_seven_may_be_in_the_remainder(void **state)
{
    (void)state;
    holes_run run;
    const char *job = JOB "[rules]\nremainder_share = 15 %\n" SIZES WEBS;
    run_texts(&run, (holes_texts){job, SEVEN,
                                  "hole,x,y,diameter\nC,0,0,25.7500005\nE,32,0,25.76\n"
                                  "NE,16,27.71,25.6\nNW,-16,27.71,25.7\nW,-32,0,25.7\n"
                                  "SW,-16,-27.71,25.7\nSE,16,-27.71,25.7\n",
                                  NULL});
    const pp_count_rule *rule = &run.judgement.diameter_fold.rule;
    assert_int_equal(rule->in, 6); /* C is on its limit */
    assert_int_equal(rule->remainder, 1);
    assert_int_equal(rule->remainder_allowed, 1);
    assert_int_equal(run.judgement.verdict, PP_CONFORMS);
    pp_memory_free(&run.memory);
    run_texts(&run, (holes_texts){job, SEVEN,
                                  "hole,x,y,diameter\nC,0,0,25.7\nE,32,0,25.76\n"
                                  "NE,16,27.71,25.6\nNW,-16,27.71,25.81\nW,-32,0,25.7\n"
                                  "SW,-16,-27.71,25.7\nSE,16,-27.71,25.7\n",
                                  NULL});
    rule = &run.judgement.diameter_fold.rule;
    assert_int_equal(rule->share, PP_DOES_NOT_CONFORM);
    assert_int_equal(section(&run, PP_DIAMETER), PP_DOES_NOT_CONFORM);
    assert_int_equal(run.judgement.section[PP_DIAMETER].failed,
                     0); /* each hole by itself is fine */
    /* the two are listed, the larger first */
    assert_int_equal(run.judgement.exception_count, 2);
    assert_int_equal(run.judgement.findings[run.judgement.exceptions[0]].subject,
                     named(&run, "NW"));
    pp_memory_free(&run.memory);
}

/* Undersize wins over oversize (repeat readings on both sides); oversize and undersize fail. */
static void undersize_wins_over_oversize(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB "coverage = sample\n" RULES, SEVEN,
                                  "hole,x,y,diameter\nC,0,0,25.59\nC,0,0,25.96\nE,32,0,25.951\n"
                                  "NE,16,27.71,25.95\n",
                                  NULL});
    const pp_count_rule *rule = &run.judgement.diameter_fold.rule;
    assert_int_equal(rule->under, 1);
    assert_int_equal(rule->out, 1);
    assert_int_equal(rule->remainder, 1);
    assert_int_equal(run.judgement.section[PP_DIAMETER].failed, 2);
    assert_near(run.judgement.diameter_fold.smallest, 25.59, 0);
    assert_near(run.judgement.diameter_fold.largest, 25.96, 0);
    assert_near(run.judgement.diameter_fold.mean, (25.775 + 25.951 + 25.95) / 3, 1e-12);
    pp_memory_free(&run.memory);
}

/* A hole takes its worst face, the mean its readings of both. */
static void a_hole_takes_its_worst_face(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB "coverage = sample\n" RULES, SEVEN,
                                  "hole,x,y,diameter,face\nC,0,0,25.7,entry\nC,0.2,0,25.8,exit\n"
                                  "C,0.2,0,25.83,exit\nE,32,0,25.7,entry\nE,34.9,0,25.7,exit\n",
                                  NULL});
    const pp_judgement *j = &run.judgement;
    assert_int_equal(j->diameter_fold.rule.in, 1);
    assert_int_equal(j->diameter_fold.rule.remainder, 1);
    assert_near(j->diameter_fold.mean, ((25.7 + 25.8 + 25.83) / 3 + 25.7) / 2, 1e-12);
    assert_int_equal(j->position_fold.out, 2);
    assert_int_equal(j->position_fold.largest_face, PP_EXIT);
    assert_near(j->position_fold.mean, (0.4 + 5.8) / 2, 1e-12);
    /* entry 6.3, exit 34.7 - 25.765 = 8.935: the entry is the worst */
    assert_near(j->ligament_fold.smallest, 6.3, 1e-12);
    assert_near(j->ligament_fold.mean, 6.3, 1e-12);
    assert_string_equal(j->basis, "2 of 7 holes, both faces");
    pp_memory_free(&run.memory);
    run_texts(&run, (holes_texts){
                        JOB "coverage = sample\n[rules]\nligament_face = exit\n" SIZES WEBS, SEVEN,
                        "hole,x,y,diameter,face\nC,0,0,25.7,entry\nC,0.2,0,25.8,exit\n"
                        "E,32,0,25.7,entry\nE,34.9,0,25.7,exit\nNE,16,27.71,25.7,entry\n",
                        NULL});
    /* C-E by its exit, C-NE and E-NE by their entry */
    assert_near(run.judgement.ligament_fold.mean,
                ((34.7 - 25.75) + 2 * (hypot(16, 27.71) - 25.7)) / 3, 1e-12);
    assert_int_equal(run.judgement.section[PP_LIGAMENT].judged, 3);
    pp_memory_free(&run.memory);
}

static void ligaments_fall_into_three_classes(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB_HEAD JOB_HOLES "coverage = sample\n[rules]\n"
                                                     "remainder_share = 30 %\n" SIZES WEBS,
                                  SEVEN,
                                  "hole,x,y,diameter\nC,0,0,25.7\nE,31.1,0,25.7\n"
                                  "W,-28.7,0,25.7\nNE,16,27.72,25.7\nNW,-16,27.72,25.7\n",
                                  NULL});
    const pp_judgement *j = &run.judgement;
    /* C-E 5.4 on the limit; C-W 3.0 on the minimum, in the remainder; E-NE in the remainder */
    assert_near(j->ligament_fold.smallest, 3.0, 1e-12);
    assert_int_equal(j->ligament_fold.smallest_b, named(&run, "W"));
    assert_int_equal(j->ligament_fold.rule.out, 0);
    assert_int_equal(j->ligament_fold.rule.in + j->ligament_fold.rule.remainder, 7);
    assert_int_equal(section(&run, PP_POSITION), PP_NOT_JUDGED);
    assert_int_equal(j->first[PP_POSITION + 1] - j->first[PP_POSITION], 0);
    pp_memory_free(&run.memory);
}

/* Under every-hole what was not measured leaves the verdict at best not proven. */
static void holes_not_measured_prove_nothing(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB RULES, SEVEN, "hole,x,y,diameter\nC,0,0,25.7\nE,32,0,25.7\n",
                                  NULL});
    assert_int_equal(run.judgement.verdict, PP_NOT_PROVEN);
    assert_int_equal(section(&run, PP_POSITION), PP_NOT_PROVEN);
    assert_int_equal(section(&run, PP_LIGAMENT), PP_NOT_PROVEN);
    assert_int_equal(run.judgement.section[PP_DIAMETER].not_proven, 0);
    assert_int_equal(run.judgement.diameter_fold.rule.denominator, 7);
    assert_true(cautioned(&run, "5 of 7 tube holes were not measured"));
    assert_int_equal(section(&run, PP_DRIFT), PP_NOT_JUDGED);
    pp_memory_free(&run.memory);
}

/* A list of direct ligaments alone: every pair has its value, yet the holes were not measured. */
static void direct_ligaments_alone_measure_no_hole(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){"[holes]\nnominal = nominal.csv\nligaments = more.csv\n"
                                  "pitch = 32\n[rules]\n" WEBS,
                                  "hole,x,y\nA,0,0\nB,32,0\n", NULL,
                                  "hole_a,hole_b,ligament\nA,B,5.9\n"});
    assert_int_equal(section(&run, PP_LIGAMENT), PP_CONFORMS);
    assert_int_equal(run.judgement.verdict, PP_NOT_PROVEN);
    assert_string_equal(run.judgement.basis, "0 of 2 holes; 1 of 1 ligaments measured directly");
    assert_false(cautioned(&run, "drift not seen"));
    pp_memory_free(&run.memory);
}

/* Plugged on any row of any round: out of the counts, its bore still there for its neighbours; a
 * pair of two plugged holes is no pair. */
static void a_plugged_hole_leaves_the_counts_not_the_plate(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB RULES, SEVEN,
                                  "hole,x,y,diameter,round,disposition\nC,3.2,0,25.7,1,Plugged\n"
                                  "C,3.1,0,26.9,2,\nE,32,0,27.5,1,plugged\nNE,16,27.71,25.7,1,\n"
                                  "NW,-16,27.71,25.7,1,\nW,-32,0,25.7,1,\nSW,-16,-27.71,25.7,1,\n"
                                  "SE,16,-27.71,25.7,1,reamed\n",
                                  NULL});
    const pp_judgement *j = &run.judgement;
    assert_int_equal(j->plugged_count, 2);
    assert_int_equal(run.measures.measured, 7);
    assert_int_equal(j->diameter_fold.rule.denominator, 5);
    assert_int_equal(section(&run, PP_POSITION), PP_CONFORMS);
    assert_int_equal(section(&run, PP_DIAMETER), PP_CONFORMS);
    assert_int_equal(run.measures.pair_count, 11);
    /* NE to the bore of C at 3.1: it still counts */
    double thin = hypot(16 - 3.1, 27.71) - 12.85 - 13.45;
    assert_near(j->ligament_fold.smallest, thin, 1e-12);
    assert_int_equal(j->misdrilled_count, 0); /* C-E overlaps, but both are plugged */
    assert_true(cautioned(&run, "2 plugged holes are left out"));
    pp_memory_free(&run.memory);
}

/* --- guarded ---------------------------------------------------------------------------------- */

/* u: position 2 * 0.01, guard 0.0329; diameter 0.005, guard 0.008225; ligament
 * sqrt(2 * 0.01^2 + 0.005^2 / 2) = 0.014577, guard 0.02398. */
static void guard_bands_leave_values_not_proven(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run,
              (holes_texts){JOB "coverage = sample\n" UNCERTAIN
                                "[rules]\ndecision = guarded\nremainder_share = 30 %\n" SIZES WEBS,
                            SEVEN,
                            "hole,x,y,diameter\nC,0,0,25.7\nE,32.135,0,25.745\n"
                            "NE,16,27.712813,25.9\nW,-32.17,0,25.6\n",
                            NULL});
    const pp_judgement *j = &run.judgement;
    assert_int_equal(finding(&run, PP_POSITION, "C")->verdict, PP_CONFORMS);
    assert_int_equal(finding(&run, PP_POSITION, "E")->verdict, PP_NOT_PROVEN);       /* 0.27 */
    assert_int_equal(finding(&run, PP_POSITION, "W")->verdict, PP_DOES_NOT_CONFORM); /* 0.34 */
    assert_int_equal(j->position_fold.out, 1);
    assert_int_equal(j->position_fold.not_proven, 1);
    /* E is open against the standard limit, W against the lower one, NE proven in the remainder */
    assert_int_equal(finding(&run, PP_DIAMETER, "E")->verdict, PP_CONFORMS);
    assert_int_equal(finding(&run, PP_DIAMETER, "E")->proven_standard, 0);
    assert_int_equal(finding(&run, PP_DIAMETER, "NE")->proven_standard, 2);
    assert_int_equal(finding(&run, PP_DIAMETER, "W")->verdict, PP_NOT_PROVEN);
    assert_int_equal(j->section[PP_DIAMETER].not_proven, 2);
    assert_int_equal(j->diameter_fold.rule.in, 3); /* classes are plain */
    /* 30 % of 4 is 1; NE proven bad, E perhaps: the share is open */
    assert_int_equal(j->diameter_fold.rule.share, PP_NOT_PROVEN);
    assert_near(run.measures.ligaments[0].u, sqrt(2e-4 + 0.005 * 0.005 / 2), 1e-9);
    assert_true(strncmp(j->decision_rule, "guarded", 7) == 0);
    pp_memory_free(&run.memory);
}

static void a_centre_is_as_uncertain_as_it_is_far_and_warm(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB "coverage = sample\nuncertainty_per_metre = 0.5\n"
                                      "uncertainty_temperature = 30 C\n" UNCERTAIN RULES,
                                  SEVEN, "hole,x,y,diameter\nE,32,0,25.7\n", NULL});
    double grow = 0.5 * 32 / 2000, warm = 11.5e-6 * 32 * 30 / 2;
    assert_near(run.measures.bore_errors[0].u_centre, sqrt(1e-4 + grow * grow + warm * warm),
                1e-15);
    pp_memory_free(&run.memory);
}

/* uncertainty above a quarter of the tolerance: 0.1 of the diameter's 0.15 */
static void a_coarse_uncertainty_is_said(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB "uncertainty_diameter = 0.1\n" RULES, SEVEN, ALL_GOOD, NULL});
    assert_true(cautioned(&run, "uncertainty of a diameter (k = 2) is 67 % of the tolerance"));
    assert_true(run.judgement.diameter_fold.assurance.probability_valid);
    pp_memory_free(&run.memory);
}

static void check_refused(const char *job, const char *message)
{
    holes_run run;
    pp_error error = {0};
    pp_status status = holes_run_texts(&run,
                                       (holes_texts){job, SEVEN, ALL_GOOD,
                                                     "hole,characteristic,result\n"
                                                     "Q,groove,ok\n"},
                                       1, &error);
    if (status != PP_EINPUT || !strstr(error.message, message)) {
        print_error("got: %s\nwant: %s\n", error.message, message);
        fail();
    }
    pp_memory_free(&run.memory);
}

static void a_guarded_decision_wants_uncertainties(void **state)
{
    (void)state;
#define GUARDED "[rules]\ndecision = guarded\n"
    check_refused(JOB GUARDED SIZES, "needs uncertainty_position to judge position");
    check_refused(JOB "uncertainty_position = 0.01\n" GUARDED SIZES,
                  "needs uncertainty_diameter to judge diameters");
    check_refused(JOB_HEAD JOB_HOLES GUARDED WEBS, "needs uncertainty_position to judge ligaments");
    check_refused(JOB_HEAD JOB_HOLES
                  "edge_ligament_minimum = 3\nuncertainty_position = 0.01\n" GUARDED,
                  "needs uncertainty_diameter to judge edge ligaments");
    check_refused(JOB "checks = more.csv\n" RULES, "hole Q is not in the nominal list");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_value_at_its_limit_conforms),
        cmocka_unit_test(positions_are_those_of_the_textbook),
        cmocka_unit_test(maximum_material_gives_a_bonus),
        cmocka_unit_test(one_in_seven_may_be_in_the_remainder),
        cmocka_unit_test(undersize_wins_over_oversize),
        cmocka_unit_test(a_hole_takes_its_worst_face),
        cmocka_unit_test(ligaments_fall_into_three_classes),
        cmocka_unit_test(holes_not_measured_prove_nothing),
        cmocka_unit_test(direct_ligaments_alone_measure_no_hole),
        cmocka_unit_test(a_plugged_hole_leaves_the_counts_not_the_plate),
        cmocka_unit_test(guard_bands_leave_values_not_proven),
        cmocka_unit_test(a_centre_is_as_uncertain_as_it_is_far_and_warm),
        cmocka_unit_test(a_coarse_uncertainty_is_said),
        cmocka_unit_test(a_guarded_decision_wants_uncertainties),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

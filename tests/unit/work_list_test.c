/* What is to be done about each hole, worked out by hand on the seven holes (32 mm apart, 25.7 mm,
 * limits 25.6 to 25.75 and 25.95, ligaments 5.4 and 3.0 mm, position 0.3 mm). */
#include <math.h>

#include "answer/work_words.h"
#include "rules/decide.h"
#include "support/seven_holes.h"

#define SAMPLE JOB "coverage = sample\n"

static const pp_work_row *row_named(const holes_run *run, const char *name)
{
    for (size_t i = 0; i < run->work.count; i++)
        if (strcmp(pp_work_name(&run->measures, &run->work.rows[i]), name) == 0)
            return &run->work.rows[i];
    return NULL;
}

static const pp_work_row *must_have(const holes_run *run, const char *name)
{
    const pp_work_row *row = row_named(run, name);
    if (!row) fail_msg("no row of %s", name);
    return row;
}

static void assert_told(const holes_run *run, const pp_work_row *row, const char *words)
{
    pp_text text = {0};
    pp_work_instruction(&text, &run->results, row);
    pp_text_add(&text, " | ");
    pp_work_faults(&text, &run->results, row);
    if (!strstr(text.data, words)) fail_msg("\"%s\" is not in \"%s\"", words, text.data);
    pp_text_free(&text);
}

static void judge(holes_run *run, const char *job, const char *measured)
{
    run_texts(run, (holes_texts){job, SEVEN, measured, NULL});
}

static void done(holes_run *run) { pp_memory_free(&run->memory); }

/* --- who is named ------------------------------------------------------------------------------
 */

static void a_good_plate_leaves_nothing_to_do(void **state)
{
    (void)state;
    holes_run run;
    judge(&run, JOB RULES, ALL_GOOD);
    assert_int_equal(run.judgement.verdict, PP_CONFORMS);
    assert_int_equal(run.work.count, 0);
    done(&run);
}

/* E lies 3.4 mm towards C: 28.6 - 25.7 = 2.9 < 3.0. C has done nothing and is never named; NE and
 * SE stand beside E in the remainder, which is all E's doing. */
static void a_good_neighbour_is_never_named(void **state)
{
    (void)state;
    holes_run run;
    judge(&run, JOB RULES,
          "hole,x,y,diameter\nC,0,0,25.7\nE,28.6,0,25.7\nNE,16,27.71,25.7\n"
          "NW,-16,27.71,25.7\nW,-32,0,25.7\nSW,-16,-27.71,25.7\nSE,16,-27.71,25.7\n");
    assert_int_equal(run.work.count, 1);
    const pp_work_row *e = must_have(&run, "E");
    assert_int_equal(e->todo, PP_TODO_DECIDE);
    /* its position, the ligament to C, and two in the remainder, of which 4 % of 12 allows none */
    assert_int_equal(e->fault_count, 4);
    assert_told(&run, e, "to C, entry face");
    assert_told(&run, e, "to NE, entry face");
    assert_int_equal(run.work.counts[PP_TODO_DECIDE], 1);
    done(&run);
}

/* Two holes, each alone enough to break the ligament (5.4 stands for both limits): both are named.
 */
static void both_are_named_where_each_is_to_blame(void **state)
{
    (void)state;
    holes_run run;
    const char *job = SAMPLE "[rules]\n" SIZES "ligament_minimum = 5.4\n";
    judge(&run, job, "hole,x,y,diameter\nC,1,0,25.7\nE,31,0,25.7\n");
    assert_int_equal(run.work.count, 2);
    assert_told(&run, must_have(&run, "C"), "ligament 4.300 mm");
    assert_told(&run, must_have(&run, "E"), "ligament 4.300 mm");
    done(&run);
}

/* A hole that the drawing has not, drilled 12 mm from E: its own row, and E is not to blame. */
static void an_extra_hole_has_a_row_of_its_own(void **state)
{
    (void)state;
    holes_run run;
    judge(&run, SAMPLE RULES, "hole,x,y,diameter\nC,0,0,25.7\nE,32,0,25.7\nX9,44,0,10\n");
    assert_int_equal(run.work.count, 1);
    const pp_work_row *x = must_have(&run, "X9");
    assert_int_equal(x->hole, PP_NONE);
    assert_int_equal(x->todo, PP_TODO_DECIDE);
    assert_near(pp_work_place(&run.measures, x).x, 44, 1e-9);
    assert_int_equal(x->fault_count, 2); /* extra, and through the wall of E */
    assert_told(&run, x, "Holes overlap");
    assert_told(&run, x, "to E");
    done(&run);
}

/* Both faces of a hole stand in one row. */
static void both_faces_stand_in_one_row(void **state)
{
    (void)state;
    holes_run run;
    judge(&run, SAMPLE RULES,
          "hole,face,x,y,diameter\nC,entry,0,0,25.96\nC,exit,0.3,0,25.55\nE,entry,32,0,25.7\n");
    assert_int_equal(run.work.count, 1);
    const pp_work_row *c = must_have(&run, "C");
    /* oversize on entry, undersize and out of place on exit: reaming cannot help */
    assert_int_equal(c->fault_count, 3);
    assert_int_equal(c->todo, PP_TODO_DECIDE);
    assert_true(isnan(c->ream.target));
    assert_int_equal(c->bore, run.measures.bore_of[PP_EXIT][c->hole]);
    assert_told(&run, c, "another of its readings is as large already");
    done(&run);
}

/* Three in the remainder where one is allowed (15 % of 7): the two largest are listed. */
static void a_broken_share_lists_the_largest(void **state)
{
    (void)state;
    holes_run run;
    const char *job = JOB "[rules]\nremainder_share = 15 %\n" SIZES WEBS;
    judge(&run, job,
          "hole,x,y,diameter\nC,0,0,25.76\nE,32,0,25.77\nNE,16,27.71,25.7\nNW,-16,27.71,25.81\n"
          "W,-32,0,25.7\nSW,-16,-27.71,25.7\nSE,16,-27.71,25.7\n");
    assert_int_equal(run.work.count, 2);
    assert_int_equal(must_have(&run, "NW")->todo, PP_TODO_DECIDE);
    assert_int_equal(must_have(&run, "E")->todo, PP_TODO_DECIDE);
    assert_told(&run, must_have(&run, "E"), "in the remainder, of which there are too many");
    done(&run);
}

/* --- reaming -----------------------------------------------------------------------------------
 */

/* Simple decision, no uncertainty: the limits themselves, 25.6 to 25.75; the middle is the target.
 */
static void reaming_aims_at_the_middle_of_the_limits(void **state)
{
    (void)state;
    holes_run run;
    judge(&run, SAMPLE RULES, "hole,x,y,diameter\nC,0,0,25.55\nE,32,0,25.7\n");
    const pp_work_row *c = must_have(&run, "C");
    assert_int_equal(c->todo, PP_TODO_REAM);
    assert_near(c->ream.lower, 25.6, 1e-9);
    assert_near(c->ream.upper, 25.75, 1e-9);
    assert_near(c->ream.target, 25.675, 1e-9);
    assert_int_equal(c->ream.keeps, PP_NONE);
    assert_told(&run, c, "Ream to 25.675 mm (25.600 mm to 25.750 mm), then measure again.");
    assert_int_equal(run.work.counts[PP_TODO_REAM], 1);
    done(&run);
}

/* U = 0.02: the guard band 1.645 * 0.01 = 0.01645 comes off at both ends, rounded inwards. */
static void guard_bands_come_off_both_ends_of_a_reaming(void **state)
{
    (void)state;
    holes_run run;
    judge(&run, SAMPLE "uncertainty_diameter = 0.02\n" RULES,
          "hole,x,y,diameter\nC,0,0,25.55\nE,32,0,25.7\n");
    const pp_work_row *c = must_have(&run, "C");
    assert_near(c->ream.lower, 25.617, 1e-9); /* 25.61645 */
    assert_near(c->ream.upper, 25.733, 1e-9); /* 25.73355 */
    assert_near(c->ream.target, 25.675, 1e-9);
    done(&run);
}

/* E lies 0.9 mm nearer: 31.1 - (25.55 + 25.7) / 2 = 5.475, above the standard 5.4 by 0.075. Reaming
 * C to more than 25.55 + 2 * 0.075 = 25.70 would break it. */
static void reaming_keeps_the_ligament(void **state)
{
    (void)state;
    holes_run run;
    judge(&run, SAMPLE "\n[rules]\n" SIZES WEBS,
          "hole,x,y,diameter\nC,0,0,25.55\nE,31.1,0,25.7\nNE,16,27.71,25.7\n");
    const pp_work_row *c = must_have(&run, "C");
    assert_int_equal(c->todo, PP_TODO_REAM);
    assert_near(c->ream.upper, 25.7, 1e-9);
    assert_int_equal(c->ream.keeps, named(&run, "E"));
    assert_told(&run, c, "no larger: the metal to E");
    done(&run);
}

/* 0.98 mm nearer: 5.395 is in the remainder already and may go down to 3.0: no bound. With 5.4 the
 * only limit the ligament is too thin now: there is no room at all. */
static void nothing_is_reamed_without_room(void **state)
{
    (void)state;
    holes_run run;
    const char *measured = "hole,x,y,diameter\nC,0,0,25.55\nE,31.02,0,25.7\n";
    judge(&run, SAMPLE "[rules]\nremainder_share = 60 %\n" SIZES WEBS, measured);
    assert_near(must_have(&run, "C")->ream.upper, 25.75, 1e-9);
    done(&run);
    judge(&run, SAMPLE "[rules]\n" SIZES "ligament_minimum = 5.4\n", measured);
    const pp_work_row *c = must_have(&run, "C");
    assert_int_equal(c->todo, PP_TODO_DECIDE);
    assert_int_equal(c->faults[0].reason, PP_REASON_METAL);
    assert_true(isnan(c->ream.target));
    assert_told(&run, c, "too little metal to E");
    done(&run);
}

/* Both undersize, 31.1 apart: each to at most 31.1 - 5.4 = 25.7, so that both together keep it. */
static void two_holes_reamed_together_keep_their_ligament(void **state)
{
    (void)state;
    holes_run run;
    judge(&run, SAMPLE RULES, "hole,x,y,diameter\nC,0,0,25.55\nE,31.1,0,25.58\n");
    assert_near(must_have(&run, "C")->ream.upper, 25.7, 1e-9);
    assert_near(must_have(&run, "E")->ream.upper, 25.7, 1e-9);
    done(&run);
}

/* The tolerance is 0.15 wide; U = 0.2 takes 0.1645 off at either end. */
static void nothing_is_reamed_that_cannot_be_proven(void **state)
{
    (void)state;
    holes_run run;
    judge(&run, SAMPLE "uncertainty_diameter = 0.2\n" RULES,
          "hole,x,y,diameter\nC,0,0,25.3\nE,32,0,25.7\n");
    const pp_work_row *c = must_have(&run, "C");
    assert_int_equal(c->todo, PP_TODO_REMEASURE);
    assert_int_equal(c->faults[0].reason, PP_REASON_UNPROVABLE);
    assert_near(c->faults[0].needed, 2 * 0.15 / 4 / 1.645, 1e-9);
    assert_told(&run, c, "too narrow to be proven");
    done(&run);
}

/* Out of place and undersize: the customer first, the reaming stands beside. */
static void a_decision_comes_before_the_reaming(void **state)
{
    (void)state;
    holes_run run;
    judge(&run, SAMPLE RULES, "hole,x,y,diameter\nC,0.2,0,25.55\nE,32,0,25.7\n");
    const pp_work_row *c = must_have(&run, "C");
    assert_int_equal(c->todo, PP_TODO_DECIDE);
    assert_int_equal(c->todos, 1 << PP_TODO_DECIDE | 1 << PP_TODO_REAM);
    assert_told(&run, c, "If it may stay, ream to");
    done(&run);
}

/* --- measuring again ---------------------------------------------------------------------------
 */

#define GUARDED "[rules]\ndecision = guarded\n" SIZES WEBS

/* 25.945 against 25.95 with u = 0.005: 0.005 inside. A guard band of 1.645 u' = 0.005 would do:
 * U' = 2 * 0.005 / 1.645 = 0.00608. With that uncertainty it is proven indeed. */
static void measuring_again_names_the_uncertainty_that_would_do(void **state)
{
    (void)state;
    holes_run run;
    const char *rest = "hole,x,y,diameter\nC,0,0,25.945\nE,32,0,25.7\n";
    judge(&run, SAMPLE UNCERTAIN GUARDED, rest);
    const pp_work_row *c = must_have(&run, "C");
    assert_int_equal(c->todo, PP_TODO_REMEASURE);
    assert_near(c->faults[0].needed, 2 * 0.005 / 1.645, 1e-7);
    assert_told(&run, c, "at most 0.006 mm (k = 2; now 0.010 mm)");
    done(&run);
    judge(&run,
          SAMPLE "uncertainty_position = 0.02\nuncertainty_ligament = 0.04\n"
                 "uncertainty_diameter = 0.00607\n" GUARDED,
          rest);
    assert_int_equal(finding(&run, PP_DIAMETER, "C")->verdict, PP_CONFORMS);
    done(&run);
}

/* A position outside, not proven so for its bias: the uncertainty asked for proves it outside, a
 * hundredth more does not. */
static void a_position_is_proven_by_the_uncertainty_asked_for(void **state)
{
    (void)state;
    holes_run run;
    const char *measured = "hole,x,y,diameter\nC,0.155,0,25.7\nE,32,0,25.7\n";
    judge(&run, SAMPLE UNCERTAIN GUARDED, measured);
    const pp_work_row *c = must_have(&run, "C");
    assert_int_equal(c->todo, PP_TODO_REMEASURE);
    double needed = c->faults[0].needed,
           now = 2 * (double)pp_finding_u(&run.judgement, finding(&run, PP_POSITION, "C"));
    assert_true(needed < now);
    for (int more = 0; more < 2; more++) {
        holes_run again;
        char job[1024];
        snprintf(job, sizeof job,
                 SAMPLE "uncertainty_diameter = 0.01\nuncertainty_ligament = 0.04\n"
                        "uncertainty_position = %.9f\n" GUARDED,
                 0.02 * needed / now * (more ? 1.01 : 0.999999));
        judge(&again, job, measured);
        assert_int_equal(finding(&again, PP_POSITION, "C")->verdict,
                         more ? PP_NOT_PROVEN : PP_DOES_NOT_CONFORM);
        done(&again);
    }
    done(&run);
}

/* Every hole is asked for: who was not measured is on the list. */
static void holes_not_measured_are_on_the_list(void **state)
{
    (void)state;
    holes_run run;
    judge(&run, JOB RULES, "hole,x,y,diameter\nC,0,0,25.7\nE,32,0,25.7\n");
    assert_int_equal(run.work.count, 5);
    assert_int_equal(run.work.counts[PP_TODO_REMEASURE], 5);
    assert_told(&run, must_have(&run, "SW"), "Measure it. | not measured");
    done(&run);
}

/* E was read twice, .2 mm off either way: the mean lies at its place, and each reading alone
 * outside.
 */
static void a_hole_whose_repeats_contradict_each_other_is_measured_again(void **state)
{
    (void)state;
    holes_run run;
    judge(&run, JOB RULES,
          "hole,x,y,diameter\nC,0,0,25.7\nE,32.2,0,25.7\nE,31.8,0,25.7\nNE,16,27.71,25.7\n"
          "NW,-16,27.71,25.7\nW,-32,0,25.7\nSW,-16,-27.71,25.7\nSE,16,-27.71,25.7\n");
    assert_int_equal(run.judgement.verdict, PP_NOT_PROVEN);
    assert_int_equal(run.work.count, 1);
    const pp_work_row *e = must_have(&run, "E");
    assert_int_equal(e->todo, PP_TODO_REMEASURE);
    assert_told(&run, e, "Measure again, and give the new reading a round of its own. | repeat");
    done(&run);
}

/* --- gauge against reading ---------------------------------------------------------------------
 */

/* Read as 25.70 although the go gauge (25.6) does not enter; and gauges alone that contradict each
 * other: go stays out, no-go enters. */
static void gauges_at_odds_want_a_second_opinion(void **state)
{
    (void)state;
    holes_run run;
    judge(&run, SAMPLE RULES,
          "hole,x,y,diameter,go,no_go\nC,0,0,25.7,no,\nE,32,0,,no,\nE,32,0,,,yes\nW,-32,0,,no,no\n"
          "NE,16,27.712813,25.55,no,\n");
    assert_int_equal(must_have(&run, "C")->todo, PP_TODO_SECOND_OPINION);
    assert_int_equal(must_have(&run, "E")->todo, PP_TODO_SECOND_OPINION);
    assert_told(&run, must_have(&run, "C"), "contradict each other");
    /* the gauge agrees with itself, or with the reading: these are undersize */
    assert_int_equal(must_have(&run, "W")->todo, PP_TODO_REAM);
    assert_int_equal(must_have(&run, "NE")->todo, PP_TODO_REAM);
    done(&run);
}

/* --- settled -----------------------------------------------------------------------------------
 */

#define FATE "hole,x,y,diameter,round,disposition,reference\nE,32,0,25.7,1,,\n"

static void check_fate(const char *rows, pp_todo todo, pp_settled settled, const char *words)
{
    holes_run run;
    char measured[512];
    snprintf(measured, sizeof measured, FATE "%s", rows);
    judge(&run, SAMPLE RULES, measured);
    const pp_work_row *c = must_have(&run, "C");
    assert_int_equal(c->todo, todo);
    assert_int_equal(c->settled, settled);
    assert_told(&run, c, words);
    done(&run);
}

static void a_concession_settles_with_its_reference(void **state)
{
    (void)state;
    check_fate("C,0,0,25.99,1,accepted under concession,NC-7\n", PP_TODO_NOTHING, PP_SETTLED,
               "Nothing: accepted under concession (NC-7).");
    check_fate("C,0,0,25.99,1,Accepted under concession,\n", PP_TODO_DECIDE,
               PP_SETTLED_UNREFERENCED, "without a reference: give it");
    check_fate("C,0,0,25.99,1,concession refused,NC-7\n", PP_TODO_DECIDE, PP_UNSETTLED,
               "Put to the customer");
    /* measured again since: what was accepted then is not what is there now */
    check_fate("C,0,0,25.97,1,accepted under concession,NC-7\nC,0,0,26.2,2,,\n", PP_TODO_DECIDE,
               PP_SETTLED_EARLIER, "An earlier round was accepted (NC-7): ask");
    /* no reaming of what is settled */
    check_fate("C,0,0,25.5,1,accepted under concession,NC-7\n", PP_TODO_NOTHING, PP_SETTLED,
               "Nothing: ");
}

/* A plugged hole's bore still thins the metal to E, which has done nothing; the plugging has a
 * reference: nothing is left to do. */
static void a_plugged_hole_is_settled_by_its_reference(void **state)
{
    (void)state;
    holes_run run;
    judge(&run, SAMPLE RULES,
          "hole,x,y,diameter,disposition,reference\nC,3.5,0,26.5,plugged,NC-8\nE,32,0,25.7,,\n");
    assert_int_equal(run.work.count, 1);
    assert_int_equal(must_have(&run, "C")->todo, PP_TODO_NOTHING);
    done(&run);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_good_plate_leaves_nothing_to_do),
        cmocka_unit_test(a_good_neighbour_is_never_named),
        cmocka_unit_test(both_are_named_where_each_is_to_blame),
        cmocka_unit_test(an_extra_hole_has_a_row_of_its_own),
        cmocka_unit_test(both_faces_stand_in_one_row),
        cmocka_unit_test(a_broken_share_lists_the_largest),
        cmocka_unit_test(reaming_aims_at_the_middle_of_the_limits),
        cmocka_unit_test(guard_bands_come_off_both_ends_of_a_reaming),
        cmocka_unit_test(reaming_keeps_the_ligament),
        cmocka_unit_test(nothing_is_reamed_without_room),
        cmocka_unit_test(two_holes_reamed_together_keep_their_ligament),
        cmocka_unit_test(nothing_is_reamed_that_cannot_be_proven),
        cmocka_unit_test(a_decision_comes_before_the_reaming),
        cmocka_unit_test(measuring_again_names_the_uncertainty_that_would_do),
        cmocka_unit_test(a_position_is_proven_by_the_uncertainty_asked_for),
        cmocka_unit_test(holes_not_measured_are_on_the_list),
        cmocka_unit_test(a_hole_whose_repeats_contradict_each_other_is_measured_again),
        cmocka_unit_test(gauges_at_odds_want_a_second_opinion),
        cmocka_unit_test(a_concession_settles_with_its_reference),
        cmocka_unit_test(a_plugged_hole_is_settled_by_its_reference),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* Judging on small patterns worked out by hand: limits, decisions, classes, shares, cautions. */
#include "rules/decide.h"
#include "support/check.h"
#include "support/holes_run.h"

#define SEVEN                                                                                      \
    "hole,x,y\nC,0,0\nE,32,0\nNE,16,27.712813\nNW,-16,27.712813\nW,-32,0\nSW,-16,-27.712813\n"     \
    "SE,16,-27.712813\n"
#define JOB_HEAD "[plate]\noutline = disc\ndiameter = 200\nthickness = 40\n"
#define JOB_HOLES "[holes]\nnominal = nominal.csv\nmeasured = measured.csv\npitch = 32\n"
#define JOB JOB_HEAD JOB_HOLES "position_limit = 0.3\n"
#define SIZES "hole_nominal = 25.7\nhole_under = 0.1\nhole_over = 0.05\nhole_over_limit = 0.25\n"
#define WEBS "ligament_standard = 5.4\nligament_minimum = 3\n"
#define RULES "[rules]\n" SIZES WEBS
#define UNCERTAIN                                                                                  \
    "uncertainty_position = 0.02\nuncertainty_diameter = 0.01\nuncertainty_ligament = 0.04\n"
#define ALL_GOOD                                                                                   \
    "hole,x,y,diameter\nC,0,0,25.7\nE,32,0,25.7\nNE,16,27.71,25.7\nNW,-16,27.71,25.7\n"            \
    "W,-32,0,25.7\nSW,-16,-27.71,25.7\nSE,16,-27.71,25.7\n"

static void run_texts(holes_run *run, holes_texts texts)
{
    pp_error error = {0};
    assert_ok(holes_run_texts(run, texts, 1, &error), &error);
}

static uint32_t named(const holes_run *run, const char *name)
{
    for (size_t i = 0; i < run->files.nominal.count; i++)
        if (strcmp(run->files.nominal.name[i], name) == 0) return (uint32_t)i;
    fail_msg("no hole %s", name);
    return 0;
}

static const pp_finding *finding(const holes_run *run, pp_characteristic which, const char *hole)
{
    const pp_judgement *j = &run->judgement;
    for (size_t i = j->first[which]; i < j->first[which + 1]; i++)
        if (j->findings[i].subject == named(run, hole)) return &j->findings[i];
    fail_msg("no finding of %s", hole);
    return NULL;
}

static bool cautioned(const holes_run *run, const char *words)
{
    for (size_t i = 0; i < run->judgement.caution_count; i++)
        if (strstr(run->judgement.cautions[i], words)) return true;
    return false;
}

static pp_verdict section(const holes_run *run, pp_characteristic which)
{
    return run->judgement.section[which].verdict;
}

/* --- one value, one limit --------------------------------------------------------------------- */

static void test_decide(void **state)
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
static void test_position_examples(void **state)
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
    assert_true(cautioned(&run, "Entry face only: drift not seen"));
    assert_true(cautioned(&run, "Temperature not stated"));
    pp_memory_free(&run.memory);
}

/* Hole 10.0 at maximum material measured 10.2: bonus 0.2, allowed 0.5; hole dx = 0.15: 0.30 against
 * 0.25 is out, with a bonus of 0.10 allowed 0.35: in. */
static void test_maximum_material(void **state)
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
static void test_diameter_share(void **state)
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
    assert_int_equal(run.judgement.repair_count, 0);
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
    /* the two are listed, the larger first; plugging both brings the share back: with one plugged
     * 15 % of 6 allows none */
    assert_int_equal(run.judgement.exception_count, 2);
    assert_int_equal(run.judgement.findings[run.judgement.exceptions[0]].subject,
                     named(&run, "NW"));
    assert_int_equal(run.judgement.repair_count, 2);
    pp_memory_free(&run.memory);
}

/* Undersize wins over oversize (repeat readings on both sides); oversize and undersize fail. */
static void test_diameter_classes(void **state)
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
static void test_faces_together(void **state)
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

static void test_ligament_classes(void **state)
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
static void test_unmeasured(void **state)
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
static void test_direct_ligaments_alone(void **state)
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
static void test_plugged(void **state)
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
static void test_guarded(void **state)
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

static void test_centre_uncertainty(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB "coverage = sample\nuncertainty_per_metre = 0.5\n"
                                      "uncertainty_temperature = 30 C\n" UNCERTAIN RULES,
                                  SEVEN, "hole,x,y,diameter\nE,32,0,25.7\n", NULL});
    double grow = 0.5 * 32 / 2000, warm = 11.5e-6 * 32 * 30 / 2;
    assert_near(run.measures.bores[0].u_centre, sqrt(1e-4 + grow * grow + warm * warm), 1e-15);
    pp_memory_free(&run.memory);
}

/* uncertainty above a quarter of the tolerance: 0.1 of the diameter's 0.15 */
static void test_coarse_uncertainty(void **state)
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

static void test_requirements(void **state)
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

/* --- misdrilled, others, gauges, checks ------------------------------------------------------- */

/* Half of ligament_minimum is 1.5 (half the nominal ligament 3.15): C-E at 1.4 is misdrilled, W-SW
 * at 1.6 only thin; extra X overlaps NE. */
static void test_misdrilled(void **state)
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

static void test_others(void **state)
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
static void test_gauges(void **state)
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

static void test_checks(void **state)
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

static void test_edge(void **state)
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

/* --- dates, lists ----------------------------------------------------------------------------- */

static void test_calibration(void **state)
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

static void test_judged_lists(void **state)
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
static void test_survey_cautions(void **state)
{
    (void)state;
    static const size_t outliers[] = {3, 41, 77, 78, 79, 80, 81, 82};
    static const char *const sentences[] = {"noisier than",
                                            "too few points",
                                            "8 points of the survey far off",
                                            "row 4, 42, 78, 79, 80, 81 and 2 more",
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
                                            .outlier_count = 8,
                                            .outliers = outliers,
                                            .outside_count = 2,
                                            .unseen_share = 0.131};
        else
            flatness.surface.unseen_share = 0.009;
        assert_ok(pp_judge(&run.job, &run.limits, &flatness, &run.measures, &run.files, 2,
                           &run.memory, &run.judgement, &error),
                  &error);
        for (size_t k = 0; k < sizeof sentences / sizeof *sentences; k++)
            assert_int_equal(cautioned(&run, sentences[k]), troubled);
        pp_memory_free(&run.memory);
    }
}

/* A thin ligament (C-E, 2.9) takes both of its holes to mend. E-NE and E-SE are in the remainder at
 * 4.74; 4 % of 12 pairs allows none, so with E plugged NE and SE follow. */
static void test_repair(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){JOB RULES, SEVEN,
                                  "hole,x,y,diameter\nC,0,0,25.7\nE,28.6,0,25.7\nNE,16,27.71,25.7\n"
                                  "NW,-16,27.71,25.7\nW,-32,0,25.7\nSW,-16,-27.71,25.7\n"
                                  "SE,16,-27.71,25.7\n",
                                  NULL});
    const pp_judgement *j = &run.judgement;
    assert_int_equal(j->repair_count, 4);
    assert_int_equal(j->repair[0], named(&run, "C"));
    assert_int_equal(j->repair[1], named(&run, "E"));
    assert_int_equal(j->repair[2], named(&run, "NE"));
    assert_int_equal(j->repair[3], named(&run, "SE"));
    pp_memory_free(&run.memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_decide),
        cmocka_unit_test(test_position_examples),
        cmocka_unit_test(test_maximum_material),
        cmocka_unit_test(test_diameter_share),
        cmocka_unit_test(test_diameter_classes),
        cmocka_unit_test(test_faces_together),
        cmocka_unit_test(test_ligament_classes),
        cmocka_unit_test(test_unmeasured),
        cmocka_unit_test(test_direct_ligaments_alone),
        cmocka_unit_test(test_plugged),
        cmocka_unit_test(test_guarded),
        cmocka_unit_test(test_centre_uncertainty),
        cmocka_unit_test(test_coarse_uncertainty),
        cmocka_unit_test(test_requirements),
        cmocka_unit_test(test_misdrilled),
        cmocka_unit_test(test_others),
        cmocka_unit_test(test_gauges),
        cmocka_unit_test(test_checks),
        cmocka_unit_test(test_edge),
        cmocka_unit_test(test_calibration),
        cmocka_unit_test(test_judged_lists),
        cmocka_unit_test(test_survey_cautions),
        cmocka_unit_test(test_repair),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

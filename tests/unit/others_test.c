/* Holes of kind other, and gauges beside readings: what must not be passed in silence. */
#include "rules/judging.h"
#include "support/seven_holes.h"

#define HEAD                                                                                       \
    "[plate]\noutline = disc\ndiameter = 400\nthickness = 30\n[holes]\nnominal = nominal.csv\n"    \
    "measured = measured.csv\npitch = 32\n"
#define NOMINAL "hole,x,y,kind,diameter,under,over\nA1,0,0,tube,,,\nA2,32,0,tube,,,\n"
#define SIZED NOMINAL "T1,16,20,other,10.5,0.05,0.1\n"
#define PLAIN NOMINAL "T1,16,20,other,,,\n"
#define TUBES "hole,x,y,diameter\nA1,0,0,25.7\nA2,32,0,25.7\n"
#define LIMITS "[rules]\n" SIZES

static pp_verdict verdict_of(const char *job, const char *nominal, const char *measured)
{
    holes_run run;
    run_texts(&run, (holes_texts){job, nominal, measured, NULL});
    pp_verdict verdict = run.judgement.verdict;
    pp_memory_free(&run.memory);
    return verdict;
}

static void check_refused(holes_texts texts, const char *message)
{
    holes_run run;
    pp_error error = {0};
    assert_int_equal(holes_run_texts(&run, texts, 1, &error), PP_EINPUT);
    if (!strstr(error.message, message)) fail_msg("%s", error.message);
    pp_memory_free(&run.memory);
}

/* Centres sqrt(16.5^2 + 20^2) = 25.9278 and sqrt(15.5^2 + 20^2) = 25.3032 from the tube holes; less
 * 17.85: 8.0778 to A1, 7.4532 to A2. What was measured to A1 says nothing of A2. */
static void a_direct_ligament_replaces_its_pair_only(void **state)
{
    (void)state;
    const char *job = HEAD "ligaments = more.csv\nother_ligament_minimum = 7.5\n" LIMITS;
    const char *measured = TUBES "T1,16.5,20,10\n";
    static const struct {
        const char *direct;
        pp_verdict verdict;
    } CASE[] = {
        {"T1,A1,9\n", PP_DOES_NOT_CONFORM},
        {"T1,A2,7.6\n", PP_CONFORMS},
        {"A2,T1,7.6\nA1,T1,7.4\n", PP_DOES_NOT_CONFORM},
        {"T1,A1,9\nT1,A2,7.7\nT1,A2,7.4\n", PP_DOES_NOT_CONFORM},
        {"T1,A1,9\nT1,A2,7.7\nT1,A2,7.6\n", PP_CONFORMS},
    };
    for (size_t i = 0; i < sizeof CASE / sizeof *CASE; i++) {
        char direct[120];
        snprintf(direct, sizeof direct, "hole_a,hole_b,ligament\n%s", CASE[i].direct);
        holes_run run;
        run_texts(&run, (holes_texts){job, PLAIN, measured, direct});
        assert_int_equal(run.judgement.section[PP_OTHER_LIGAMENT].verdict, CASE[i].verdict);
        assert_int_equal(run.judgement.verdict, CASE[i].verdict);
        pp_memory_free(&run.memory);
    }
}

/* Whatever it would have been judged by: not measured, not proven. */
static void others_not_measured_prove_nothing(void **state)
{
    (void)state;
    assert_int_equal(verdict_of(HEAD LIMITS, PLAIN, TUBES), PP_CONFORMS);
    assert_int_equal(verdict_of(HEAD LIMITS, SIZED, TUBES), PP_NOT_PROVEN);
    assert_int_equal(verdict_of(HEAD "position_limit = 1\n" LIMITS, PLAIN, TUBES), PP_NOT_PROVEN);
    assert_int_equal(verdict_of(HEAD "pattern_limit = 1\n" LIMITS, PLAIN, TUBES), PP_NOT_PROVEN);
    assert_int_equal(verdict_of(HEAD "other_ligament_minimum = 5\n" LIMITS, PLAIN, TUBES),
                     PP_NOT_PROVEN);
    assert_int_equal(
        verdict_of(HEAD "other_ligament_minimum = 5\ncoverage = sample\n" LIMITS, PLAIN, TUBES),
        PP_CONFORMS);
}

/* Its own size needs the uncertainty of diameters, whether or not tube holes are judged. */
static void a_size_of_its_own_wants_its_uncertainty(void **state)
{
    (void)state;
    check_refused(
        (holes_texts){HEAD "[rules]\ndecision = guarded\n", SIZED, TUBES "T1,16,20,10.55\n", NULL},
        "uncertainty_diameter");
    assert_int_equal(verdict_of(HEAD "uncertainty_diameter = 0.01\n[rules]\ndecision = guarded\n",
                                SIZED, TUBES "T1,16,20,10.55\n"),
                     PP_CONFORMS);
}

/* A verdict never stands alone: what was judged is said where only they were judged. */
static void others_judged_alone_are_said_so(void **state)
{
    (void)state;
    holes_run run;
    run_texts(&run, (holes_texts){HEAD "position_limit = 1\n",
                                  "hole,x,y,kind\nT1,0,0,other\nT2,60,0,other\n",
                                  "hole,x,y,diameter\nT1,0.01,0,5\nT2,60,0.01,5\n", NULL});
    const pp_judgement *j = &run.judgement;
    assert_int_equal(j->verdict, PP_CONFORMS);
    assert_string_equal(j->basis, "2 of 2 holes of kind other");
    assert_int_equal(j->judged_count, 1);
    assert_string_equal(j->judged[0], "other holes");
    pp_memory_free(&run.memory);
}

/* A hole of kind other has gauges of its own: 10.45 and 10.6, not the tubes' 25.6 and 25.75. At
 * maximum material go gives no bonus, and the metal left to A1 is sqrt(16^2 + 20^2) - (10.6 +
 * 25.7)/2 = 7.4625. */
static void an_other_hole_has_gauges_of_its_own(void **state)
{
    (void)state;
    const char *measured = "hole,x,y,diameter,go,no_go\nA1,0,0,25.7,,\nA2,32,0,25.7,,\n"
                           "T1,16,20,,yes,no\n";
    holes_run run;
    run_texts(&run, (holes_texts){HEAD "position_limit = 0.1\nmaterial_condition = maximum\n"
                                       "other_ligament_minimum = 7\n" LIMITS,
                                  SIZED, measured, NULL});
    const pp_judgement *j = &run.judgement;
    assert_int_equal(j->verdict, PP_CONFORMS);
    assert_near(run.measures.other_ligaments[0].value, 7.4624969, 1e-7);
    assert_near(pp_position_limit_of(j, 0.1, 2, PP_ENTRY), 0.1, 1e-12);
    pp_memory_free(&run.memory);
}

/* One hole, diameter rules as given; class and verdict of what the row says. */
static void check_gauge(const char *rules, const char *row, pp_class class_, pp_verdict verdict,
                        uint8_t standard)
{
    char job[600], measured[200];
    snprintf(job, sizeof job, "%s%s", HEAD "uncertainty_diameter = 0.02\ncoverage = sample\n",
             rules);
    snprintf(measured, sizeof measured, "hole,x,y,diameter,go,no_go,no_go_max\n%s", row);
    holes_run run;
    run_texts(&run, (holes_texts){job, PLAIN, measured, NULL});
    const pp_finding *f = &run.judgement.findings[run.judgement.first[PP_DIAMETER]];
    assert_int_equal(f->class_, class_);
    assert_int_equal(f->verdict, verdict);
    assert_int_equal(f->proven_standard, standard);
    pp_memory_free(&run.memory);
}

/* The worse of gauge and reading counts; undersize wins over oversize. */
static void the_worse_of_gauge_and_reading_counts(void **state)
{
    (void)state;
    const char *one = "[rules]\nhole_nominal = 25.7\nhole_under = 0.1\nhole_over = 0.05\n"
                      "hole_over_limit = 0.05\n";
    const char *guarded = LIMITS "decision = guarded\n";
    check_gauge(LIMITS, "A1,0,0,25.7,yes,yes,no\n", PP_CLASS_REMAINDER, PP_CONFORMS, 2);
    check_gauge(one, "A1,0,0,25.7,yes,yes,\n", PP_CLASS_OUT, PP_DOES_NOT_CONFORM, 2);
    check_gauge(LIMITS, "A1,0,0,25.59,yes,yes,\n", PP_CLASS_UNDER, PP_DOES_NOT_CONFORM, 2);
    check_gauge(LIMITS, "A1,0,0,25.59,yes,yes,yes\n", PP_CLASS_UNDER, PP_DOES_NOT_CONFORM, 2);
    /* 25.74 lies within the guard band of 25.75: open, but the gauge proves it beyond */
    check_gauge(guarded, "A1,0,0,25.74,,,\n", PP_CLASS_IN, PP_CONFORMS, 0);
    check_gauge(guarded, "A1,0,0,25.74,yes,yes,no\n", PP_CLASS_REMAINDER, PP_CONFORMS, 2);
}

/* Gauges that cannot both be right: refused in one row; of two readings the worse counts. */
static void gauges_that_contradict_are_refused(void **state)
{
    (void)state;
    static const char HEADER[] = "hole,x,y,go,no_go,no_go_max\n";
    char measured[200];
    static const char *const ROW[] = {"A1,0,0,no,yes,\n", "A1,0,0,no,,yes\n",
                                      "A1,0,0,yes,no,yes\n"};
    for (size_t i = 0; i < sizeof ROW / sizeof *ROW; i++) {
        snprintf(measured, sizeof measured, "%s%s", HEADER, ROW[i]);
        check_refused((holes_texts){HEAD LIMITS, PLAIN, measured, NULL}, "a smaller one does not");
    }
    check_gauge(LIMITS, "A1,0,0,,yes,no,\nA1,0,0,,yes,,yes\n", PP_CLASS_OUT, PP_DOES_NOT_CONFORM,
                2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_direct_ligament_replaces_its_pair_only),
        cmocka_unit_test(others_not_measured_prove_nothing),
        cmocka_unit_test(a_size_of_its_own_wants_its_uncertainty),
        cmocka_unit_test(others_judged_alone_are_said_so),
        cmocka_unit_test(an_other_hole_has_gauges_of_its_own),
        cmocka_unit_test(the_worse_of_gauge_and_reading_counts),
        cmocka_unit_test(gauges_that_contradict_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* The hold-down study judged, by hand: every limit a hair inside and a hair outside. */
#include "support/check.h"

#include <string.h>

#include "rules/holddown_rules.h"

enum { HOLES = 4 };

typedef struct studied {
    pp_memory memory;
    pp_job job;
    pp_hold holes[HOLES];
    pp_hold_gap gaps[HOLES];
    pp_holddown study;
    pp_holddown_judgement judged;
} studied;

static void make(studied *s, pp_support_kind support)
{
    *s = (studied){0};
    s->job.plate.thickness = 40;
    s->job.plate.yield_strength = 250;
    s->job.support.pin_load_limit = 5000;
    for (int i = 0; i < HOLES; i++) s->holes[i] = (pp_hold){.gap = 0.2, .gap_under_foot = 0.1};
    s->study = (pp_holddown){.support = support,
                             .laid = PP_LAID_FREE,
                             .gap_limit = 0.3,
                             .tilt_limit = 1.5,
                             .touch_gap = 0.02,
                             .count = HOLES,
                             .holes = s->holes,
                             .largest_gap_under_foot = 0.1,
                             .contact_points = 12,
                             .touching = 7};
}

static void judge(studied *s)
{
    pp_error error = {0};
    assert_ok(pp_holddown_judge(&s->job, &s->study, &s->memory, &s->judged, &error), &error);
}

static void a_class_is_what_gap_and_foot_come_to(void **state)
{
    (void)state;
    static const struct {
        pp_support_kind support;
        double gap, under_foot;
        pp_hold_class class_;
    } cases[] = {{PP_SUPPORT_TABLE, 0.3 + 5e-7, 0.3, PP_SEATED},
                 {PP_SUPPORT_TABLE, 0.3 + 2e-6, 0.3 + 5e-7, PP_SEATS_UNDER_FOOT},
                 {PP_SUPPORT_TABLE, 0.9, 0.3 + 2e-6, PP_NEEDS_HOLDDOWN},
                 {PP_SUPPORT_TABLE, -0.9, -0.9, PP_SEATED}, /* between points of contact */
                 {PP_SUPPORT_PINS, 0.1, -0.3 - 5e-7, PP_SEATED},
                 {PP_SUPPORT_PINS, 0.1, -0.3 - 2e-6, PP_SAGS}};
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        studied s;
        make(&s, cases[k].support);
        s.holes[2].gap = cases[k].gap;
        s.holes[2].gap_under_foot = cases[k].under_foot;
        judge(&s);
        assert_int_equal(s.judged.class_[2], cases[k].class_);
        assert_int_equal(s.judged.ready, cases[k].class_ < PP_NEEDS_HOLDDOWN);
        pp_hold_remedies wanted = pp_hold_remedies_of(&s.study);
        assert_int_equal(wanted.clamps, cases[k].class_ == PP_NEEDS_HOLDDOWN);
        assert_int_equal(wanted.shims, !s.judged.ready);
        pp_memory_free(&s.memory);
    }
}

static void what_seats_is_not_ready_where_it_leans_rocks_or_sags_once_drilled(void **state)
{
    (void)state;
    studied s;
    make(&s, PP_SUPPORT_PINS);
    judge(&s);
    assert_true(s.judged.ready);
    s.holes[1].tilt = 1.5 + 5e-7;
    judge(&s);
    assert_true(s.judged.ready);
    s.holes[1].tilt = 1.5 + 2e-6;
    judge(&s);
    assert_int_equal(s.judged.leaning, 1);
    assert_false(s.judged.ready);
    s.holes[1].tilt = 0;
    s.study.touching = 4; /* of 12 */
    judge(&s);
    assert_true(s.judged.rocks && !s.judged.ready);
    s.study.contact_points = 7; /* of so few, four are more than half */
    judge(&s);
    assert_true(!s.judged.rocks && s.judged.ready);
    s.study.drilled.gaps = s.gaps;
    s.gaps[3].under_foot = -0.31;
    judge(&s);
    assert_int_equal(s.judged.drilled.sags, 1);
    assert_int_equal(s.judged.counts.sags, 0);
    assert_false(s.judged.ready);
    pp_memory_free(&s.memory);
}

static void loads_and_stresses_are_held_against_their_limits(void **state)
{
    (void)state;
    studied s;
    make(&s, PP_SUPPORT_PINS);
    assert_near(pp_plan_stress_most(&s.job), 75, 1e-12);
    s.study.drilled.largest_support_force = 5001;
    s.study.flattening_low = 74, s.study.flattening_high = 76;
    judge(&s);
    assert_int_equal(s.judged.pin_load, PP_DOES_NOT_CONFORM);
    assert_int_equal(s.judged.flattening, PP_NOT_PROVEN);
    s.study.drilled.largest_support_force = 5000;
    s.study.flattening_high = 75;
    judge(&s);
    assert_int_equal(s.judged.pin_load, PP_CONFORMS);
    assert_int_equal(s.judged.flattening, PP_CONFORMS);
    s.study.flattening_low = s.study.flattening_high = 75.1;
    s.job.support.pin_load_limit = NAN;
    judge(&s);
    assert_int_equal(s.judged.pin_load, PP_NOT_JUDGED);
    assert_int_equal(s.judged.flattening, PP_DOES_NOT_CONFORM);
    pp_memory_free(&s.memory);
}

static void turned_over_is_better_only_clearly(void **state)
{
    (void)state;
    studied s;
    make(&s, PP_SUPPORT_TABLE);
    for (int i = 0; i < 3; i++) s.holes[i].gap = s.holes[i].gap_under_foot = 0.5;
    s.study.largest_gap_under_foot = 0.5;
    s.study.turned_over.gaps = s.gaps;
    s.gaps[0] = (pp_hold_gap){0.6, 0.4};
    s.study.turned_over.worst_gap = 0.4;
    judge(&s);
    assert_int_equal(s.judged.turned.needs_holddown, 1);
    assert_true(s.judged.turn_over);
    s.study.turned_over.worst_gap = 0.6; /* fewer fail, the worst is worse */
    judge(&s);
    assert_false(s.judged.turn_over);
    s.study.turned_over.worst_gap = 0.4;
    s.gaps[1] = s.gaps[0]; /* two are more than half of three */
    judge(&s);
    assert_false(s.judged.turn_over);
    pp_memory_free(&s.memory);
}

/* Both ways clamps are needed: the fewer, or as many with three quarters of the force, or the only
 * ones there are. */
static void turned_over_is_better_with_easier_clamps(void **state)
{
    (void)state;
    const pp_clamp laid[] = {{.force = 4000}, {.force = 4000}, {.force = 4000}};
    const pp_clamp light[] = {{.force = 3000}, {.force = 3000}, {.force = 2999}};
    const pp_clamp heavy[] = {{.force = 3000}, {.force = 3000}, {.force = 3001}, {.force = 1}};
    const struct {
        bool found, turned_found;
        size_t count;
        const pp_clamp *clamps;
        bool turn;
    } cases[] = {{true, true, 2, heavy, true},  {true, true, 3, light, true},
                 {true, true, 3, heavy, false}, {true, true, 4, heavy, false},
                 {true, false, 0, NULL, false}, {false, true, 4, heavy, true},
                 {false, false, 0, NULL, false}};
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        studied s;
        make(&s, PP_SUPPORT_TABLE);
        for (int i = 0; i < 3; i++) {
            s.holes[i].gap = s.holes[i].gap_under_foot = 0.5;
            s.gaps[i] = (pp_hold_gap){0.6, 0.6};
        }
        s.study.turned_over.gaps = s.gaps;
        s.study.turned_over.worst_gap = 0.6;
        s.study.largest_gap_under_foot = 0.5;
        s.study.plan_found = cases[k].found;
        s.study.clamp_count = cases[k].found ? 3 : 0;
        s.study.plan = laid;
        s.study.turned_over.plan = (pp_plan){.found = cases[k].turned_found,
                                             .clamp_count = cases[k].count,
                                             .clamps = cases[k].clamps};
        assert_true(pp_hold_remedies_of(&s.study).turned_clamps);
        judge(&s);
        assert_int_equal(s.judged.turn_over, cases[k].turn);
        assert_int_equal(s.judged.turned_plan_found, cases[k].turned_found);
        pp_memory_free(&s.memory);
    }
}

/* Every state of the clamps: the worst gap, the deepest sag and the pins' loads against theirs. */
static void a_set_up_holds_where_gaps_and_loads_do(void **state)
{
    (void)state;
    static const struct {
        double gap, sag, force;
        pp_verdict verdict;
    } cases[] = {{0.3 + 5e-7, 0.29, 4999, PP_CONFORMS},
                 {0.3 + 2e-6, 0, 4999, PP_DOES_NOT_CONFORM},
                 {0.1, 0.31, 4999, PP_DOES_NOT_CONFORM},
                 {0.1, 0, 5001, PP_DOES_NOT_CONFORM},
                 {0.1, 0, NAN, PP_CONFORMS}};
    enum { CASES = sizeof cases / sizeof *cases };
    pp_drill_setup setups[CASES];
    studied s;
    make(&s, PP_SUPPORT_PINS);
    for (size_t k = 0; k < CASES; k++)
        setups[k] = (pp_drill_setup){.worst_gap = cases[k].gap,
                                     .deepest_sag = cases[k].sag,
                                     .largest_support_force = cases[k].force};
    s.study.setups = (pp_setup_list){.count = CASES, .setups = setups};
    judge(&s);
    for (size_t k = 0; k < CASES; k++) assert_int_equal(s.judged.setups[k], cases[k].verdict);
    pp_memory_free(&s.memory);
}

/* Clamps that the job gives: ready with them when every set-up is held and the plate not bent. */
static void clamps_given_are_what_ready_means(void **state)
{
    (void)state;
    studied s;
    make(&s, PP_SUPPORT_PINS);
    pp_drill_setup setups[] = {{.worst_gap = 0.2}, {.worst_gap = 0.29}};
    pp_clamp clamps[] = {{.from_pin = 39}, {.from_pin = 41}, {.from_pin = 90, .edge_stop = true}};
    s.holes[1].gap = s.holes[1].gap_under_foot = 0.8;
    s.study.setups = (pp_setup_list){.count = 2, .setups = setups};
    judge(&s);
    assert_false(s.judged.ready);
    s.study.plan_given = true;
    s.study.clamp_count = 3;
    s.study.plan = clamps;
    s.study.plan_stress = 74.9; /* of 0.3 times 250 */
    judge(&s);
    assert_true(s.judged.ready && s.judged.plan_found && s.judged.clamping_advised);
    assert_int_equal(s.judged.given_unsupported, 1); /* the plate is 40 thick */
    s.job.holddown.clamp_force_limit = 9000;
    clamps[1].force = 9000;
    judge(&s);
    assert_true(s.judged.ready && s.judged.given_too_strong == 0);
    clamps[1].force = 9001;
    judge(&s);
    assert_true(!s.judged.ready && !s.judged.clamping_advised && s.judged.given_too_strong == 1);
    clamps[1].force = 0;
    s.study.plan_stress = 75.1;
    judge(&s);
    assert_true(s.judged.given_bends && !s.judged.ready && s.judged.plan_found);
    s.study.plan_stress = 10;
    setups[1].worst_gap = 0.31;
    judge(&s);
    assert_true(!s.judged.ready && !s.judged.plan_found);
    pp_memory_free(&s.memory);
}

/* Each pin against its load, the pressure on its top and the distance from the holes. */
static void a_pin_in_a_drills_way_is_never_ready(void **state)
{
    (void)state;
    studied s;
    make(&s, PP_SUPPORT_PINS);
    pp_fixture_pin pins[] = {
        {.load_solid = 4999, .load_drilled = 10, .pressure = 150, .metal = 1},
        {.load_solid = 10, .load_drilled = 5001, .pressure = 10, .metal = 2},
        {.load_solid = 10, .load_drilled = NAN, .pressure = 151, .metal = INFINITY},
        {.load_solid = 10, .load_drilled = NAN, .pressure = NAN, .metal = NAN}};
    s.study.fixture = pins;
    s.study.pin_count = 4;
    s.job.support.pin_clearance = 1;
    s.job.support.pin_pressure_limit = 150;
    judge(&s);
    assert_near(s.judged.pin_pressure_most, 150, 0);
    assert_int_equal(s.judged.pins[0].clearance, PP_CONFORMS);
    assert_int_equal(s.judged.pins[1].load, PP_DOES_NOT_CONFORM);
    assert_int_equal(s.judged.pins[2].pressure, PP_DOES_NOT_CONFORM);
    assert_int_equal(s.judged.pins[2].clearance, PP_CONFORMS);
    assert_int_equal(s.judged.pins[3].clearance, PP_NOT_JUDGED);
    assert_int_equal(s.judged.pins_failing, 2);
    assert_true(s.judged.ready);
    pins[0].metal = 0.99;
    judge(&s);
    assert_int_equal(s.judged.pins_in_the_way, 1);
    assert_false(s.judged.ready);
    pp_memory_free(&s.memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_class_is_what_gap_and_foot_come_to),
        cmocka_unit_test(what_seats_is_not_ready_where_it_leans_rocks_or_sags_once_drilled),
        cmocka_unit_test(loads_and_stresses_are_held_against_their_limits),
        cmocka_unit_test(turned_over_is_better_only_clearly),
        cmocka_unit_test(turned_over_is_better_with_easier_clamps),
        cmocka_unit_test(a_set_up_holds_where_gaps_and_loads_do),
        cmocka_unit_test(clamps_given_are_what_ready_means),
        cmocka_unit_test(a_pin_in_a_drills_way_is_never_ready),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

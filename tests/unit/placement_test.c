/* The stage around the smallest zone: who takes part, bonuses, and whether a move saves the plate.
 */
#include "support/check.h"
#include "support/measures.h"

#include "rules/placement.h"

static const double NX[] = {0, 31.75, 63.5, 0, 31.75, 63.5};
static const double NY[] = {0, 0, 0, 400, 400, 400};

static pp_limits limits_of(double position_limit)
{
    pp_limits l;
    memset(&l, 0, sizeof l);
    l.position_limit.value = position_limit;
    l.ligament_nominal = l.metal_nominal = 6.1;
    l.ligament_minimum.value = 3.8;
    l.hole_nominal.value = 25.65;
    l.diameter_lower = 25.55;
    return l;
}

/* Every hole shifted by (.3, -.2); hole T3 (at x = 63.5) by a further (.24, 0). */
static void begin(test_plate *p)
{
    test_plate_begin(p, 6, NX, NY, 12);
    for (uint32_t i = 0; i < 6; i++)
        test_plate_measure(p, i, PP_ENTRY, NX[i] + 0.3 + (i == 2 ? 0.24 : 0), NY[i] - 0.2, 25.63,
                           NAN);
}

static pp_placement place(test_plate *p, const pp_limits *limits)
{
    pp_placement placement;
    pp_error error = {0};
    assert_ok(pp_place(&p->job, &p->measures, limits, 2, &p->memory, &placement, &error), &error);
    return placement;
}

static bool is_witness(const pp_placement *p, uint32_t hole)
{
    for (int k = 0; k < p->witness_count; k++)
        if (p->witnesses[k] == hole) return true;
    return false;
}

static void a_shifted_plate_is_saved_by_moving_it(void **state)
{
    (void)state;
    test_plate p;
    begin(&p);
    pp_limits limits = limits_of(0.5);
    pp_placement z = place(&p, &limits);
    assert_true(z.valid);
    /* as aligned the worst is T3: 2 |(.54, -.2)| */
    assert_near(z.as_aligned, 2 * hypot(0.54, 0.2), 1e-12);
    /* one shift splits T3's .24: a diametral zone of .24 at most, and hardly less by turning */
    assert_true(z.zone <= 0.24 + 1e-9 && z.zone > 0.2);
    assert_near(z.zone, z.lower_bound, 2e-9);
    assert_true(z.saves);
    assert_true(z.moved > 0.3 && z.moved < 0.6);
    assert_int_equal(z.holes, 6);
    assert_true(is_witness(&z, 2));
    /* a limit that no placement meets */
    limits = limits_of(0.2);
    assert_false(place(&p, &limits).saves);
    /* a limit met as it lies needs no saving */
    limits = limits_of(1.2);
    assert_false(place(&p, &limits).saves);
    /* no limit: nothing to save */
    limits = limits_of(NAN);
    z = place(&p, &limits);
    assert_true(z.valid && !z.saves);
    test_plate_end(&p);
}

static void the_placement_is_on_top_of_the_alignment(void **state)
{
    (void)state;
    test_plate p;
    begin(&p);
    pp_limits limits = limits_of(0.5);
    pp_placement z = place(&p, &limits);
    double worst = 0, c = cos(z.angle_deg / 57.29577951308232),
           s = sin(z.angle_deg / 57.29577951308232);
    for (int i = 0; i < 6; i++) {
        double x = c * p.bores[i].at.x - s * p.bores[i].at.y + z.dx;
        double y = s * p.bores[i].at.x + c * p.bores[i].at.y + z.dy;
        worst = fmax(worst, 2 * hypot(x - NX[i], y - NY[i]));
    }
    assert_near(worst, z.zone, 1e-11);
    test_plate_end(&p);
}

static void bonuses_come_off_with_maximum_material_only(void **state)
{
    (void)state;
    test_plate p;
    begin(&p);
    pp_limits limits = limits_of(0.5);
    double regardless = place(&p, &limits).zone;
    p.job.holes.material_condition = PP_MAXIMUM_MATERIAL;
    /* every hole 25.63 against a smallest allowed of 25.55: .08 off everywhere */
    assert_near(place(&p, &limits).zone, regardless - 0.08, 1e-9);
    /* an undersize hole gets no bonus, not a negative one */
    for (int i = 0; i < 6; i++) p.bores[i].diameter_min = 25.4;
    assert_near(place(&p, &limits).zone, regardless, 1e-9);
    /* a plug gauge that proves no size: none either */
    for (int i = 0; i < 6; i++) p.bores[i].diameter_min = NAN;
    assert_near(place(&p, &limits).zone, regardless, 1e-9);
    test_plate_end(&p);
}

static void blunders_are_left_out_and_named(void **state)
{
    (void)state;
    test_plate p;
    begin(&p);
    test_plate_measure(&p, PP_NONE, PP_ENTRY, 333.3, 12.2, 25.6, NAN); /* an extra hole */
    p.bores[4].at.x = 63.5 + 0.3 - 26;                   /* T5 drilled 26 mm beside T6 */
    pp_close_pair close[] = {{4, 5, 0.35}, {0, 1, 3.2}}; /* half of 3.8 and of 6.1: below 1.9 */
    p.measures.close = close;
    p.measures.close_count = 2;
    pp_limits limits = limits_of(0.5);
    pp_placement z = place(&p, &limits);
    assert_int_equal(z.left_out_count, 2);
    assert_int_equal(z.left_out[0], 4);
    assert_int_equal(z.left_out[1], 5);
    assert_int_equal(z.holes, 4);
    assert_true(z.zone < 0.25);
    p.measures.close_count = 0; /* not called a blunder, it owns the result */
    assert_true(place(&p, &limits).zone > 3);
    /* plugged holes do not take part */
    p.plugged[4] = true;
    assert_true(place(&p, &limits).zone < 0.25);
    test_plate_end(&p);
}

static void exits_take_part_unless_aligned_on_their_own(void **state)
{
    (void)state;
    test_plate p;
    test_plate_begin(&p, 6, NX, NY, 12);
    for (uint32_t i = 0; i < 6; i++) {
        test_plate_measure(&p, i, PP_ENTRY, NX[i], NY[i], 25.6, NAN);
        test_plate_measure(&p, i, PP_EXIT, NX[i] + 0.46, NY[i], 25.6, NAN);
    }
    pp_limits limits = limits_of(0.5);
    pp_placement z = place(&p, &limits);
    assert_near(z.zone, 0.46, 1e-9); /* a lean of .46: half of it at either face */
    assert_int_equal(z.holes, 6);
    assert_true(z.witness_count <= 2);
    p.measures.alignment.exit_own = true;
    assert_near(place(&p, &limits).zone, 0, 1e-9);
    test_plate_end(&p);
}

static void a_guarded_saving_must_be_proven(void **state)
{
    (void)state;
    test_plate p;
    begin(&p);
    pp_limits limits = limits_of(0.3);
    assert_true(isnan(place(&p, &limits).u));
    p.job.rules.decision = PP_GUARDED;
    pp_bore_error errors[6];
    p.measures.bore_errors = errors;
    for (int i = 0; i < 6; i++) errors[i] = (pp_bore_error){0.005 + 0.001 * i, {NAN, NAN}};
    pp_placement z = place(&p, &limits);
    assert_true(z.u >= 0.014 && z.u <= 0.02); /* of a witness, twice a coordinate's */
    assert_true(z.saves);
    for (int i = 0; i < 6; i++) errors[i].u_centre = 0.03; /* guard .0987 */
    z = place(&p, &limits);
    assert_near(z.u, 0.06, 1e-15);
    assert_false(z.saves);
    test_plate_end(&p);
}

static void nothing_measured_is_not_valid(void **state)
{
    (void)state;
    test_plate p;
    test_plate_begin(&p, 6, NX, NY, 1);
    pp_limits limits = limits_of(0.5);
    pp_placement z = place(&p, &limits);
    assert_false(z.valid);
    assert_int_equal(z.witness_count, 0);
    test_plate_end(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_shifted_plate_is_saved_by_moving_it),
        cmocka_unit_test(the_placement_is_on_top_of_the_alignment),
        cmocka_unit_test(bonuses_come_off_with_maximum_material_only),
        cmocka_unit_test(blunders_are_left_out_and_named),
        cmocka_unit_test(exits_take_part_unless_aligned_on_their_own),
        cmocka_unit_test(a_guarded_saving_must_be_proven),
        cmocka_unit_test(nothing_measured_is_not_valid),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

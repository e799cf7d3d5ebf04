/* The hold-down study against the reference jobs of data/reference/holddown: computed by an
 * independent program (numpy and scipy, finer meshes), each value with a tolerance from mesh
 * refinement. Forces there are in kN. */

#include "base/constants.h"
#include "linalg/linalg.h"
#include "support/holdcase.h"

static void check_case(const holdcase *s)
{
    static const char *const key[COLUMNS] = {"gap_F0", "gap_foot", "F_close", "tilt"};
    const pp_holddown *r = &s->holddown;
    assert_near(r->plate_weight / 1000, holdcase_expected(s, "weight_kN", "value"),
                holdcase_expected(s, "weight_kN", "tol"));
    double stress = holdcase_expected(s, "flat_stress_max_MPa", "value");
    assert_true(r->flattening_low <= stress && stress <= r->flattening_high);
    assert_near(r->flattening_as_fitted, stress,
                stress * holdcase_expected(s, "flat_stress_max_MPa", "tol_rel"));
    json_t *tables = json_object_get(s->expected, "expected");
    for (column c = 0; c < COLUMNS; c++) {
        json_t *table = json_object_get(tables, key[c]);
        json_t *values = json_object_get(table, "value");
        json_t *tolerances = json_object_get(table, "tol");
        assert_int_equal(json_array_size(values), r->count);
        for (size_t i = 0; i < r->count; i++) {
            double got = holdcase_value(&r->holes[i], c);
            double want = json_number_value(json_array_get(values, i));
            double tolerance = json_number_value(json_array_get(tolerances, i));
            if (!(fabs(got - want) <= tolerance))
                print_error("%s of %s:\n", key[c], s->nominal.name[i]);
            assert_near(got, want, tolerance);
        }
    }
}

/* Beside the table, plate theory. A circular plate on its rim under a central force F drops there
 * by F R^2 (3 + nu)/(16 pi (1 + nu) D), D = E t^3/(12 (1 - nu^2)) (Timoshenko and
 * Woinowsky-Krieger); 2 mm of gap come down to 0.2 under 21.42 kN. */
static void dome_on_its_rim(void **state)
{
    (void)state;
    const double pi = PP_PI, nu = 0.3, e = 210000, t = 50, r = 2000;
    double d = e * t * t * t / (12 * (1 - nu * nu));
    double drop_per_newton = r * r * (3 + nu) / (16 * pi * (1 + nu) * d);
    holdcase s;
    holdcase_read("disc_dome", &s);
    holdcase_solve(&s, 32, 2);
    check_case(&s);
    const pp_hold *centre = &s.holddown.holes[0];
    assert_near(centre->force_to_close * drop_per_newton, 1.8, 5e-4 * 1.8);
    assert_near(centre->gap - centre->gap_under_foot, 1e4 * drop_per_newton,
                5e-4 * 1e4 * drop_per_newton);
    holdcase_release(&s);
}

/* Beside the table, a beam resting on both ends: 48 E I/L^3 = 243.1 N/mm push its middle down
 * 2.7 mm. A plate is a little stiffer, since it cannot curl freely. */
static void strip_on_its_ends(void **state)
{
    (void)state;
    holdcase s;
    holdcase_read("strip_bow", &s);
    holdcase_solve(&s, 32, 2);
    check_case(&s);
    double beam = 48 * 210000.0 * (500 * 25.0 * 25 * 25 / 12) / (3000.0 * 3000 * 3000) * 2.7;
    assert_true(s.holddown.holes[0].force_to_close > beam);
    assert_near(s.holddown.holes[0].force_to_close / beam, 1, 0.02);
    holdcase_release(&s);
}

static void sheet_flattened_by_its_weight(void **state)
{
    (void)state;
    holdcase s;
    holdcase_read("gravity_flattens", &s);
    holdcase_solve(&s, 32, 2);
    check_case(&s);
    holdcase_release(&s);
}

static void a_rectangle_surveyed_free_is_solved_as_elsewhere(void **state)
{
    (void)state;
    holdcase s;
    holdcase_read("rect_free", &s);
    holdcase_solve(&s, 32, 2);
    check_case(&s);
    holdcase_release(&s);
}

static void threads_do_not_change_a_bit(void **state)
{
    (void)state;
    holdcase one, four;
    holdcase_read("rect_free", &one);
    holdcase_read("rect_free", &four);
    holdcase_solve(&one, 16, 1);
    holdcase_solve(&four, 16, 4);
    assert_memory_equal(one.holddown.holes, four.holddown.holes,
                        one.holddown.count * sizeof *one.holddown.holes);
    assert_int_equal(one.holddown.clamp_count, four.holddown.clamp_count);
    for (size_t k = 0; k < one.holddown.clamp_count; k++)
        assert_near(one.holddown.plan[k].force, four.holddown.plan[k].force, 0);
    assert_near(one.holddown.turned_over.worst_gap, four.holddown.turned_over.worst_gap, 0);
    holdcase_release(&one);
    holdcase_release(&four);
}

int main(void)
{
    pp_blas_single_thread();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(dome_on_its_rim),
        cmocka_unit_test(strip_on_its_ends),
        cmocka_unit_test(sheet_flattened_by_its_weight),
        cmocka_unit_test(a_rectangle_surveyed_free_is_solved_as_elsewhere),
        cmocka_unit_test(threads_do_not_change_a_bit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

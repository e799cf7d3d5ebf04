/* The patterns that are searched for, against the reference cases of data/reference/diagnosis2. */
#include "support/diagnosis_case.h"

typedef struct tolerance {
    double value, error; /* in standard errors; of a standard error */
} tolerance;

static void check_values(const char *what, double got, double got_error, double want,
                         double want_error, tolerance t)
{
    if (fabs(got - want) > t.value * want_error || fabs(got_error / want_error - 1) > t.error)
        print_error("%s: %g +- %g, expected %g +- %g\n", what, got, got_error, want, want_error);
    assert_near(got, want, t.value * want_error);
    assert_near(got_error / want_error, 1, t.error);
}

static double item(const json_t *array, size_t i)
{
    return json_number_value(json_array_get(array, i));
}

static void check_terms(const pp_diagnosis *d, const json_t *want, tolerance t)
{
    size_t tested = 0;
    for (size_t i = 0; i < d->term_count; i++) {
        const pp_term *term = &d->terms[i];
        if (term->kind >= PP_TERM_LEAN || term->state == PP_TERM_NOT_TESTED) continue;
        const json_t *w = json_object_get(want, term->name);
        if (!w) print_error("%s is tested\n", term->name);
        assert_non_null(w);
        check_values(term->name, term->value, term->standard_error, json_number_at(w, "value"),
                     json_number_at(w, "se"), t);
        assert_int_equal(term->state, PP_TERM_NOT_FOUND);
        tested++;
    }
    assert_int_equal(tested, json_object_size(want));
}

static const pp_error_pattern *pattern_named(const pp_diagnosis *d, const char *name)
{
    for (size_t i = 0; i < d->pattern_count; i++)
        if (strcmp(d->patterns[i].name, name) == 0) return &d->patterns[i];
    print_error("no pattern %s\n", name);
    fail();
    return NULL;
}

/* Exactly the patterns named are found, and none is unclear. */
static void check_named(const pp_diagnosis *d, const json_t *want)
{
    size_t found = 0, i;
    json_t *name;
    for (size_t k = 0; k < d->pattern_count; k++) found += d->patterns[k].state == PP_TERM_FOUND;
    assert_int_equal(found, json_array_size(want));
    json_array_foreach(want, i, name)
    {
        const pp_error_pattern *p = pattern_named(d, json_string_value(name));
        assert_int_equal(p->state, PP_TERM_FOUND);
        assert_null(p->unclear);
    }
}

static void check_parts(const pp_error_pattern *p, const json_t *estimate, const json_t *error,
                        tolerance t)
{
    size_t at = 0;
    for (size_t k = 0; k < p->part_count; k++)
        for (int i = 0; i < p->parts[k].estimates; i++, at++)
            check_values(p->name, p->parts[k].estimate[i], p->parts[k].standard_error[i],
                         item(estimate, at), item(error, at), t);
    assert_int_equal(at, json_array_size(estimate));
}

static json_t *diagnose_case(test_plate *p, const char *name, const char *column, int threads,
                             pp_diagnosis *d)
{
    pp_error error = {0};
    diagnosis_plate(p, name);
    const char **label = diagnosis_labels(p, name);
    if (column) p->readings.setup = label;
    assert_ok(test_diagnose(p, threads, d, &error), &error);
    assert_true(d->valid);
    return diagnosis_expected(name);
}

static void check_case(const char *name, const char *column, tolerance t)
{
    test_plate p;
    pp_diagnosis d;
    json_t *whole = diagnose_case(&p, name, column, 2, &d), *array;
    const json_t *want = json_object_get(whole, "expected");
    check_named(&d, json_object_get(want, "named"));
    check_terms(&d, json_object_get(want, "terms"), t);
    array = json_object_get(want, "misdrilled");
    assert_int_equal(d.misdrilled_count, json_array_size(array));
    for (size_t i = 0; i < d.misdrilled_count; i++)
        assert_int_equal(d.misdrilled[i] + 1, json_integer_value(json_array_get(array, i)));
    assert_true(!d.left_order.left && !d.left_place.left && !d.left_cells.left);
    const json_t *scale = json_object_get(want, "local_scale");
    assert_true(d.uneven_weighed == json_is_true(json_object_get(scale, "weighted")));
    json_decref(whole);
    test_plate_end(&p);
}

static void a_step_is_no_drift(void **state)
{
    (void)state;
    check_case("diag2_step", NULL, (tolerance){0.25, 0.1});
    test_plate p;
    pp_diagnosis d;
    json_t *whole = diagnose_case(&p, "diag2_step", NULL, 2, &d);
    const json_t *want = json_object_get(json_object_get(whole, "expected"), "components");
    const json_t *step = json_array_get(want, 0);
    const pp_error_pattern *found = pattern_named(&d, "step");
    check_parts(found, json_object_get(step, "estimate"), json_object_get(step, "se"),
                (tolerance){0.25, 0.1});
    assert_near(found->parts[0].place, json_number_at(step, "first_hole_after"), 3);
    json_decref(whole);
    test_plate_end(&p);
}

static void half_a_plate_is_no_squareness(void **state)
{
    (void)state;
    check_case("diag2_half_plate", NULL, (tolerance){0.25, 0.1});
    test_plate p;
    pp_diagnosis d;
    json_t *whole = diagnose_case(&p, "diag2_half_plate", NULL, 2, &d);
    const json_t *want = json_object_get(json_object_get(whole, "expected"), "components");
    const json_t *half = json_array_get(want, 0);
    const pp_error_pattern *found = pattern_named(&d, "half plate");
    check_parts(found, json_object_get(half, "estimate"), json_object_get(half, "se"),
                (tolerance){0.25, 0.1});
    assert_int_equal(found->parts[0].axis, 'x');
    assert_near(found->parts[0].split, 0, 16); /* a column of holes */
    json_decref(whole);
    test_plate_end(&p);
}

static void set_ups_told_by_a_column_explain_all(void **state)
{
    (void)state;
    tolerance t = {0.5, 0.1};
    check_case("diag2_setup_radial", "setup", t);
    test_plate p;
    pp_diagnosis d;
    json_t *whole = diagnose_case(&p, "diag2_setup_radial", "setup", 2, &d);
    const json_t *labels = json_object_get(json_object_get(whole, "expected"), "labels");
    const json_t *setup = json_object_get(labels, "setup");
    const pp_error_pattern *found = pattern_named(&d, "setup");
    check_parts(found, json_object_get(setup, "estimate"), json_object_get(setup, "se"), t);
    assert_true(d.scatter_rim > 4 * d.scatter_centre); /* sevenfold was planted */
    json_decref(whole);
    test_plate_end(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_step_is_no_drift),
        cmocka_unit_test(half_a_plate_is_no_squareness),
        cmocka_unit_test(set_ups_told_by_a_column_explain_all),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

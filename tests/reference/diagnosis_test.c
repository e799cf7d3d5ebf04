/* The diagnosis against the reference cases of data/reference/diagnosis. */
#include "support/diagnosis_case.h"

static const pp_term *term_of(const pp_diagnosis *d, const char *name)
{
    for (size_t i = 0; i < d->term_count; i++)
        if (strcmp(d->terms[i].name, name) == 0) return &d->terms[i];
    print_error("no term %s\n", name);
    fail();
    return NULL;
}

static bool listed(const json_t *array, const char *name)
{
    size_t i;
    json_t *value;
    json_array_foreach(array, i,
                       value) if (strcmp(json_string_value(value), name) == 0) return true;
    return false;
}

/* Value within .1 standard errors, standard error within 5 %, found exactly. */
static void check_term(const pp_diagnosis *d, const char *name, const json_t *want, bool found)
{
    const pp_term *t = term_of(d, name);
    assert_true(t->state != PP_TERM_NOT_TESTED);
    if ((t->state == PP_TERM_FOUND) != found) print_error("%s: p %g\n", name, t->p_adjusted);
    assert_true((t->state == PP_TERM_FOUND) == found);
    if (t->kind == PP_TERM_TOOL_CHANGE) {
        assert_near(t->value, json_number_at(want, "value"), 0);
        return;
    }
    double se = json_number_at(want, "se");
    /* asked for are .1 standard errors and 5 %; the same method must come closer */
    assert_near(t->value, json_number_at(want, "value"), 0.01 * se);
    assert_near(t->standard_error / se, 1, 0.001);
    double log_p =
        log(json_number_at(want, "p")); /* a tenth of a standard error moves ln p by .1 |t| */
    assert_near(log(t->p), log_p, 0.3 + 0.15 * fabs(log_p));
}

static void check_list(const json_t *want, size_t count, const uint32_t *got, uint32_t from,
                       double tolerance)
{
    assert_int_equal(count, json_array_size(want));
    for (size_t i = 0; i < count; i++)
        assert_near(got[i] + from, json_number_value(json_array_get(want, i)), tolerance);
}

static void check_case(const char *name)
{
    test_plate p;
    diagnosis_plate(&p, name);
    json_t *whole = diagnosis_expected(name);
    const json_t *want = json_object_get(whole, "expected");
    pp_diagnosis d;
    pp_error error = {0};
    assert_ok(test_diagnose(&p, 2, &d, &error), &error);
    assert_true(d.valid);

    const char *key;
    json_t *value;
    json_object_foreach(json_object_get(want, "terms"), key, value)
        check_term(&d, key, value, listed(json_object_get(want, "found"), key));
    assert_int_equal(d.term_count, json_object_size(json_object_get(want, "terms")));
    check_list(json_object_get(want, "misdrilled"), d.misdrilled_count, d.misdrilled, 1, 0);
    check_list(json_object_get(want, "tool_changes"), d.tool_change_count, d.tool_changes, 0, 2);
    const json_t *temperature = json_object_get(want, "temperature_difference");
    double se = json_number_value(json_array_get(temperature, 1));
    assert_near(d.temperature_difference, json_number_value(json_array_get(temperature, 0)),
                0.1 * se);
    assert_near(d.temperature_standard_error / se, 1, 0.05);
    const json_t *sigma = json_object_get(want, "sigma_xy");
    assert_near(d.scatter_x / json_number_value(json_array_get(sigma, 0)), 1, 0.01);
    assert_near(d.scatter_y / json_number_value(json_array_get(sigma, 1)), 1, 0.01);
    /* the truth the plates were made with lies within 3.5 standard errors */
    json_object_foreach(json_object_get(want, "truth"), key, value)
    {
        if (strcmp(key, "tool life") == 0) continue;
        const pp_term *t = term_of(&d, key);
        assert_near(t->value, json_number_value(value), 3.5 * t->standard_error);
    }
    assert_false(d.whitened);
    json_decref(whole);
    test_plate_end(&p);
}

static void a_clean_plate_raises_no_alarm(void **state)
{
    (void)state;
    check_case("diag_clean");
}

static void four_terms_and_two_tool_changes_are_found(void **state)
{
    (void)state;
    check_case("diag_four_terms");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_clean_plate_raises_no_alarm),
        cmocka_unit_test(four_terms_and_two_tool_changes_are_found),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* Measurement uncertainty against answers of an independent program (numpy):
 * data/reference/uncertainty. */
#include "support/check.h"
#include "support/holes_run.h"
#include "support/json.h"

static json_t *read_expected(const char *name)
{
    char path[512];
    snprintf(path, sizeof path, "%s/data/reference/uncertainty/%s/expected.json", PP_SOURCE_DIR,
             name);
    json_error_t fault;
    json_t *expected = json_load_file(path, 0, &fault);
    if (!expected) print_error("%s:%d: %s\n", path, fault.line, fault.text);
    assert_non_null(expected);
    return expected;
}

static void assert_relative(double got, double want, double tolerance)
{
    if (!(fabs(got - want) <= tolerance * fabs(want))) {
        print_error("got %.12g, want %.12g\n", got, want);
        fail();
    }
}

static pp_verdict wanted_verdict(const char *class_)
{
    if (strcmp(class_, "in") == 0) return PP_CONFORMS;
    return strcmp(class_, "out") == 0 ? PP_DOES_NOT_CONFORM : PP_NOT_PROVEN;
}

/* Two datum holes: the errors of their readings in every other hole. */
static void test_two_holes(void **state)
{
    (void)state;
    json_t *expected = read_expected("two-holes"), *hole;
    const char *name;
    holes_run run = {0};
    pp_error error = {0};
    assert_ok(holes_run_file(&run, PP_SOURCE_DIR "/data/reference/uncertainty/two-holes/job.ini", 1,
                             &error),
              &error);
    const pp_nominal *nominal = run.measures.nominal;
    size_t seen = 0;
    json_object_foreach(json_object_get(expected, "holes"), name, hole)
    {
        for (size_t h = 0; h < nominal->count; h++) {
            if (strcmp(nominal->name[h], name) != 0) continue;
            uint32_t b = run.measures.bore_of[PP_ENTRY][h];
            const pp_bore *bore = &run.measures.bores[b];
            assert_near(bore->position, json_number_at(hole, "position"),
                        5e-6); /* read with six digits */
            assert_relative(bore->position_error.u, json_number_at(hole, "u_position"), 1e-6);
            const char *class_ = json_string_value(json_object_get(hole, "class"));
            assert_int_equal(pp_finding_of(&run.judgement, PP_POSITION, b)->verdict,
                             wanted_verdict(class_));
            seen++;
        }
    }
    assert_int_equal(seen, nominal->count);
    const json_t *alignment = json_object_get(expected, "alignment");
    assert_relative(run.measures.alignment.u_dx, json_number_at(alignment, "u_dx"), 1e-9);
    assert_relative(run.measures.alignment.u_dy, json_number_at(alignment, "u_dy"), 1e-9);
    assert_relative(run.measures.alignment.u_angle_deg / 57.29577951308232,
                    json_number_at(alignment, "u_angle_rad"), 1e-9);
    json_decref(expected);
    pp_memory_free(&run.memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_two_holes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

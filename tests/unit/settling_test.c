/* A state settled again about the base it has says what one settled anew says. */
#include "support/check.h"

#include <string.h>

#include "holddown/under_foot.h"
#include "linalg/linalg.h"
#include "support/holdplates.h"

enum { ACROSS = 9, HOLES = ACROSS * ACROSS, FORCES = 3 };

typedef struct laid {
    pp_memory memory;
    pp_job job;
    pp_mesh mesh;
    pp_hold_plate plate;
    double x[HOLES], y[HOLES];
    pp_hold_force forces[FORCES];
} laid;

static void bowl(double x, double y, double w[4])
{
    double a = x / 900, b = y / 900;
    w[0] = 1.1 * a * a + 0.7 * b * b + 0.2 * a * b;
    w[1] = (2.2 * a + 0.2 * b) / 900;
    w[2] = (1.4 * b + 0.2 * a) / 900;
    w[3] = 0.2 / 900 / 900;
}

static laid *lay(void)
{
    static laid made;
    static const double at[FORCES][2] = {{700, 610}, {-640, 480}, {20, -750}};
    pp_error error = {0};
    laid *l = &made;
    *l = (laid){.job = test_hold_job(PP_OUTLINE_RECTANGLE, 1800, 1800, 24)};
    l->job.support.seat = PP_SEAT_REST;
    assert_ok(pp_mesh_make(pp_job_outline(&l->job), 12, &l->memory, &l->mesh, &error), &error);
    pp_hold_setup given = pp_hold_setup_of(&l->job, 0.005, NULL, NULL);
    assert_ok(pp_hold_plate_make(&l->mesh, test_field(&l->mesh, bowl, &l->memory), &given, NULL, 2,
                                 &l->memory, &l->plate, &error),
              &error);
    for (size_t k = 0; k < HOLES; k++) {
        l->x[k] = -790 + 196.0 * (double)(k % ACROSS);
        l->y[k] = -785 + 195.0 * (double)(k / ACROSS);
    }
    for (size_t k = 0; k < FORCES; k++) {
        pp_probe probe;
        double *field = pp_arena_take(&l->memory.keep, l->mesh.dofs, sizeof *field);
        pp_probe_point(&l->plate.compliance, at[k][0], at[k][1], 0, 0, &probe);
        assert_ok(pp_hold_deflect(&l->plate, &probe, field, &error), &error);
        l->forces[k].deflection = field;
        memcpy(l->forces[k].rigid, probe.rigid, sizeof probe.rigid);
    }
    return l;
}

static void press(laid *l, const pp_hold_state *state, pp_hold_answer *answers)
{
    pp_error error = {0};
    const pp_hold_question question = {
        .force = 3000, .thrust = NAN, .gap_limit = 0.3, .force_cap = NAN, .only_gap = true};
    const pp_hold_places places = {HOLES, l->x, l->y};
    const pp_hold_visit visit = {.question = &question, .places = &places, .count = HOLES};
    assert_ok(pp_hold_press(&l->plate, state, &visit, &l->memory, answers, NULL, &error), &error);
}

/* Forces taken off and put on one after the other, a little and a lot. */
static void settled_again_is_settled_anew(void **state)
{
    (void)state;
    static const double force[][FORCES] = {{4000, 4000, 4000}, {4000, 4000, 4200}, {4000, 0, 4200},
                                           {0, 0, 4200},       {9000, 9000, 9000}, {300, 0, 0}};
    laid *l = lay();
    pp_error error = {0};
    pp_hold_state again, anew;
    size_t kept = 0;
    assert_ok(pp_hold_state_take(&l->plate, &l->memory.keep, &again, &error), &error);
    assert_ok(pp_hold_state_take(&l->plate, &l->memory.keep, &anew, &error), &error);
    for (size_t t = 0; t < sizeof force / sizeof *force; t++) {
        pp_hold_answer a[HOLES], b[HOLES];
        for (size_t k = 0; k < FORCES; k++) l->forces[k].force = force[t][k];
        assert_ok(pp_hold_resettle(&l->plate, FORCES, l->forces, &l->memory, &again, &error),
                  &error);
        assert_ok(
            pp_hold_settle(&l->plate, NULL, FORCES, l->forces, NULL, &l->memory, &anew, &error),
            &error);
        assert_int_equal(anew.changed_count, 0);
        kept += again.changed_count > 0;
        press(l, &again, a);
        press(l, &anew, b);
        for (size_t i = 0; i < HOLES; i++) /* lifted points pull back a little: see contact.h */
            assert_float_equal(a[i].gap_under_foot, b[i].gap_under_foot, 1e-4);
    }
    assert_true(kept >= 2);
    pp_memory_free(&l->memory);
}

int main(void)
{
    pp_blas_single_thread();
    const struct CMUnitTest tests[] = {cmocka_unit_test(settled_again_is_settled_anew)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}

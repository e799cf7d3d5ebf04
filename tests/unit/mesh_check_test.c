/* Holes solved again on finer meshes. */
#include "holddown/mesh_check.h"
#include "support/check.h"
#include "support/holdplates.h"

enum { HOLES = 12, STUDY = 16, FINER = 22, FINEST = 27 };

static void saddle(double x, double y, double w[4])
{
    w[0] = 1.5e-6 * x * x - 0.9e-6 * y * y + 4e-10 * x * x * x;
    w[1] = 3e-6 * x + 1.2e-9 * x * x, w[2] = -1.8e-6 * y, w[3] = 0;
}

/* On its rim: the contact is the same on every mesh */
static void dome(double x, double y, double w[4])
{
    w[0] = -1e-6 * (x * x + y * y);
    w[1] = -2e-6 * x, w[2] = -2e-6 * y, w[3] = 0;
}

typedef struct checked {
    pp_memory memory;
    pp_hold_answer answers[HOLES];
    pp_mesh_check check;
} checked;

/* A disc of 2 m on a table, studied on a coarse mesh, and the same holes on one of `cells` */
static void check_holes(test_shape form, double gap_limit, double force, size_t cells, checked *c)
{
    pp_error error = {0};
    pp_mesh mesh;
    pp_hold_plate plate;
    pp_hold_state state;
    *c = (checked){0};
    pp_job job = test_hold_job(PP_OUTLINE_DISC, 2000, 2000, 25);
    job.support.seat = PP_SEAT_REST;
    assert_ok(pp_mesh_make(pp_job_outline(&job), STUDY, &c->memory, &mesh, &error), &error);
    double *shape = test_field(&mesh, form, &c->memory), x[HOLES], y[HOLES];
    pp_hold_setup setup = pp_hold_setup_of(&job, 0, NULL, NULL);
    assert_ok(pp_hold_plate_make(&mesh, shape, &setup, NULL, 1, &c->memory, &plate, &error),
              &error);
    assert_ok(pp_hold_state_take(&plate, &c->memory.keep, &state, &error), &error);
    assert_ok(pp_hold_settle(&plate, NULL, 0, NULL, NULL, &c->memory, &state, &error), &error);
    for (int i = 0; i < HOLES; i++)
        x[i] = (120 + 60 * i) * cos(2.4 * i), y[i] = (120 + 60 * i) * sin(2.4 * i);
    pp_hold_places holes = {HOLES, x, y};
    pp_hold_question question = {
        .force = force, .thrust = NAN, .gap_limit = gap_limit, .force_cap = NAN};
    assert_ok(pp_hold_press(&plate, &state, &question, &holes, HOLES, NULL, &c->memory, c->answers,
                            NULL, &error),
              &error);
    pp_mesh_check_request request = {.mesh = &mesh,
                                     .shape = shape,
                                     .setup = &setup,
                                     .question = &question,
                                     .holes = &holes,
                                     .answers = c->answers,
                                     .cells = cells,
                                     .threads = 1};
    assert_ok(pp_mesh_check_make(&request, &c->memory, &c->check, &error), &error);
}

/* By how much a figure changed from the study's mesh to the one finer of a single step */
static double change(double uncertainty, size_t cells)
{
    double ratio = (double)cells / STUDY;
    return uncertainty * (1 - 1 / (ratio * ratio));
}

static void assert_two_steps(double got, double finer, double finest)
{
    double rest = 1 / (pow((double)FINEST / FINER, 2) - 1);
    double along = finest + rest * fabs(finest - finer), back = finest + rest * (finest + finer);
    assert_near(fmin(fabs(got - along), fabs(got - back)), 0, 1e-9 + 1e-9 * finest);
}

static void where_a_force_moves_a_third_mesh_is_tried(void **state)
{
    (void)state;
    checked one, two, both;
    check_holes(saddle, 0.1, 2500, FINER, &one);
    check_holes(saddle, 0.1, 2500, FINEST, &two);
    check_holes(saddle, 0.1, 2500, 0, &both);
    assert_true(one.check.moves > PP_MESH_MOVES && both.check.solved > 3);
    assert_int_equal(both.check.cells, FINEST);
    assert_near(both.check.moves, two.check.moves, 1e-12);
    assert_near(both.check.finer_force, two.check.finer_force, 1e-9);
    assert_true(both.check.unsettled > 0 && both.check.unsettled != both.check.moves);
    int solved = 0;
    for (int i = 0; i < HOLES; i++) {
        if (isnan(both.check.gap_u[i])) continue;
        solved++;
        assert_two_steps(both.check.gap_u[i], change(one.check.gap_u[i], FINER),
                         change(two.check.gap_u[i], FINEST));
        if (both.answers[i].force_to_close > 0)
            assert_two_steps(both.check.force_u[i], change(one.check.force_u[i], FINER),
                             change(two.check.force_u[i], FINEST));
    }
    assert_int_equal(solved, both.check.solved);
    pp_memory_free(&one.memory), pp_memory_free(&two.memory), pp_memory_free(&both.memory);
}

static void where_none_moves_one_finer_mesh_is_enough(void **state)
{
    (void)state;
    checked c;
    check_holes(dome, 0.2, 4000, 0, &c);
    assert_true(c.check.solved > 0 && c.check.moves <= PP_MESH_MOVES);
    assert_int_equal(c.check.cells, FINER);
    assert_near(c.check.unsettled, c.check.moves, 0);
    pp_memory_free(&c.memory);
}

static void far_from_any_limit_nothing_is_solved_again(void **state)
{
    (void)state;
    checked c;
    check_holes(saddle, 9, 2500, 0, &c);
    assert_int_equal(c.check.cells, 0);
    assert_int_equal(c.check.solved, 0);
    for (int i = 0; i < HOLES; i++) assert_true(isnan(c.check.gap_u[i]));
    pp_memory_free(&c.memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(where_a_force_moves_a_third_mesh_is_tried),
        cmocka_unit_test(where_none_moves_one_finer_mesh_is_enough),
        cmocka_unit_test(far_from_any_limit_nothing_is_solved_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

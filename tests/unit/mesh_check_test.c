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

typedef struct pressed { /* a disc of 2 m on a table, and what its holes say on a mesh */
    pp_mesh mesh;
    double *shape, x[HOLES], y[HOLES];
    pp_hold_setup setup;
    pp_hold_question question;
} pressed;

static void press(test_shape form, double gap_limit, double force, size_t cells, pp_memory *memory,
                  pressed *p, pp_hold_answer *answers)
{
    pp_error error = {0};
    pp_hold_plate plate;
    pp_hold_state state;
    pp_job job = test_hold_job(PP_OUTLINE_DISC, 2000, 2000, 25);
    job.support.seat = PP_SEAT_REST;
    assert_ok(pp_mesh_make(pp_job_outline(&job), cells, memory, &p->mesh, &error), &error);
    p->shape = test_field(&p->mesh, form, memory);
    p->setup = pp_hold_setup_of(&job, 0, NULL, NULL);
    assert_ok(pp_hold_plate_make(&p->mesh, p->shape, &p->setup, NULL, 1, memory, &plate, &error),
              &error);
    assert_ok(pp_hold_state_take(&plate, &memory->keep, &state, &error), &error);
    assert_ok(pp_hold_settle(&plate, NULL, 0, NULL, NULL, memory, &state, &error), &error);
    for (int i = 0; i < HOLES; i++)
        p->x[i] = (120 + 60 * i) * cos(2.4 * i), p->y[i] = (120 + 60 * i) * sin(2.4 * i);
    pp_hold_places holes = {HOLES, p->x, p->y};
    p->question =
        (pp_hold_question){.force = force, .thrust = NAN, .gap_limit = gap_limit, .force_cap = NAN};
    assert_ok(pp_hold_press(&plate, &state, &(pp_hold_visit){&p->question, &holes, HOLES, NULL},
                            memory, answers, NULL, &error),
              &error);
}

static void check_holes(test_shape form, double gap_limit, double force, checked *c)
{
    pp_error error = {0};
    pressed p;
    *c = (checked){0};
    press(form, gap_limit, force, STUDY, &c->memory, &p, c->answers);
    pp_hold_places holes = {HOLES, p.x, p.y};
    pp_mesh_check_request request = {.mesh = &p.mesh,
                                     .shape = p.shape,
                                     .setup = &p.setup,
                                     .question = &p.question,
                                     .holes = &holes,
                                     .answers = c->answers,
                                     .threads = 1};
    assert_ok(pp_mesh_check_make(&request, &c->memory, &c->check, &error), &error);
}

/* The change from the study's mesh to the finest, and what lies beyond */
static double two_steps(double study, double finer, double finest)
{
    double rest = 1 / (pow((double)FINEST / FINER, 2) - 1);
    return fabs(finest - study) + rest * fabs(finest - finer);
}

static void where_a_force_moves_a_third_mesh_is_tried(void **state)
{
    (void)state;
    pressed p;
    checked c;
    pp_hold_answer finer[HOLES], finest[HOLES];
    check_holes(saddle, 0.1, 2500, &c);
    press(saddle, 0.1, 2500, FINER, &c.memory, &p, finer);
    press(saddle, 0.1, 2500, FINEST, &c.memory, &p, finest);
    assert_int_equal(c.check.cells, FINEST);
    assert_int_equal(c.check.solved, HOLES);
    double gap[HOLES], share[HOLES], gaps = 0, shares = 0, moves = 0, unsettled = 0;
    for (int i = 0; i < HOLES; i++) {
        double a = c.answers[i].force_to_close, b = finest[i].force_to_close,
               between = finer[i].force_to_close;
        assert_true(a > 0 && b > 0 && between > 0);
        gap[i] = two_steps(c.answers[i].gap_under_foot, finer[i].gap_under_foot,
                           finest[i].gap_under_foot);
        share[i] = two_steps(a, between, b) / a;
        gaps += gap[i] * gap[i] / HOLES, shares += share[i] * share[i] / HOLES;
        moves = fmax(moves, fabs(b - a) / fmax(a, b));
        unsettled = fmax(unsettled, fabs(b - between) / fmax(b, between));
    }
    assert_near(c.check.moves, moves, 1e-6);
    assert_near(c.check.unsettled, unsettled, 1e-6);
    for (int i = 0; i < HOLES; i++) {
        double force = c.answers[i].force_to_close;
        assert_near(c.check.gap_u[i], fmax(gap[i], 2 * sqrt(gaps)), 1e-7);
        assert_near(c.check.force_u[i] / force, fmax(share[i], 2 * sqrt(shares)), 1e-6);
    }
    pp_memory_free(&c.memory);
}

static void where_none_moves_one_finer_mesh_is_enough(void **state)
{
    (void)state;
    checked c;
    check_holes(dome, 0.2, 4000, &c);
    assert_true(c.check.solved > 0 && c.check.moves <= PP_MESH_MOVES);
    assert_int_equal(c.check.cells, FINER);
    assert_near(c.check.unsettled, c.check.moves, 0);
    pp_memory_free(&c.memory);
}

static void far_from_any_limit_nothing_is_solved_again(void **state)
{
    (void)state;
    checked c;
    check_holes(saddle, 9, 2500, &c);
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

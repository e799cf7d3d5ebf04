/* Lift-off against closed forms: a heavy flat plate on a table with one support raised. */
#ifndef PP_TESTS_LIFTOFF_H
#define PP_TESTS_LIFTOFF_H

#include "base/constants.h"
#include "support/check.h"
#include "support/holdplates.h"

typedef struct test_liftoff {
    double force, closed_force;   /* N, that the raised support carries */
    double length, closed_length; /* mm: the nearest place that touches again */
    double cell;                  /* mm */
} test_liftoff;

/* A disc raised by h at its centre carries 4 pi sqrt(q D h) there and lifts off within
 * sqrt(2 P / (pi q)); a strip without cross-contraction raised along its end carries q l / 2 per
 * width and lifts over l = (24 D h / q)^1/4. Both follow from w = w' = w'' = 0 where the plate
 * comes down. Discs of 3 m, strips of 3 m x 0.6 m, 12 mm steel, h = 1.5 mm. */
static inline void test_lifted(bool disc, size_t cells, test_liftoff *out)
{
    pp_memory memory = {0};
    pp_error error = {0};
    const double size = 3000, h = 1.5, width = 600;
    pp_job job = test_hold_job(disc ? PP_OUTLINE_DISC : PP_OUTLINE_RECTANGLE, size, width, 12);
    if (!disc) job.plate.poisson_ratio = 0;
    pp_mesh mesh;
    assert_ok(pp_mesh_make(pp_job_outline(&job), cells, &memory, &mesh, &error), &error);
    double *level = pp_arena_take_zero(&memory.keep, mesh.dofs, sizeof *level);
    pp_hold_setup setup = pp_hold_setup_of(&job, 0.001, NULL, NULL);
    pp_hold_plate plate;
    pp_hold_state state;
    assert_ok(pp_hold_plate_make(&mesh, level, &setup, NULL, 1, &memory, &plate, &error), &error);
    assert_ok(pp_hold_state_take(&plate, &memory.keep, &state, &error), &error);
    const double *x = plate.supports.x, *y = plate.supports.y;
    double *shim = pp_arena_take_zero(&memory.keep, plate.supports.count, sizeof *shim);
    for (size_t i = 0; i < plate.supports.count; i++)
        if (disc ? hypot(x[i], y[i]) < 1e-6 : x[i] > size / 2 - 1e-6) shim[i] = h;
    assert_ok(pp_hold_settle(&plate, shim, 0, NULL, NULL, &memory, &state, &error), &error);
    double q = plate.weight / mesh.area, d = pp_plate_rigidity(&setup.plate);
    double length = disc ? sqrt(8 * sqrt(d * h / q)) : pow(24 * d * h / q, 0.25);
    *out = (test_liftoff){.length = INFINITY, .closed_length = length, .cell = mesh.hx};
    out->closed_force = disc ? 4 * PP_PI * sqrt(q * d * h) : 0.5 * q * length * width;
    for (size_t j = 0; j < state.base.active; j++) {
        size_t i = state.base.order[j];
        double from = disc ? hypot(x[i], y[i]) : size / 2 - x[i];
        if (shim[i] > 0)
            out->force += state.base.v[j];
        else
            out->length = fmin(out->length, from);
    }
    pp_memory_free(&memory);
}

#endif

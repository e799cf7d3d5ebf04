/* The fitted surface against points it was not given: the short cut against fitting again. */
#include "flatness/surface_check.h"
#include "flatness/surface_system.h"
#include "linalg/linalg.h"
#include "support/check.h"
#include "support/surveys.h"

enum { POINTS = 40, CELLS = 32 };
static const double RADIUS = 500, SIGMA = 0.01;

typedef struct plate {
    pp_memory memory;
    pp_mesh mesh;
    test_points points;
    pp_survey survey;
    pp_surface surface;
} plate;

static void fit(plate *p, double uncertainty)
{
    pp_error error = {0};
    pp_surface_options options = {.uncertainty = uncertainty, .threads = 1};
    assert_ok(pp_surface_fit(&p->survey, &p->mesh, &options, &p->memory, &p->surface, &error),
              &error);
}

/* A bump of that height at (200, 100), 150 mm across. */
static void make_plate(plate *p, size_t count, double bump, double uncertainty)
{
    pp_error error = {0};
    pp_job job;
    *p = (plate){0};
    assert_ok(pp_job_blank(&p->memory, &job, &error), &error);
    job.plate.outline = PP_OUTLINE_DISC;
    job.plate.diameter = 2 * RADIUS;
    assert_ok(pp_mesh_make(pp_job_outline(&job), CELLS, &p->memory, &p->mesh, &error), &error);
    p->points = test_points_take(&p->memory, count);
    test_fill_disc(&p->points, 0.98 * RADIUS);
    test_random state = {5};
    for (size_t k = 0; k < count; k++) {
        double dx = p->points.x[k] - 200, dy = p->points.y[k] - 100;
        p->points.z[k] =
            bump * exp(-(dx * dx + dy * dy) / (90 * 90)) + SIGMA * random_normal(&state);
    }
    p->survey = test_survey(&p->points);
    fit(p, uncertainty);
}

/* Height at point `out` of the surface fitted to the others with the same mu. */
static double without(plate *p, size_t out)
{
    pp_error error = {0};
    test_points rest = test_points_take(&p->memory, p->points.count - 1);
    for (size_t k = 0, n = 0; k < p->points.count; k++) {
        if (k == out) continue;
        rest.x[n] = p->points.x[k], rest.y[n] = p->points.y[k], rest.z[n++] = p->points.z[k];
    }
    pp_survey survey = test_survey(&rest);
    pp_surface_system s;
    pp_mark mark = pp_arena_mark(&p->memory.scratch);
    assert_ok(pp_surface_system_make(&survey, &p->surface, 0, 1, &p->memory, &s, &error), &error);
    double *factor =
        pp_arena_take(&p->memory.scratch, s.n * (s.half_bandwidth + 1), sizeof *factor);
    assert_ok(pp_surface_system_factor(&s, p->surface.smoothing, factor, &error), &error);
    assert_ok(pp_band_solve(s.n, s.half_bandwidth, factor, 1, s.load, &error), &error);
    pp_mesh_row row;
    assert_true(pp_surface_row(&p->mesh, p->points.x[out], p->points.y[out], &row));
    double height = pp_mesh_value(&row, s.load) + s.base.height +
                    s.base.slope_x * (p->points.x[out] - p->mesh.centre_x) +
                    s.base.slope_y * (p->points.y[out] - p->mesh.centre_y);
    pp_arena_release(&p->memory.scratch, mark);
    return height;
}

static void leaving_out_is_fitting_again(void **state)
{
    (void)state;
    plate p;
    make_plate(&p, POINTS, 0.05, 2 * SIGMA);
    assert_int_equal(p.surface.left_out_count, 0); /* each is fitted, and left out once */
    double squares = 0;
    for (size_t k = 0; k < POINTS; k++) {
        double off = p.points.z[k] - without(&p, k);
        squares += off * off;
    }
    assert_true(p.surface.check.valid);
    assert_near(p.surface.check.leave_one_out, sqrt(squares / POINTS),
                1e-6 * p.surface.check.leave_one_out);
    pp_memory_free(&p.memory);
}

/* 60 points hardly see a bump 150 mm across: the smoothing's own error would be 0.01. */
static void a_sharp_plate_is_said(void **state)
{
    (void)state;
    plate p;
    make_plate(&p, 60, 0.5, 2 * SIGMA);
    assert_true(p.surface.check.sharper);
    assert_true(p.surface.standard_error > 2 * p.surface.standard_error_smoother);
    assert_true(hypot(p.surface.check.x - 200, p.surface.check.y - 100) < 200);
    pp_memory_free(&p.memory);
    make_plate(&p, 400, 0, 2 * SIGMA);
    assert_false(p.surface.check.sharper);
    assert_true(p.surface.standard_error < 0.6 * SIGMA);
    pp_memory_free(&p.memory);
}

/* The rows of a survey, also where a chip under the probe is left out before them. */
static void the_row_that_differs_most_is_named(void **state)
{
    (void)state;
    plate p;
    make_plate(&p, 60, 0.5, 2 * SIGMA);
    size_t row = p.surface.check.row;
    assert_near(p.points.x[row - 1], p.surface.check.x, 1e-9);
    assert_near(p.points.y[row - 1], p.surface.check.y, 1e-9);
    size_t chip = 2;
    assert_true(chip + 1 < row);
    p.points.z[chip] += 5;
    fit(&p, 2 * SIGMA);
    assert_int_equal(p.surface.left_out_count, 1);
    assert_int_equal(p.surface.outliers[0], chip + 1);
    assert_int_equal(p.surface.check.row, row);
    pp_memory_free(&p.memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(leaving_out_is_fitting_again),
        cmocka_unit_test(a_sharp_plate_is_said),
        cmocka_unit_test(the_row_that_differs_most_is_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

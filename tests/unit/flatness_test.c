/* The flatness study put together: exact shapes, frames, two faces. */
#include "base/constants.h"
#include "support/check.h"

#include "flatness/flatness.h"
#include "linalg/linalg.h"
#include "support/surveys.h"

typedef struct fixture {
    pp_memory memory;
    pp_error error;
    pp_flatness f;
} fixture;

static void study(fixture *x, const pp_job *job, const pp_survey *survey,
                  const pp_survey *underside, int threads)
{
    assert_ok(
        pp_flatness_study(job, survey, underside, NULL, threads, &x->memory, &x->f, &x->error),
        &x->error);
}

static pp_job disc_job(void)
{
    pp_job job = test_disc_job(3200);
    job.survey.uncertainty = NAN;
    job.survey.area_threshold = 1.5;
    return job;
}

/* A bowl of depth c R^2 under straightedges: c L^2/4, square to the plane it was surveyed along,
 * which leans by 11 degrees; turned over it is a dome, and the underside's own survey decides. */
static void straightedges_are_laid_on_the_deviations(void **state)
{
    (void)state;
    fixture x = {0};
    enum { COUNT = 3000 };
    const double c = 2.3e-6, lengths[] = {1000, 9000}, tilt = 0.2;
    test_points p = test_points_take(&x.memory, COUNT), q = test_points_take(&x.memory, COUNT);
    test_fill_disc(&p, 1600);
    test_fill_disc(&q, 1600);
    for (size_t k = 0; k < COUNT; k++) {
        double square = p.x[k] * p.x[k] + p.y[k] * p.y[k];
        p.z[k] = c * square + tilt * p.x[k];
        q.z[k] = -1.4 * c * square + tilt * p.x[k] - 38;
    }
    pp_survey survey = test_survey(&p), below = test_survey(&q);
    pp_job job = disc_job();
    job.survey.straightedge = (pp_job_list){2, lengths};
    study(&x, &job, &survey, NULL, 2);
    assert_int_equal(x.f.straightedge_count, 2);
    const pp_straightedge *edge = x.f.straightedge;
    double square_to = 1 / sqrt(1 + tilt * tilt);
    assert_near(edge[0].gap, c * 1e6 / 4 * square_to, 2e-3);
    assert_false(edge[0].underside);
    assert_true(edge[0].error_bound < 0.02);
    assert_near(edge[1].gap, c * 1600 * 1600 * square_to, 5e-3);
    assert_near(edge[1].used_length, 3200, 0.1);
    study(&x, &job, &survey, &below, 2);
    assert_near(x.f.straightedge[0].gap, 1.4 * c * 1e6 / 4 * square_to, 2e-3);
    assert_true(x.f.straightedge[0].underside);
    pp_memory_free(&x.memory);
}

/* z = c r^2 on a disc of radius R: total c R^2, peak and valley c R^2/2, rms c R^2/sqrt 12; high
 * where c r^2 > c R^2/2 + 1.5, low where c r^2 < c R^2/2 - 1.5: equal areas PP_PI (R^2/2 - 1.5/c).
 */
static void a_bowl_has_the_figures_of_its_closed_form(void **state)
{
    (void)state;
    fixture x = {0};
    enum { COUNT = 4000 };
    const double c = 2.3e-6, top = c * 1600 * 1600;
    test_points p = test_points_take(&x.memory, COUNT);
    test_fill_disc(&p, 1600);
    for (size_t k = 0; k < COUNT; k++)
        p.z[k] = c * (p.x[k] * p.x[k] + p.y[k] * p.y[k]) + 0.003 * p.x[k] - 0.001 * p.y[k] + 212;
    pp_survey survey = test_survey(&p);
    pp_job job = disc_job();
    study(&x, &job, &survey, NULL, 2);
    assert_int_equal(x.f.points, COUNT);
    assert_near(x.f.least_squares.flatness, top, 0.005);
    assert_near(x.f.least_squares.peak, top / 2, 0.005);
    assert_near(x.f.least_squares.rms, top / sqrt(12), 0.002);
    assert_near(x.f.minimum_zone.flatness, top, 0.005);
    assert_true(x.f.least_squares_slope.valid);
    assert_near(x.f.least_squares_slope.slope_x, 0.003, 2e-6);
    assert_near(x.f.least_squares_slope.slope_y, -0.001, 2e-6);
    assert_near(x.f.least_squares_slope.height, 212 + top / 2, 2e-3);
    assert_true(x.f.minimum_zone_slope.valid);
    assert_near(x.f.minimum_zone_slope.height, 212 + top / 2, 5e-3);

    assert_true(x.f.surface_valid);
    assert_int_equal(x.f.area_count, 2);
    double area = PP_PI * (1600.0 * 1600 / 2 - 1.5 / c);
    assert_int_equal(x.f.areas[0].side, PP_AREA_HIGH);
    assert_int_equal(x.f.areas[1].side, PP_AREA_LOW);
    assert_near(x.f.areas[0].area / area, 1, 2e-3);
    assert_near(x.f.areas[1].area / area, 1, 2e-3);
    assert_near(x.f.areas[0].peak, top / 2, 0.003);
    assert_near(x.f.areas[1].peak, top / 2, 0.003);
    assert_int_equal(x.f.map.columns, 101);
    assert_near(x.f.map.height[50 * 101 + 50], 212, 1e-4);
    assert_near(x.f.map.deviation[50 * 101 + 50], -top / 2, 0.003);
    assert_false(x.f.thickness.valid);
    pp_memory_free(&x.memory);
}

static test_points rough_points(pp_memory *memory, size_t count)
{
    test_points p = test_points_take(memory, count);
    test_fill_disc(&p, 1590);
    test_random seed = {3};
    for (size_t k = 0; k < count; k++)
        p.z[k] = 2.1 * sin(p.x[k] / 700) * cos(p.y[k] / 900) + 1e-3 * p.y[k] +
                 0.02 * random_normal(&seed);
    return p;
}

static void every_frame_gives_the_same_answer(void **state)
{
    (void)state;
    fixture x = {0};
    test_points p = rough_points(&x.memory, 700);
    pp_survey survey = test_survey(&p);
    pp_job job = disc_job();
    job.survey.area_threshold = 0.9;
    study(&x, &job, &survey, NULL, 2);
    assert_true(x.f.area_count >= 2);

    fixture y = {0}; /* surveyed upright, x pointing away, turned by -36.87 deg, far from home */
    test_points q = test_points_take(&y.memory, p.count);
    for (size_t k = 0; k < p.count; k++) {
        double px = p.x[k] - 1e6, py = p.y[k] + 2e6;
        q.y[k] = 0.8 * px - 0.6 * py;
        q.z[k] = 0.6 * px + 0.8 * py;
        q.x[k] = p.z[k] + 1e6;
    }
    pp_survey turned = test_survey(&q);
    turned.frame = (pp_survey_frame){PP_UP_X, 0.8, -0.6, 1e6, -2e6};
    study(&y, &job, &turned, NULL, 2);
    assert_near(y.f.least_squares.flatness, x.f.least_squares.flatness, 1e-8);
    assert_near(y.f.minimum_zone.flatness, x.f.minimum_zone.flatness, 1e-8);
    assert_near(y.f.least_squares_slope.slope_x, x.f.least_squares_slope.slope_x, 1e-11);
    assert_near(y.f.least_squares_slope.slope_y, x.f.least_squares_slope.slope_y, 1e-11);
    assert_near(y.f.least_squares_slope.height, x.f.least_squares_slope.height + 1e6, 1e-5);
    assert_near(y.f.minimum_zone_slope.slope_y, x.f.minimum_zone_slope.slope_y, 1e-11);
    assert_int_equal(y.f.area_count, x.f.area_count);
    for (size_t k = 0; k < x.f.area_count; k++) {
        assert_int_equal(y.f.areas[k].side, x.f.areas[k].side);
        assert_near(y.f.areas[k].area, x.f.areas[k].area, 1);
        assert_near(y.f.areas[k].peak, x.f.areas[k].peak, 1e-6);
        assert_near(y.f.areas[k].xmin, x.f.areas[k].xmin, 1e-3);
    }
    for (size_t k = 0; k < 101 * 101; k += 37)
        if (!isnan(x.f.map.deviation[k]))
            assert_near(y.f.map.deviation[k], x.f.map.deviation[k], 1e-6);
    pp_memory_free(&y.memory);
    pp_memory_free(&x.memory);
}

static void slopes_stop_at_sixty_degrees(void **state)
{
    (void)state;
    static const struct {
        double nx, nz;
        bool valid;
    } cases[] = {{0.8, 0.6, true}, {0.88, 0.4749736834815167, false}, {0.6, -0.8, false}};
    for (size_t k = 0; k < 3; k++) {
        pp_plane plane = {.point = {2, 3, 5}, .normal = {cases[k].nx, 0, cases[k].nz}};
        pp_slope_form form = pp_plane_slopes(&plane);
        assert_int_equal(form.valid, cases[k].valid);
        if (form.valid) assert_near(form.height, 5 + 2 * 0.8 / 0.6, 1e-12);
    }
}

/* Top flat and tilted; underside 38 below it, thinner by c r^2, with a wedge of 2e-4 along x. */
static void two_faces_give_thickness_and_parallelism(void **state)
{
    (void)state;
    fixture x = {0};
    enum { COUNT = 3000 };
    const double c = 4e-7;
    test_points p = test_points_take(&x.memory, COUNT), q = test_points_take(&x.memory, COUNT);
    test_fill_disc(&p, 1600);
    test_fill_disc(&q, 1600);
    for (size_t k = 0; k < COUNT; k++) {
        double r2 = q.x[k] * q.x[k] + q.y[k] * q.y[k];
        p.z[k] = 55 + 0.01 * p.x[k] - 0.02 * p.y[k];
        q.z[k] = 55 + 0.01 * q.x[k] - 0.02 * q.y[k] - 38 + c * r2 + 2e-4 * q.x[k];
    }
    pp_survey top = test_survey(&p), under = test_survey(&q);
    pp_job job = disc_job();
    study(&x, &job, &top, &under, 2);
    const pp_thickness_map *t = &x.f.thickness;
    double cosine = 1 / sqrt(1 + 0.01 * 0.01 + 0.02 * 0.02);
    assert_true(t->valid);
    assert_non_null(x.f.underside);
    /* along the normal: mean 38 - c R^2/2; largest where d/dx of c x^2 + 2e-4 x = 0: x = -250 */
    assert_near(t->mean, cosine * (38 - c * 1600 * 1600 / 2), 1e-4);
    assert_near(t->largest, cosine * (38 + 2e-4 * 2e-4 / (4 * c)), 5e-4);
    assert_near(t->largest_x, -250, 2);
    assert_near(t->smallest, cosine * (38 - c * 1600 * 1600 - 2e-4 * 1600), 5e-4);
    assert_near(t->smallest_x, 1600, 1);
    assert_near(t->smallest_y, 0, 30);
    assert_near(t->variation, t->largest - t->smallest, 1e-12);
    /* to the top's plane the underside points reach as far as the thickness varies; the spiral has
     * none exactly where it is least, but one some 2 mm off, at a slope of 1.5e-3 */
    assert_near(t->parallelism, t->variation, 4e-3);

    job.plate.outline = PP_OUTLINE_NONE; /* planes and parallelism need no outline */
    fixture y = {0};
    study(&y, &job, &top, &under, 2);
    assert_false(y.f.surface_valid);
    assert_int_equal(y.f.area_count, 0);
    assert_null(y.f.underside);
    assert_true(y.f.thickness.valid && isnan(y.f.thickness.mean));
    assert_near(y.f.thickness.parallelism, t->parallelism, 0);
    pp_memory_free(&y.memory);
    pp_memory_free(&x.memory);
}

static void the_same_bits_for_any_number_of_threads(void **state)
{
    (void)state;
    fixture x = {0}, y = {0};
    test_points p = rough_points(&x.memory, 70000);
    pp_survey survey = test_survey(&p);
    pp_job job = disc_job();
    job.survey.area_threshold = 0.9;
    study(&x, &job, &survey, &survey, 1);
    study(&y, &job, &survey, &survey, 8);
    assert_int_equal(y.f.area_count, x.f.area_count);
    for (size_t k = 0; k < x.f.area_count; k++)
        assert_memory_equal(&y.f.areas[k].area, &x.f.areas[k].area, 8 * sizeof(double));
    assert_memory_equal(y.f.map.deviation, x.f.map.deviation, 101 * 101 * sizeof(double));
    assert_memory_equal(&y.f.least_squares, &x.f.least_squares, sizeof(pp_least_squares));
    assert_memory_equal(&y.f.thickness.mean, &x.f.thickness.mean, 9 * sizeof(double));
    pp_memory_free(&y.memory);
    pp_memory_free(&x.memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(straightedges_are_laid_on_the_deviations),
        cmocka_unit_test(a_bowl_has_the_figures_of_its_closed_form),
        cmocka_unit_test(every_frame_gives_the_same_answer),
        cmocka_unit_test(slopes_stop_at_sixty_degrees),
        cmocka_unit_test(two_faces_give_thickness_and_parallelism),
        cmocka_unit_test(the_same_bits_for_any_number_of_threads),
    };
    pp_blas_single_thread();
    return cmocka_run_group_tests(tests, NULL, NULL);
}

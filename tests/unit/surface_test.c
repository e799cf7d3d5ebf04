/* The smooth surface: exact shapes, few points, outliers, unseen parts, and what must not change
 * it. */
#include "support/check.h"

#include "flatness/surface.h"
#include "linalg/linalg.h"
#include "support/surveys.h"

typedef struct fixture {
    pp_memory memory;
    pp_error error;
    pp_mesh mesh;
    pp_surface surface;
} fixture;

static void fit_with(fixture *f, const pp_job *job, const pp_survey *survey, double uncertainty,
                     int threads)
{
    pp_surface_options options = {.uncertainty = uncertainty, .threads = threads};
    assert_ok(pp_mesh_make(pp_job_outline(job), 20, &f->memory, &f->mesh, &f->error), &f->error);
    assert_ok(pp_surface_fit(survey, &f->mesh, &options, &f->memory, &f->surface, &f->error),
              &f->error);
}

/* A bow, a twist and a tilt at 1e6 mm of height: the residual of a noise-free quadratic is nothing,
 * and so are its noise and its outliers. */
static void a_noise_free_quadratic_comes_back(void **state)
{
    (void)state;
    fixture f = {0};
    test_points p = test_points_take(&f.memory, 961);
    test_fill_disc(&p, 1593);
    for (size_t k = 0; k < p.count; k++)
        p.z[k] = 1e6 + 1.7e-6 * p.x[k] * p.x[k] - 0.9e-6 * p.x[k] * p.y[k] +
                 0.4e-6 * p.y[k] * p.y[k] + 0.013 * p.x[k] - 0.21 * p.y[k];
    pp_survey survey = test_survey(&p);
    pp_job job = test_disc_job(3200);
    fit_with(&f, &job, &survey, NAN, 2);
    assert_true(f.surface.rms < 2e-5);
    assert_true(f.surface.noise < 2e-4);
    assert_int_equal(f.surface.outlier_count, 0);
    pp_surface_value at = pp_surface_at(&f.surface, 431.5, -777.7);
    double x = 431.5, y = -777.7;
    assert_near(at.w, 1e6 + 1.7e-6 * x * x - 0.9e-6 * x * y + 0.4e-6 * y * y + 0.013 * x - 0.21 * y,
                2e-5);
    assert_near(at.wx, 3.4e-6 * x - 0.9e-6 * y + 0.013, 1e-7);
    assert_near(at.wy, -0.9e-6 * x + 0.8e-6 * y - 0.21, 1e-7);
    assert_near(at.wxx, 3.4e-6, 2e-9);
    assert_near(at.wxy, -0.9e-6, 2e-9);
    assert_near(at.wyy, 0.8e-6, 2e-9);
    pp_memory_free(&f.memory);
}

static void a_plane_has_no_noise_at_all(void **state)
{
    (void)state;
    fixture f = {0};
    test_points p = test_points_take(&f.memory, 400);
    test_fill_rectangle(&p, 2000, 1100, 5);
    for (size_t k = 0; k < p.count; k++) p.z[k] = 3.7;
    pp_survey survey = test_survey(&p);
    pp_job job = test_rectangle_job(2000, 1100);
    fit_with(&f, &job, &survey, NAN, 2);
    assert_true(f.surface.noise < 1e-8 && f.surface.rms < 1e-8);
    assert_near(pp_surface_height(&f.surface, -999, 549), 3.7, 1e-9);
    /* steep: 50 degrees */
    for (size_t k = 0; k < p.count; k++) p.z[k] = 1.19 * p.x[k] + 2;
    fit_with(&f, &job, &survey, NAN, 2);
    assert_near(pp_surface_height(&f.surface, -999, 549), 2 - 1.19 * 999, 1e-8);
    pp_memory_free(&f.memory);
}

static void three_points_give_their_plane(void **state)
{
    (void)state;
    double x[] = {-700, 650, 31}, y[] = {-420, -380, 510}, z[] = {1.25, 3.5, -2.125};
    test_points p = {3, x, y, z};
    pp_survey survey = test_survey(&p);
    pp_job job = test_disc_job(2000);
    for (int known = 0; known < 2; known++) {
        fixture f = {0};
        fit_with(&f, &job, &survey, known ? 0.06 : NAN, 1);
        /* the plane through them: solved by hand from two differences */
        double a1 = 1350, b1 = 40, c1 = 2.25, a2 = 731, b2 = 930, c2 = -3.375;
        double sx = (c1 * b2 - c2 * b1) / (a1 * b2 - a2 * b1);
        double sy = (a1 * c2 - a2 * c1) / (a1 * b2 - a2 * b1);
        assert_near(pp_surface_height(&f.surface, 1000, 0), 1.25 + 1700 * sx + 420 * sy, 1e-6);
        assert_near(pp_surface_height(&f.surface, 0, -1000), 1.25 + 700 * sx - 580 * sy, 1e-6);
        assert_near(f.surface.degrees_of_freedom, 3, 1e-3);
        assert_near(f.surface.noise, known ? 0.03 : 0, 0);
        assert_near(f.surface.standard_error_smoother, known ? 0.03 : 0, 1e-4);
        assert_int_equal(f.surface.outlier_count, 0);
        pp_memory_free(&f.memory);
    }
}

/* Four corners of a twist: nothing tells noise from shape, and the shape is believed. */
static void four_points_keep_their_twist(void **state)
{
    (void)state;
    double x[] = {-500, 500, 500, -500}, y[] = {-500, -500, 500, 500}, z[] = {0, 1, 0, 1};
    test_points p = {4, x, y, z};
    pp_survey survey = test_survey(&p);
    pp_job job = test_rectangle_job(1100, 1100);
    fixture f = {0};
    fit_with(&f, &job, &survey, NAN, 1);
    for (int k = 0; k < 4; k++) assert_near(pp_surface_height(&f.surface, x[k], y[k]), z[k], 0.01);
    assert_near(pp_surface_height(&f.surface, 0, 0), 0.5, 1e-6);
    pp_memory_free(&f.memory);
}

static double wavy(double x, double y) { return 1.3 * sin(x / 410) * cos(y / 530) + 2e-4 * x; }

static test_points wavy_points(pp_memory *memory, size_t count, double noise)
{
    test_points p = test_points_take(memory, count);
    test_fill_disc(&p, 1500);
    test_random seed = {77};
    for (size_t k = 0; k < count; k++) p.z[k] = wavy(p.x[k], p.y[k]) + noise * random_normal(&seed);
    return p;
}

static void outliers_are_named_and_lose_their_say(void **state)
{
    (void)state;
    fixture f = {0};
    test_points p = wavy_points(&f.memory, 2500, 0.03);
    for (size_t k = 100; k < 2500; k += 300) p.z[k] += k % 200 ? -1.9 : 4.2; /* 8 points */
    pp_survey survey = test_survey(&p);
    pp_job job = test_disc_job(3000);
    fit_with(&f, &job, &survey, NAN, 2);
    assert_int_equal(f.surface.outlier_count, 8);
    for (size_t k = 0; k < 8; k++) assert_int_equal(f.surface.outliers[k], 101 + 300 * k);
    assert_near(f.surface.noise, 0.03, 0.003);
    assert_int_equal(f.surface.left_out_count, 8);
    assert_true(f.surface.rms < 0.04); /* of the points in it */
    for (size_t k = 0; k < 8; k++) {
        size_t at = 100 + 300 * k;
        assert_near(pp_surface_height(&f.surface, p.x[at], p.y[at]), wavy(p.x[at], p.y[at]), 0.06);
    }
    pp_memory_free(&f.memory);
}

/* So few points that the surface could follow every one of them, and an uncertainty that says it
 * should: what is wild is found all the same, whatever its size, and named. */
static void wild_points_are_found_whatever_their_size(void **state)
{
    (void)state;
    static const double sizes[] = {1, 2, 5, 14, 140};
    for (int which = 0; which < 10; which++) {
        fixture f = {0};
        test_points p = wavy_points(&f.memory, 383, 0.02);
        double size = sizes[which / 2], uncertainty = which % 2 ? 0.04 : NAN;
        p.z[100] += size, p.z[290] -= 0.7 * size;
        pp_survey survey = test_survey(&p);
        pp_job job = test_disc_job(3000);
        fit_with(&f, &job, &survey, uncertainty, 2);
        assert_int_equal(f.surface.outlier_count, 2);
        assert_int_equal(f.surface.left_out_count, 2);
        assert_int_equal(f.surface.outliers[0], 101);
        assert_int_equal(f.surface.outliers[1], 291);
        assert_true(f.surface.noise < 0.03);
        for (int k = 100; k < 300; k += 190)
            assert_near(pp_surface_height(&f.surface, p.x[k], p.y[k]), wavy(p.x[k], p.y[k]), 0.1);
        pp_memory_free(&f.memory);
    }
}

/* Two beside each other hide each other from a fit; three together may be a weld bead. */
static void neighbours_do_not_hide_each_other(void **state)
{
    (void)state;
    for (int together = 2; together <= 3; together++) {
        fixture f = {0};
        test_points p = wavy_points(&f.memory, 383, 0.02);
        size_t at = 150;
        bool raised[383] = {false};
        for (int k = 0; k < together; k++) {
            p.z[at] += 6;
            raised[at] = true;
            size_t next = 383;
            for (size_t j = 0; j < 383; j++)
                if (!raised[j] &&
                    (next == 383 || hypot(p.x[j] - p.x[150], p.y[j] - p.y[150]) <
                                        hypot(p.x[next] - p.x[150], p.y[next] - p.y[150])))
                    next = j;
            at = next;
        }
        pp_survey survey = test_survey(&p);
        pp_job job = test_disc_job(3000);
        fit_with(&f, &job, &survey, 0.04, 2);
        size_t found = 0;
        for (size_t i = 0; i < f.surface.outlier_count; i++)
            found += raised[f.surface.outliers[i] - 1];
        assert_int_equal(found, together);
        assert_int_equal(f.surface.outlier_count, together);
        assert_int_equal(f.surface.left_out_count, together < 3 ? together : 0);
        pp_memory_free(&f.memory);
    }
}

/* Shapes that plates have: nothing of them is wild, on a raster either. */
static void a_sharp_plate_is_not_wild(void **state)
{
    (void)state;
    for (int which = 0; which < 6; which++) {
        fixture f = {0};
        test_points p = test_points_take(&f.memory, 400);
        for (size_t k = 0; k < 400; k++) {
            double x = p.x[k] = (double)(k % 20) * 150 - 1425, noise = 0.02;
            double y = p.y[k] = (double)(k / 20) * 150 - 1425, r = hypot(x - 300, y + 200);
            static test_random seed = {5};
            double shape[] = {3 * exp(-r * r / (2 * 250.0 * 250)), /* a buckle of three points */
                              fmax(0, x) / 150,                    /* a crease */
                              x > 0 ? 2 : 0,                       /* a step */
                              r / 400,                             /* a cone */
                              fmax(0, hypot(x, y) - 1700) / 20,    /* corners bent up */
                              4 * sin(x / 200) * sin(y / 200)};
            p.z[k] = shape[which] + noise * random_normal(&seed);
        }
        pp_survey survey = test_survey(&p);
        pp_job job = test_rectangle_job(3000, 3000);
        fit_with(&f, &job, &survey, 0.04, 2);
        assert_int_equal(f.surface.left_out_count, 0);
        pp_memory_free(&f.memory);
    }
}

/* What lies within the uncertainty stated is no outlier, however quiet the rest. */
static void the_stated_uncertainty_shields(void **state)
{
    (void)state;
    for (int known = 0; known < 2; known++) {
        fixture f = {0};
        test_points p = wavy_points(&f.memory, 2500, 0.02);
        p.z[1234] += 0.35;
        pp_survey survey = test_survey(&p);
        pp_job job = test_disc_job(3000);
        fit_with(&f, &job, &survey, known ? 0.4 : NAN, 2);
        assert_int_equal(f.surface.outlier_count, !known);
        pp_memory_free(&f.memory);
    }
}

static void clean_noise_has_no_outliers(void **state)
{
    (void)state;
    for (size_t count = 200; count <= 20000; count *= 10) {
        fixture f = {0};
        test_points p = wavy_points(&f.memory, count, 0.05);
        pp_survey survey = test_survey(&p);
        pp_job job = test_disc_job(3000);
        fit_with(&f, &job, &survey, 0.1, 2);
        assert_int_equal(f.surface.outlier_count, 0);
        assert_false(f.surface.noisier_than_stated);
        assert_near(f.surface.noise, 0.05, count > 1000 ? 0.002 : 0.015);
        double squares = 0; /* the standard error tells the error */
        for (size_t k = 0; k < count; k++) {
            double e = pp_surface_height(&f.surface, p.x[k], p.y[k]) - wavy(p.x[k], p.y[k]);
            squares += e * e;
        }
        double error = sqrt(squares / (double)count);
        assert_true(error < 1.3 * f.surface.standard_error);
        assert_true(error > 0.6 * f.surface.standard_error_smoother);
        pp_memory_free(&f.memory);
    }
}

static void noise_beyond_the_stated_is_said(void **state)
{
    (void)state;
    fixture f = {0};
    test_points p = wavy_points(&f.memory, 3000, 0.05);
    pp_survey survey = test_survey(&p);
    pp_job job = test_disc_job(3000);
    fit_with(&f, &job, &survey, 0.02, 2);
    assert_true(f.surface.noisier_than_stated);
    /* some 3 % low: the surface follows a little of what it takes for shape */
    assert_near(f.surface.noise, 0.05, 0.003);
    pp_memory_free(&f.memory);
}

/* A hundred points on a plate bent by 2.6 mm follow it so closely that 0.02 mm of noise hides. */
static void too_few_points_for_the_noise_is_said(void **state)
{
    (void)state;
    for (int known = 0; known < 2; known++) {
        fixture f = {0};
        test_points p = wavy_points(&f.memory, 100, 0.02);
        pp_survey survey = test_survey(&p);
        pp_job job = test_disc_job(3000);
        fit_with(&f, &job, &survey, known ? 0.04 : NAN, 2);
        assert_int_equal(f.surface.noise_unreliable, !known);
        if (known) assert_near(f.surface.standard_error_smoother, 0.02, 0.002);
        pp_memory_free(&f.memory);
    }
}

static void unseen_parts_are_found(void **state)
{
    (void)state;
    fixture f = {0};
    test_points p = test_points_take(&f.memory, 1000);
    test_fill_rectangle(&p, 2000, 1000, 3);
    for (size_t k = 0; k < p.count; k++) p.x[k] = p.x[k] / 2 - 500, p.z[k] = 1e-3 * p.x[k];
    pp_survey survey = test_survey(&p);
    pp_job job = test_rectangle_job(2000, 1000); /* the right half is bare */
    fit_with(&f, &job, &survey, 0.01, 2);
    double pitch = sqrt(2000.0 * 1000 / 1000);
    assert_near(f.surface.pitch, pitch, 1e-9);
    assert_near(f.surface.unseen_share, (1000 - 2 * pitch) / 2000, 0.01);
    assert_near(f.surface.unseen_x, 1000, 10);
    assert_near(f.surface.unseen_distance, 1000, 20);
    pp_memory_free(&f.memory);
    fixture g = {0};
    test_points q = wavy_points(&g.memory, 500, 0.05);
    pp_survey whole = test_survey(&q);
    pp_job disc = test_disc_job(3000);
    fit_with(&g, &disc, &whole, 0.1, 2);
    assert_near(g.surface.unseen_share, 0, 0);
    pp_memory_free(&g.memory);
}

static void the_same_bits_for_any_number_of_threads(void **state)
{
    (void)state;
    fixture f[3];
    memset(f, 0, sizeof f);
    static const int threads[] = {1, 2, 8};
    test_points p = wavy_points(&f[0].memory, 150000, 0.02);
    p.z[777] += 5, p.z[99999] -= 2;
    pp_survey survey = test_survey(&p);
    pp_job job = test_disc_job(3000);
    for (int k = 0; k < 3; k++) fit_with(&f[k], &job, &survey, NAN, threads[k]);
    for (int k = 1; k < 3; k++) {
        assert_memory_equal(f[k].surface.field, f[0].surface.field,
                            f[0].mesh.dofs * sizeof(double));
        assert_int_equal(f[k].surface.outlier_count, 2);
        assert_near(f[k].surface.noise, f[0].surface.noise, 0);
        assert_near(f[k].surface.rms, f[0].surface.rms, 0);
        assert_near(f[k].surface.standard_error, f[0].surface.standard_error, 0);
    }
    for (int k = 2; k >= 0; k--) pp_memory_free(&f[k].memory);
}

/* The survey taken with every axis up, turned, and its origin 1e6 mm away gives the same surface.
 */
static void the_frame_of_the_survey_does_not_matter(void **state)
{
    (void)state;
    fixture f = {0};
    test_points p = wavy_points(&f.memory, 1500, 0.03);
    pp_survey survey = test_survey(&p);
    pp_job job = test_disc_job(3000);
    fit_with(&f, &job, &survey, NAN, 2);
    for (int up = PP_UP_Z; up <= PP_UP_MINUS_Z; up++) {
        fixture g = {0};
        test_points q = test_points_take(&g.memory, p.count);
        double cosine = 0.8, sine = -0.6, ox = 1000123, oy = -999871;
        for (size_t k = 0; k < p.count; k++) {
            double x = p.x[k] - ox, y = p.y[k] - oy; /* plate frame back to the survey's */
            double px = cosine * x + sine * y, py = cosine * y - sine * x, pz = p.z[k] + 1e6;
            double *to[3] = {&q.x[k], &q.y[k], &q.z[k]};
            bool minus = up >= PP_UP_MINUS_X;
            int axis = up == PP_UP_Z || up == PP_UP_MINUS_Z   ? 2
                       : up == PP_UP_X || up == PP_UP_MINUS_X ? 0
                                                              : 1;
            *to[(axis + 1) % 3] = px;
            *to[(axis + 2) % 3] = minus ? -py : py;
            *to[axis] = minus ? -pz : pz;
        }
        pp_survey turned = test_survey(&q);
        turned.frame = (pp_survey_frame){(pp_axis)up, cosine, sine, ox, oy};
        fit_with(&g, &job, &turned, NAN, 2);
        for (int k = 0; k < 50; k++) {
            double r = 1500 * sqrt((k + 0.5) / 50), x = r * cos(2.4 * k), y = r * sin(2.4 * k);
            assert_near(pp_surface_height(&g.surface, x, y) - 1e6,
                        pp_surface_height(&f.surface, x, y), 2e-7);
        }
        assert_near(g.surface.noise, f.surface.noise, 1e-8);
        pp_memory_free(&g.memory);
    }
    pp_memory_free(&f.memory);
}

/* Turning the plate itself by a right angle turns the surface; stretching all lengths scales it. */
static void turned_and_scaled_plates_agree(void **state)
{
    (void)state;
    fixture f = {0}, g = {0};
    test_points p = test_points_take(&f.memory, 900), q = test_points_take(&f.memory, 900);
    test_fill_rectangle(&p, 2400, 1500, 11);
    test_random seed = {4};
    for (size_t k = 0; k < p.count; k++) {
        p.z[k] = wavy(p.x[k], p.y[k]) + 0.03 * random_normal(&seed);
        q.x[k] = -p.y[k] * 25.4, q.y[k] = p.x[k] * 25.4, q.z[k] = p.z[k] * 25.4;
    }
    pp_survey survey = test_survey(&p), turned = test_survey(&q);
    pp_job job = test_rectangle_job(2400, 1500),
           other = test_rectangle_job(1500 * 25.4, 2400 * 25.4);
    fit_with(&f, &job, &survey, NAN, 2);
    fit_with(&g, &other, &turned, NAN, 2);
    for (int k = 0; k < 50; k++) {
        double x = 48 * (k - 24.5), y = 1450 * ((k * 7 % 50) / 50.0 - 0.5);
        assert_near(pp_surface_height(&g.surface, -y * 25.4, x * 25.4) / 25.4,
                    pp_surface_height(&f.surface, x, y), 1e-6);
    }
    pp_memory_free(&f.memory);
    pp_memory_free(&g.memory);
}

static void points_off_the_plate_are_counted(void **state)
{
    (void)state;
    fixture f = {0};
    test_points p = wavy_points(&f.memory, 1200, 0.03);
    p.x[5] = 1900, p.y[5] = 0;
    p.x[6] = -1200, p.y[6] = 1300;
    pp_survey survey = test_survey(&p);
    pp_job job = test_disc_job(3000);
    fit_with(&f, &job, &survey, NAN, 2);
    assert_int_equal(f.surface.outside_count, 2);
    pp_surface_options options = {.uncertainty = NAN, .threads = 1};
    for (size_t k = 0; k < p.count; k++) p.x[k] += 4000;
    assert_int_equal(pp_surface_fit(&survey, &f.mesh, &options, &f.memory, &f.surface, &f.error),
                     PP_EINPUT);
    pp_memory_free(&f.memory);
}

static void points_in_one_line_are_refused(void **state)
{
    (void)state;
    fixture f = {0};
    test_points p = test_points_take(&f.memory, 40);
    for (size_t k = 0; k < 40; k++)
        p.x[k] = 30.0 * (double)k - 600, p.y[k] = 0.4 * p.x[k], p.z[k] = 0;
    pp_survey survey = test_survey(&p);
    pp_job job = test_disc_job(3000);
    pp_surface_options options = {.uncertainty = NAN, .threads = 1};
    assert_ok(pp_mesh_make(pp_job_outline(&job), 32, &f.memory, &f.mesh, &f.error), &f.error);
    assert_int_equal(pp_surface_fit(&survey, &f.mesh, &options, &f.memory, &f.surface, &f.error),
                     PP_EINPUT);
    pp_memory_free(&f.memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_noise_free_quadratic_comes_back),
        cmocka_unit_test(a_plane_has_no_noise_at_all),
        cmocka_unit_test(three_points_give_their_plane),
        cmocka_unit_test(four_points_keep_their_twist),
        cmocka_unit_test(outliers_are_named_and_lose_their_say),
        cmocka_unit_test(wild_points_are_found_whatever_their_size),
        cmocka_unit_test(neighbours_do_not_hide_each_other),
        cmocka_unit_test(a_sharp_plate_is_not_wild),
        cmocka_unit_test(the_stated_uncertainty_shields),
        cmocka_unit_test(clean_noise_has_no_outliers),
        cmocka_unit_test(noise_beyond_the_stated_is_said),
        cmocka_unit_test(too_few_points_for_the_noise_is_said),
        cmocka_unit_test(unseen_parts_are_found),
        cmocka_unit_test(the_same_bits_for_any_number_of_threads),
        cmocka_unit_test(the_frame_of_the_survey_does_not_matter),
        cmocka_unit_test(turned_and_scaled_plates_agree),
        cmocka_unit_test(points_off_the_plate_are_counted),
        cmocka_unit_test(points_in_one_line_are_refused),
    };
    pp_blas_single_thread();
    return cmocka_run_group_tests(tests, NULL, NULL);
}

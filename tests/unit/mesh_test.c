#include "base/constants.h"
#include "support/check.h"

#include "elements/cell.h"
#include "elements/mesh.h"
#include "linalg/linalg.h"

static pp_mesh made(pp_memory *memory, pp_outline outline, double width, double height,
                    size_t cells)
{
    pp_outline_spec spec = {.kind = outline,
                            .diameter = width,
                            .width = width,
                            .height = height,
                            .centre_x = 913.25,
                            .centre_y = -418.5};
    pp_mesh mesh;
    pp_error error = {0};
    assert_ok(pp_mesh_make(spec, cells, memory, &mesh, &error), &error);
    return mesh;
}

static void sizes_follow_the_outline(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_mesh wide = made(&memory, PP_OUTLINE_RECTANGLE, 3000, 1900, 32);
    assert_int_equal(wide.nx, 32);
    assert_int_equal(wide.ny, 20); /* 32 * 1900 / 3000 = 20.3 */
    assert_false(wide.x_fastest);
    assert_int_equal(wide.dofs, 4 * 33 * 21);
    assert_int_equal(wide.active_dofs, wide.dofs);
    assert_int_equal(wide.half_bandwidth, 4 * 22 + 3);
    pp_mesh slim = made(&memory, PP_OUTLINE_RECTANGLE, 300, 2900, 32);
    assert_int_equal(slim.nx, 20);
    assert_int_equal(slim.ny, 32);
    assert_true(slim.x_fastest);
    pp_mesh coarse = made(&memory, PP_OUTLINE_RECTANGLE, 300, 2900, 8);
    assert_int_equal(coarse.nx, 2);
    assert_near(coarse.area, 300.0 * 2900, 1e-8);
    pp_memory_free(&memory);
}

static void disc_area_is_integrated(void **state)
{
    (void)state;
    pp_memory memory = {0};
    /* pi * 1234.5^2; odd and even numbers of cells cut the rim differently */
    double want = PP_PI * 1234.5 * 1234.5;
    static const size_t cells[] = {1, 2, 3, 5, 20, 21, 31, 32, 33, 48, 64};
    for (size_t k = 0; k < sizeof cells / sizeof *cells; k++)
        assert_near(made(&memory, PP_OUTLINE_DISC, 2469, 0, cells[k]).area / want, 1,
                    cells[k] < 20 ? 1e-5 : 2e-8);
    pp_memory_free(&memory);
}

static void what_has_no_outline_or_size_is_refused(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_mesh mesh;
    pp_error error = {0};
    pp_outline_spec spec = {.width = 3, .height = 4};
    assert_int_equal(pp_mesh_make(spec, 32, &memory, &mesh, &error), PP_ENOTHING);
    spec.kind = PP_OUTLINE_RECTANGLE;
    assert_int_equal(pp_mesh_make(spec, 0, &memory, &mesh, &error), PP_EINPUT);
    spec.height = NAN;
    assert_int_equal(pp_mesh_make(spec, 32, &memory, &mesh, &error), PP_EINPUT);
    pp_memory_free(&memory);
}

/* A cubic in x times a cubic in y lies in the space: its dofs are its own values and slopes, and it
 * must come back everywhere, with all its derivatives. */
static void a_bicubic_is_exact(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_mesh mesh = made(&memory, PP_OUTLINE_DISC, 2469, 0, 21);
    double *field = pp_arena_take(&memory.keep, mesh.dofs, sizeof *field);
    for (size_t j = 0; j <= mesh.ny; j++)
        for (size_t i = 0; i <= mesh.nx; i++) {
            double u = (double)i * mesh.hx / 1000, v = (double)j * mesh.hy / 1000; /* m */
            double p = 0.31 + u * (1.7 + u * (-2.3 + u)), q = 1.9 + v * (0.4 + v * (1.3 - v));
            double dp = (1.7 + u * (-4.6 + 3 * u)) / 1000, dq = (0.4 + v * (2.6 - 3 * v)) / 1000;
            double *at = field + 4 * pp_mesh_node(&mesh, i, j);
            at[0] = p * q, at[1] = mesh.hx * dp * q;
            at[2] = mesh.hy * p * dq, at[3] = mesh.hx * mesh.hy * dp * dq;
        }
    for (int k = 0; k < 200; k++) { /* within and a little beyond the rim */
        double r = 1240 * sqrt((k + 0.5) / 200), angle = 2.399963 * k;
        double x = mesh.centre_x + r * cos(angle), y = mesh.centre_y + r * sin(angle);
        double u = (x - mesh.x0) / 1000, v = (y - mesh.y0) / 1000;
        double p[3] = {0.31 + u * (1.7 + u * (-2.3 + u)), 1.7 + u * (-4.6 + 3 * u), -4.6 + 6 * u};
        double q[3] = {1.9 + v * (0.4 + v * (1.3 - v)), 0.4 + v * (2.6 - 3 * v), 2.6 - 6 * v};
        for (int dx = 0; dx < 3; dx++)
            for (int dy = 0; dy < 3; dy++) {
                pp_mesh_row row;
                pp_mesh_shape(&mesh, pp_mesh_find(&mesh, x, y), dx, dy, &row);
                assert_near(pp_mesh_value(&row, field) * pow(1000, dx + dy), p[dx] * q[dy], 2e-9);
            }
    }
    pp_memory_free(&memory);
}

/* Energy of w = a x^2 + b x y + c y^2: D/2 (4 a^2 + 4 c^2 + 8 nu a c + 2 (1 - nu) b^2) area; the
 * props of the cut cells add at most 1e-6 of the whole cells. A plane has none. */
static void energy_of_a_quadratic(void **state)
{
    (void)state;
    pp_memory memory = {0};
    static const pp_outline outlines[] = {PP_OUTLINE_DISC, PP_OUTLINE_RECTANGLE};
    for (int o = 0; o < 2; o++) {
        pp_mesh mesh = made(&memory, outlines[o], 2469, 1711, 23);
        pp_error error = {0};
        double *band =
            pp_arena_take(&memory.keep, mesh.dofs * (mesh.half_bandwidth + 1), sizeof *band);
        double *field = pp_arena_take(&memory.keep, mesh.dofs, sizeof *field);
        double *force = pp_arena_take(&memory.keep, mesh.dofs, sizeof *force);
        assert_ok(pp_mesh_stiffness(&mesh, 0.27, band, &error), &error);
        const double a = 3.1e-6, b = -1.7e-6, c = 0.9e-6, tilt = 0.013;
        for (int bent = 0; bent < 2; bent++) {
            for (size_t j = 0; j <= mesh.ny; j++)
                for (size_t i = 0; i <= mesh.nx; i++) {
                    double x = (double)i * mesh.hx, y = (double)j * mesh.hy;
                    double *at = field + 4 * pp_mesh_node(&mesh, i, j);
                    at[0] = bent * (a * x * x + b * x * y + c * y * y) + tilt * x - 2;
                    at[1] = mesh.hx * (bent * (2 * a * x + b * y) + tilt);
                    at[2] = mesh.hy * bent * (b * x + 2 * c * y);
                    at[3] = mesh.hx * mesh.hy * bent * b;
                }
            pp_band_multiply(mesh.dofs, mesh.half_bandwidth, band, field, force);
            double energy = 0, inert = 0, corner;
            for (size_t d = 0; d < mesh.dofs; d++) energy += field[d] * force[d];
            /* inert dofs of dropped corner cells have a unit diagonal */
            for (size_t d = 0; d < mesh.dofs; d++) {
                corner = band[d * (mesh.half_bandwidth + 1)];
                if (corner == 1) inert += field[d] * field[d];
            }
            energy -= inert;
            double want = 4 * a * a + 4 * c * c + 8 * 0.27 * a * c + 2 * (1 - 0.27) * b * b;
            double scale = want * mesh.area;
            assert_near(energy / scale, bent, bent ? 1e-6 : 1e-9);
        }
    }
    pp_memory_free(&memory);
}

static void rim_points_find_an_active_cell(void **state)
{
    (void)state;
    pp_memory memory = {0};
    for (size_t cells = 20; cells < 40; cells++) {
        pp_mesh mesh = made(&memory, PP_OUTLINE_DISC, 2469, 0, cells);
        for (int k = 0; k < 1440; k++) {
            double angle = k * PP_PI / 720;
            double x = mesh.centre_x + mesh.radius * cos(angle);
            double y = mesh.centre_y + mesh.radius * sin(angle);
            pp_mesh_place place = pp_mesh_find(&mesh, x, y);
            assert_true(mesh.fraction[place.j * mesh.nx + place.i] > 0);
            assert_true(pp_mesh_inside(&mesh, x, y));
            assert_true(place.s > -1e-3 && place.s < 1.001 && place.t > -1e-3 && place.t < 1.001);
            place = pp_mesh_find(&mesh, mesh.centre_x + 1.4 * (x - mesh.centre_x), y + 300);
            assert_true(mesh.fraction[place.j * mesh.nx + place.i] > 0);
        }
    }
    pp_memory_free(&memory);
}

static void load_has_the_area_and_the_centroid(void **state)
{
    (void)state;
    pp_memory memory = {0};
    static const pp_outline outlines[] = {PP_OUTLINE_DISC, PP_OUTLINE_RECTANGLE};
    for (int o = 0; o < 2; o++) {
        pp_mesh mesh = made(&memory, outlines[o], 2469, 1711, 32);
        double *load = pp_arena_take(&memory.keep, mesh.dofs, sizeof *load);
        pp_mesh_uniform_load(&mesh, load);
        double total = 0, moment = 0;
        for (size_t j = 0; j <= mesh.ny; j++)
            for (size_t i = 0; i <= mesh.nx; i++) {
                size_t node = pp_mesh_node(&mesh, i, j);
                total += load[4 * node]; /* dofs of the field w = 1 and of w = x */
                moment +=
                    load[4 * node] * (mesh.x0 + (double)i * mesh.hx) + load[4 * node + 1] * mesh.hx;
            }
        assert_near(total / mesh.area, 1, 1e-12);
        assert_near(moment / total, mesh.centre_x, 1e-6);
    }
    pp_memory_free(&memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sizes_follow_the_outline),
        cmocka_unit_test(disc_area_is_integrated),
        cmocka_unit_test(what_has_no_outline_or_size_is_refused),
        cmocka_unit_test(a_bicubic_is_exact),
        cmocka_unit_test(energy_of_a_quadratic),
        cmocka_unit_test(rim_points_find_an_active_cell),
        cmocka_unit_test(load_has_the_area_and_the_centroid),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

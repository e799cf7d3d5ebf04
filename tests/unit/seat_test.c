#include "support/check.h"

#include "holddown/reactions.h"
#include "holddown/seat.h"

static double uniform(uint64_t *seed) /* splitmix64 in [0, 1) */
{
    uint64_t z = *seed += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

static void the_plate_rests_on_three_points_around_its_centre(void **state)
{
    (void)state;
    enum { N = 200 };
    double x[N], y[N], z[N];
    for (uint64_t seed = 1; seed <= 50; seed++) {
        uint64_t s = seed * 6151;
        double cx = 410 + 90 * uniform(&s), cy = -230 + 70 * uniform(&s);
        for (int i = 0; i < N; i++) {
            x[i] = cx + 1500 * (2 * uniform(&s) - 1);
            y[i] = cy + 900 * (2 * uniform(&s) - 1);
            z[i] = 3.17 + 0.002 * x[i] - 0.0007 * y[i] + 0.6 * uniform(&s);
        }
        pp_rest_plane plane;
        pp_error error = {0};
        assert_ok(pp_seat_rest_plane(N, x, y, z, cx, cy, 3000, &plane, &error), &error);
        for (int i = 0; i < N; i++) assert_true(z[i] - pp_seat_height(&plane, x[i], y[i]) >= -1e-8);
        double tx[3], ty[3], angles[3];
        for (int k = 0; k < 3; k++) {
            size_t i = plane.touching[k];
            assert_near(pp_seat_height(&plane, x[i], y[i]), z[i], 1e-9);
            tx[k] = x[i];
            ty[k] = y[i];
        }
        assert_true(pp_footing_surrounds(3, tx, ty, cx, cy, 3000, angles));
    }
}

static void a_flat_plate_rests_on_its_own_plane(void **state)
{
    (void)state;
    double x[] = {0, 700, 1400, 0, 700, 1400, 0, 700, 1400};
    double y[] = {0, 0, 0, 300, 300, 300, 600, 600, 600}, z[9];
    for (int i = 0; i < 9; i++) z[i] = 2.5 + 0.001 * x[i] - 0.0005 * y[i];
    pp_rest_plane plane;
    pp_error error = {0};
    assert_ok(pp_seat_rest_plane(9, x, y, z, 700, 310, 1400, &plane, &error), &error);
    for (int i = 0; i < 9; i++) assert_near(pp_seat_height(&plane, x[i], y[i]), z[i], 1e-8);
}

/* Over a regular raster the centre stands on nodes and on edges of many triangles at once. */
static void a_raster_about_the_centre_is_no_trap(void **state)
{
    (void)state;
    enum { NX = 17, NY = 21 };
    double x[NX * NY], y[NX * NY], z[NX * NY];
    for (uint64_t seed = 1; seed <= 200; seed++) {
        uint64_t random = seed * 7717;
        double a = uniform(&random) - 0.5, b = uniform(&random) - 0.5, c = uniform(&random) - 0.5;
        for (int i = 0; i < NX * NY; i++) { /* even in u and v about the centre: ties abound */
            double u = (i % NX - NX / 2) / 8.0, v = (i / NX - NY / 2) / 10.0;
            x[i] = 2000 + 1250 * u;
            y[i] = 1250 + 2000 * v;
            z[i] = 4 * (a * u * u + b * u * v + c * v * v);
        }
        pp_rest_plane plane;
        pp_error error = {0};
        assert_ok(pp_seat_rest_plane(NX * NY, x, y, z, 2000, 1250, 4000, &plane, &error), &error);
        for (int i = 0; i < NX * NY; i++)
            assert_true(z[i] - pp_seat_height(&plane, x[i], y[i]) >= -1e-7);
    }
}

static void a_plate_beside_its_supports_is_refused(void **state)
{
    (void)state;
    double x[] = {0, 100, 50, 20}, y[] = {0, 10, 90, 33}, z[] = {0.1, 0, 0.3, 0.2};
    pp_rest_plane plane = {.height = 77};
    pp_error error = {0};
    assert_int_equal(pp_seat_rest_plane(4, x, y, z, 120, 40, 100, &plane, &error), PP_EINPUT);
    assert_non_null(strstr(error.message, "tip"));
    assert_near(plane.height, 77, 0);
}

static void footing_balances_the_weight_and_never_pulls(void **state)
{
    (void)state;
    enum { N = 60 };
    double x[N], y[N], share[N], angles[N], r[N];
    int idle = 0;
    for (uint64_t seed = 1; seed <= 80; seed++) {
        uint64_t s = seed * 3571;
        double cx = 1300, cy = 2750, weight = 48369.3;
        /* the centre of mass near the edge of the supports: many of them end up idle */
        double off = 1.25 * uniform(&s);
        for (int i = 0; i < N; i++) {
            x[i] = cx + 1000 * (uniform(&s) * 2 - 1 + 0.6 * off);
            y[i] = cy + 800 * (uniform(&s) * 2 - 1);
            share[i] = 0.4 + uniform(&s);
        }
        assert_true(pp_footing_solve(N, x, y, share, cx, cy, weight, 1500, angles, r));
        double sum = 0, mx = 0, my = 0;
        for (int i = 0; i < N; i++) {
            assert_true(r[i] >= 0);
            idle += r[i] == 0;
            sum += r[i];
            mx += r[i] * (x[i] - cx);
            my += r[i] * (y[i] - cy);
        }
        assert_near(sum, weight, 1e-8 * weight);
        assert_near(mx, 0, 1e-8 * weight * 1500);
        assert_near(my, 0, 1e-8 * weight * 1500);
        /* least sum r^2/a: the reactions per area lie on one plane wherever they push */
    }
    assert_true(idle > 0);
}

static void three_supports_are_statics(void **state)
{
    (void)state;
    /* triangle and a weight whose lever arms give 0.2, 0.3, 0.5 of it */
    double x[] = {0, 1000, 400}, y[] = {0, 100, 900}, share[] = {1, 1, 1}, angles[3], r[3];
    double cx = 0.2 * 0 + 0.3 * 1000 + 0.5 * 400, cy = 0.3 * 100 + 0.5 * 900;
    assert_true(pp_footing_solve(3, x, y, share, cx, cy, 7654.3, 1000, angles, r));
    assert_near(r[0], 0.2 * 7654.3, 1e-7);
    assert_near(r[1], 0.3 * 7654.3, 1e-7);
    assert_near(r[2], 0.5 * 7654.3, 1e-7);
    assert_false(pp_footing_solve(3, x, y, share, 900, 700, 7654.3, 1000, angles, r));
    double line_x[] = {0, 500, 1000, 250}, line_y[] = {100, 100, 100, 100};
    double four[] = {1, 1, 1, 1}, work[4], out[4];
    assert_false(pp_footing_solve(4, line_x, line_y, four, 480, 100, 7654.3, 1000, work, out));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_plate_rests_on_three_points_around_its_centre),
        cmocka_unit_test(a_flat_plate_rests_on_its_own_plane),
        cmocka_unit_test(a_raster_about_the_centre_is_no_trap),
        cmocka_unit_test(a_plate_beside_its_supports_is_refused),
        cmocka_unit_test(footing_balances_the_weight_and_never_pulls),
        cmocka_unit_test(three_supports_are_statics),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

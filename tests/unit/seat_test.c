#include "support/check.h"

#include "holddown/reactions.h"
#include "holddown/seat.h"
#include "support/random.h"

static void the_plate_rests_on_three_points_around_its_centre(void **state)
{
    (void)state;
    enum { N = 200 };
    double x[N], y[N], z[N];
    for (uint64_t seed = 1; seed <= 50; seed++) {
        test_random s = {seed * 6151};
        double cx = 410 + 90 * random_unit(&s), cy = -230 + 70 * random_unit(&s);
        for (int i = 0; i < N; i++) {
            x[i] = cx + 1500 * (2 * random_unit(&s) - 1);
            y[i] = cy + 900 * (2 * random_unit(&s) - 1);
            z[i] = 3.17 + 0.002 * x[i] - 0.0007 * y[i] + 0.6 * random_unit(&s);
        }
        pp_rest_plane plane;
        pp_error error = {0};
        assert_ok(pp_seat_rest_plane(&(pp_stand){N, x, y, cx, cy, 3000}, z, &plane, &error),
                  &error);
        for (int i = 0; i < N; i++) assert_true(z[i] - pp_seat_height(&plane, x[i], y[i]) >= -1e-8);
        double tx[3], ty[3], angles[3];
        for (int k = 0; k < 3; k++) {
            size_t i = plane.touching[k];
            assert_near(pp_seat_height(&plane, x[i], y[i]), z[i], 1e-9);
            tx[k] = x[i];
            ty[k] = y[i];
        }
        assert_true(pp_footing_surrounds(&(pp_stand){3, tx, ty, cx, cy, 3000}, angles));
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
    assert_ok(pp_seat_rest_plane(&(pp_stand){9, x, y, 700, 310, 1400}, z, &plane, &error), &error);
    for (int i = 0; i < 9; i++) assert_near(pp_seat_height(&plane, x[i], y[i]), z[i], 1e-8);
}

/* Over a regular raster the centre stands on nodes and on edges of many triangles at once. */
static void a_raster_about_the_centre_is_no_trap(void **state)
{
    (void)state;
    enum { NX = 17, NY = 21 };
    double x[NX * NY], y[NX * NY], z[NX * NY];
    for (uint64_t seed = 1; seed <= 200; seed++) {
        test_random random = {seed * 7717};
        double a = random_unit(&random) - 0.5, b = random_unit(&random) - 0.5,
               c = random_unit(&random) - 0.5;
        for (int i = 0; i < NX * NY; i++) { /* even in u and v about the centre: ties abound */
            double u = (i % NX - NX / 2) / 8.0, v = (i / NX - NY / 2) / 10.0;
            x[i] = 2000 + 1250 * u;
            y[i] = 1250 + 2000 * v;
            z[i] = 4 * (a * u * u + b * u * v + c * v * v);
        }
        pp_rest_plane plane;
        pp_error error = {0};
        assert_ok(
            pp_seat_rest_plane(&(pp_stand){NX * NY, x, y, 2000, 1250, 4000}, z, &plane, &error),
            &error);
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
    assert_int_equal(pp_seat_rest_plane(&(pp_stand){4, x, y, 120, 40, 100}, z, &plane, &error),
                     PP_EINPUT);
    assert_non_null(strstr(error.message, "tip"));
    assert_near(plane.height, 77, 0);
}

/* Least sum r^2/a among reactions that only push: r/a = max(0, c0 + c1 x + c2 y), so that r/a lies
 * on one plane where the supports push, and that plane is not above 0 where they are idle. The
 * plane goes through the three that push most apart; the others are held against it. */
static void check_least(int count, const double *x, const double *y, const double *share,
                        const double *r, double cx, double cy)
{
    int on[3] = {-1, -1, -1};
    double best = 0, largest = 0;
    for (int i = 0; i < count; i++) largest = fmax(largest, r[i] / share[i]);
    for (int i = 0; i < count; i++)
        for (int j = 0; j < i; j++)
            for (int k = 0; k < j; k++) {
                double area = fabs((x[j] - x[i]) * (y[k] - y[i]) - (x[k] - x[i]) * (y[j] - y[i]));
                if (r[i] == 0 || r[j] == 0 || r[k] == 0 || area <= best) continue;
                best = area, on[0] = i, on[1] = j, on[2] = k;
            }
    assert_true(best > 0);
    double a[3][4]; /* c0 + c1 (x - cx) + c2 (y - cy) = r/a at the three, by Gauss and Jordan */
    for (int k = 0; k < 3; k++) {
        double row[4] = {1, x[on[k]] - cx, y[on[k]] - cy, r[on[k]] / share[on[k]]};
        memcpy(a[k], row, sizeof row);
    }
    for (int c = 0; c < 3; c++) {
        int pivot = c;
        for (int k = c; k < 3; k++)
            if (fabs(a[k][c]) > fabs(a[pivot][c])) pivot = k;
        for (int l = 0; l < 4; l++) {
            double swap = a[c][l];
            a[c][l] = a[pivot][l], a[pivot][l] = swap;
        }
        for (int k = 0; k < 3; k++)
            for (int l = 3; l >= c && k != c; l--) a[k][l] -= a[k][c] / a[c][c] * a[c][l];
    }
    for (int i = 0; i < count; i++) {
        double plane =
            a[0][3] / a[0][0] + a[1][3] / a[1][1] * (x[i] - cx) + a[2][3] / a[2][2] * (y[i] - cy);
        if (r[i] > 0)
            assert_near(r[i] / share[i], plane, 1e-6 * largest);
        else
            assert_true(plane <= 1e-6 * largest);
    }
}

static void footing_balances_the_weight_and_never_pulls(void **state)
{
    (void)state;
    enum { N = 60 };
    double x[N], y[N], share[N], angles[N], r[N];
    int idle = 0;
    for (uint64_t seed = 1; seed <= 80; seed++) {
        test_random s = {seed * 3571};
        double cx = 1300, cy = 2750, weight = 48369.3;
        /* the centre of mass near the edge of the supports: many of them end up idle */
        double off = 1.25 * random_unit(&s);
        for (int i = 0; i < N; i++) {
            x[i] = cx + 1000 * (random_unit(&s) * 2 - 1 + 0.6 * off);
            y[i] = cy + 800 * (random_unit(&s) * 2 - 1);
            share[i] = 0.4 + random_unit(&s);
        }
        assert_true(pp_footing_solve(&(pp_stand){N, x, y, cx, cy, 1500}, share, weight, angles, r));
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
        check_least(N, x, y, share, r, cx, cy);
    }
    assert_true(idle > 0);
}

static void three_supports_are_statics(void **state)
{
    (void)state;
    /* triangle and a weight whose lever arms give 0.2, 0.3, 0.5 of it */
    double x[] = {0, 1000, 400}, y[] = {0, 100, 900}, share[] = {1, 1, 1}, angles[3], r[3];
    double cx = 0.2 * 0 + 0.3 * 1000 + 0.5 * 400, cy = 0.3 * 100 + 0.5 * 900;
    assert_true(pp_footing_solve(&(pp_stand){3, x, y, cx, cy, 1000}, share, 7654.3, angles, r));
    assert_near(r[0], 0.2 * 7654.3, 1e-7);
    assert_near(r[1], 0.3 * 7654.3, 1e-7);
    assert_near(r[2], 0.5 * 7654.3, 1e-7);
    assert_false(pp_footing_solve(&(pp_stand){3, x, y, 900, 700, 1000}, share, 7654.3, angles, r));
    double line_x[] = {0, 500, 1000, 250}, line_y[] = {100, 100, 100, 100};
    double four[] = {1, 1, 1, 1}, work[4], out[4];
    assert_false(
        pp_footing_solve(&(pp_stand){4, line_x, line_y, 480, 100, 1000}, four, 7654.3, work, out));
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

/* Reference planes: closed forms, invariance, degenerate sets. */
#include "support/points.h"
#include "support/random.h"

#include <float.h>

#include "planes/zone_solver.h"

static const double UP[3] = {0, 0, 1};
static const double AXIS[3] = {0.48, -0.6, 0.64}; /* unit */

#define SET(rows) points_from(sizeof(rows) / sizeof *(rows), rows)

static void check_zone(const point_set *p, double flatness, double tolerance)
{
    planes r = planes_of(p, UP, 1);
    assert_near(r.mz.flatness, flatness, tolerance);
    assert_int_equal(r.mz.exact, 1);
    assert_zone_proven(p, &r.mz, 1e-12 + tolerance);
}

/* As given, and turned and shifted: the zone does not care. */
static void check_zone_anywhere(point_set p, double flatness)
{
    const double shift[3] = {-3.17, 12.9, 0.831};
    check_zone(&p, flatness, 1e-15);
    for (int k = 1; k <= 7; k++) {
        points_move(&p, AXIS, 0.4391 * k, shift);
        check_zone(&p, flatness, 2e-14);
    }
    points_free(&p);
}

static void a_tetrahedron_has_its_known_width(void **state)
{
    (void)state;
    /* three pairs of opposite edges, each as far apart as the a_cube_is_as_thick_as_its_edge is
     * wide */
    check_zone_anywhere(points_tetrahedron(), 1 / sqrt(2.0));
}

static void an_octahedron_has_its_known_width(void **state)
{
    (void)state;
    /* opposite faces */
    check_zone_anywhere(points_octahedron(), sqrt(2.0 / 3));
}

static void an_icosahedron_has_its_known_width(void **state)
{
    (void)state;
    check_zone_anywhere(points_icosahedron(), (3 * sqrt(3.0) + sqrt(15.0)) / 3);
}

static void a_cube_is_as_thick_as_its_edge(void **state)
{
    (void)state;
    check_zone_anywhere(points_cube(), 1);
}

static void four_corners_are_told_from_their_plane(void **state)
{
    (void)state;
    const double rows[][3] = {{0, 0, 0}, {1000, 0, 1}, {1000, 1000, 0}, {0, 1000, 1}};
    point_set p = SET(rows);
    planes r = planes_of(&p, UP, 1);
    assert_near(r.ls.flatness, 1, 1e-13);
    check_zone(&p, 1, 1e-15);
    points_free(&p);
}

static void pearsons_line_as_a_plane(void **state)
{
    (void)state;
    point_set p = points_pearson();
    planes r = planes_of(&p, UP, 1);
    const double *n = r.ls.plane.normal, *c = r.ls.plane.point;
    /* published slope and intercept; vertical least squares would give -0.5395772750 */
    assert_near(-n[0] / n[2], -0.5455611975, 1e-10);
    assert_near(n[1], 0, 1e-15);
    assert_near(c[2] + n[0] / n[2] * c[0], 5.7840437745, 1e-10);
    /* published sum of squared distances 0.618572759437 of the ten */
    assert_near(r.ls.rms, sqrt(0.618572759437 / 10), 1e-12);
    assert_near(r.ls.flatness, 0.72648865281940414075, 1e-14);
    /* contacts x = 0, 2.6, 4.4 above lie in one line, x = 3.3 below: 3/(2 sqrt 5) */
    check_zone_anywhere(p, 3 / (2 * sqrt(5.0)));
}

/* z = c x^2 on a grid of 41 x 41 over a square of side L: the zone of the parabola is c L^2/4. */
static point_set bow(double c, double side)
{
    enum { N = 41 };
    point_set p = points_new(N * N);
    for (int j = 0; j < N; j++)
        for (int i = 0; i < N; i++) {
            double x = side * (i / (N - 1.0) - 0.5), y = side * (j / (N - 1.0) - 0.5);
            p.x[j * N + i] = x, p.y[j * N + i] = y, p.z[j * N + i] = c * x * x;
        }
    return p;
}

static void any_orientation_any_offset(void **state)
{
    (void)state;
    const double c = 1.5e-6, side = 2385, want = c * side * side / 4;
    const double far[3] = {1e6, -2e6, 1.7e6}, none[3] = {0, 0, 0};
    for (int k = 0; k < 12; k++) { /* through upright (pi/2) to upside down */
        point_set p = bow(c, side);
        points_move(&p, AXIS, k * 0.2855993, none);
        planes near_by = planes_of(&p, UP, 1);
        /* turning rounds each coordinate near 2000 by some 4e-13 */
        assert_near(near_by.ls.flatness, want, 3e-12);
        assert_near(near_by.mz.flatness, want, 3e-12);
        assert_int_equal(near_by.mz.exact, 1);
        assert_true(near_by.ls.plane.normal[2] >= 0 && near_by.mz.plane.normal[2] >= 0);
        points_move(&p, AXIS, 0, far);
        planes away = planes_of(&p, UP, 1);
        /* coordinates near 2e6 are themselves rounded by 1.2e-10 */
        assert_near(away.ls.flatness, want, 5e-10);
        assert_near(away.mz.flatness, want, 5e-10);
        points_free(&p);
    }
}

static void shifts_that_round_nothing_change_nothing(void **state)
{
    (void)state;
    enum { N = 200 };
    test_random seed = {20261120};
    point_set p = points_new(N), q = points_new(N);
    for (size_t i = 0; i < N; i++) { /* multiples of 2^-12: exact after adding a million */
        p.x[i] = floor(random_unit(&seed) * 3e3 * 4096) / 4096;
        p.y[i] = floor(random_unit(&seed) * 2e3 * 4096) / 4096;
        p.z[i] = floor(random_unit(&seed) * 4096) / 4096;
        q.x[i] = p.x[i] + 1e6, q.y[i] = p.y[i] - 1e6, q.z[i] = p.z[i] + 1e6;
    }
    planes a = planes_of(&p, UP, 1), b = planes_of(&q, UP, 1);
    assert_near(a.ls.flatness, b.ls.flatness, 1e-12);
    assert_near(a.ls.rms, b.ls.rms, 1e-12);
    assert_near(a.mz.flatness, b.mz.flatness, 1e-15);
    points_free(&p);
    points_free(&q);
}

static void up_gives_the_sense(void **state)
{
    (void)state;
    point_set p = bow(1.7e-6, 2385);
    const double down[3] = {0, 0, -1}, along[3] = {1, 0, 0};
    p.z[0] += 0.3; /* a corner: peak and valley differ */
    planes a = planes_of(&p, UP, 1), b = planes_of(&p, down, 1), c = planes_of(&p, along, 1);
    assert_true(a.ls.peak > a.ls.valley + 0.1);
    assert_near(a.ls.peak, b.ls.valley, 0);
    assert_near(a.ls.valley, b.ls.peak, 0);
    assert_int_equal(a.ls.highest, b.ls.lowest);
    assert_near(a.ls.plane.normal[2], -b.ls.plane.normal[2], 0);
    assert_near(a.mz.flatness, b.mz.flatness, 0);
    assert_zone_proven(&p, &a.mz, 1e-12);
    assert_zone_proven(&p, &b.mz, 1e-12);
    assert_true(c.ls.plane.normal[0] >= 0);
    points_free(&p);
}

static void threads_and_order_do_not_matter(void **state)
{
    (void)state;
    enum { N = 300000 };
    test_random seed = {77};
    point_set p = points_new(N), q = points_new(N);
    for (size_t i = 0; i < N; i++) {
        double x = random_unit(&seed) * 3200, y = random_unit(&seed) * 1900;
        p.x[i] = x, p.y[i] = y;
        p.z[i] = 1.3 * sin(x / 811) * cos(y / 467) + 0.05 * random_unit(&seed);
    }
    for (size_t i = 0; i < N; i++) { /* 7919 and N have no common factor */
        size_t k = i * 7919 % N;
        q.x[i] = p.x[k], q.y[i] = p.y[k], q.z[i] = p.z[k];
    }
    planes a = planes_of(&p, UP, 1), b = planes_of(&p, UP, 3), c = planes_of(&q, UP, 2);
    assert_memory_equal(&a.ls.plane, &b.ls.plane, sizeof a.ls.plane);
    assert_memory_equal(&a.mz.plane, &b.mz.plane, sizeof a.mz.plane);
    assert_true(a.ls.rms == b.ls.rms && a.ls.flatness == b.ls.flatness);
    assert_true(a.mz.flatness == b.mz.flatness && a.mz.flatness == c.mz.flatness);
    assert_near(a.ls.rms, c.ls.rms, 1e-13);
    assert_int_equal(a.ls.highest, c.ls.highest * 7919 % N);
    assert_zone_proven(&p, &a.mz, 1e-11);
    for (int k = 0; k < 4; k++)
        assert_true(p.z[a.mz.witness[k].index] == p.z[b.mz.witness[k].index]);
    points_free(&p);
    points_free(&q);
}

static void rounded_heights_on_a_grid(void **state)
{
    (void)state;
    enum { NX = 90, NY = 70 };
    /* heights to 0.1 mm on a grid: hundreds of ties; every figure seen in thirty grids must be
     * enclosed and proven */
    test_random seed = {5};
    for (int trial = 0; trial < 30; trial++) {
        point_set p = points_new(NX * NY);
        double step = trial % 3 == 0 ? 0.5 : 0.1;
        for (size_t i = 0; i < p.count; i++) {
            p.x[i] = 25 * (double)(i % NX), p.y[i] = 25 * (double)(i / NX);
            double z = 0.4 * sin(p.x[i] / 300) + trial * 0.02 * random_unit(&seed);
            p.z[i] = round(z / step) * step;
        }
        planes r = planes_of(&p, UP, 2);
        assert_int_equal(r.mz.exact, 1);
        assert_zone_proven(&p, &r.mz, 1e-11);
        points_free(&p);
    }
}

static void duplicates_and_contacts_in_line(void **state)
{
    (void)state;
    /* ridge along x = 0 (three contacts in one line, twice), valley points to either side */
    const double rows[][3] = {{0, 0, 1},      {0, 500, 1},    {0, 900, 1},   {0, 500, 1},
                              {0, 0, 1},      {400, 0, 0},    {-300, 70, 0}, {400, 900, 0},
                              {-300, 900, 0}, {-300, 900, 0}, {400, 450, 0}, {100, 450, 0.5}};
    point_set p = SET(rows);
    check_zone(&p, 1, 1e-13);
    points_free(&p);
}

static void flat_sets_have_width_nothing(void **state)
{
    (void)state;
    const double shift[3] = {310.7, -22.1, 5.5};
    for (int k = 0; k < 9; k++) {
        point_set p = bow(0, 1000);
        points_move(&p, AXIS, 0.37 * k, shift);
        planes r = planes_of(&p, UP, 1);
        assert_near(r.ls.flatness, 0, 2e-12);
        assert_near(r.mz.flatness, 0, 0);
        assert_int_equal(r.mz.witness_count, 3);
        assert_int_equal(r.mz.exact, 1);
        points_free(&p);
    }
    const double three[][3] = {{0.3, 0.1, 7.7}, {100.9, 3, 2}, {50, 80.3, 1.2}};
    point_set p = SET(three);
    planes r = planes_of(&p, UP, 1);
    assert_near(r.mz.flatness, 0, 0);
    assert_near(r.ls.flatness, 0, 1e-13);
    points_free(&p);
}

/* A spike right over a pit: the plane under the spike's own foot is no minimum, because tilting
 * brings the two closer. Only the search over all orientations can say so. */
static void spike_over_a_pit(void **state)
{
    (void)state;
    const double rows[][3] = {{0, 0, 2},     {0, 0, -2},     {9, 1, 0},  {-8, 2, 0.1},
                              {1, 10, -0.1}, {-2, -9, 0.05}, {5, -7, 0}, {6, 6, -0.03}};
    point_set p = SET(rows);
    planes r = planes_of(&p, UP, 1);
    assert_int_equal(r.mz.exact, 1);
    assert_zone_proven(&p, &r.mz, 1e-13);
    assert_true(r.mz.flatness < 4 - 1e-3); /* 4 is the height of the spike over the pit */
    points_free(&p);
}

/* A large ball: the search over all orientations, with points added after each look at all. The
 * zone of the points it ends on, solved alone, is the same. */
static void large_clouds_that_are_no_plates(void **state)
{
    (void)state;
    enum { N = 17000 };
    const double far[3] = {1e6, 2e6, -1e6};
    test_random seed = {31};
    point_set p = points_new(N);
    for (size_t i = 0; i < N; i++) {
        double r = 0;
        do {
            p.x[i] = 2 * random_unit(&seed) - 1, p.y[i] = 2 * random_unit(&seed) - 1;
            p.z[i] = 2 * random_unit(&seed) - 1;
            r = p.x[i] * p.x[i] + p.y[i] * p.y[i] + p.z[i] * p.z[i];
        } while (r > 1);
    }
    planes a = planes_of(&p, UP, 2);
    assert_int_equal(a.mz.exact, 1);
    assert_zone_proven(&p, &a.mz, 1e-14);
    assert_true(a.mz.flatness > 1.85 && a.mz.flatness < 1.99);
    points_move(&p, AXIS, 1.1, far);
    planes b = planes_of(&p, UP, 2);
    assert_int_equal(b.mz.exact, 1);
    assert_near(b.mz.flatness, a.mz.flatness, 1e-9);
    points_free(&p);
}

static void a_search_given_up_says_so(void **state)
{
    (void)state;
    const double s = 1 / sqrt(2.0), up[3] = {0.6, 0, 0.8};
    const double x[] = {s, -s, 0, 0, 0, 0}, y[] = {0, 0, s, -s, 0, 0}, z[] = {0, 0, 0, 0, s, -s};
    pp_zone_cloud cloud = {6, x, y, z, s, 1e-15, 1e-15};
    pp_memory memory = {0};
    pp_error error = {0};
    pp_zone_work work;
    pp_zone_fit fit = {0};
    assert_ok(pp_zone_work_take(6, &memory.scratch, &work, &error), &error);
    assert_ok(pp_zone_descend(&cloud, up, &work, &fit, &error), &error);
    assert_true(fit.guard < fit.width); /* an octahedron's own contacts prove nothing */
    bool proven = true;
    double budget = 30;
    assert_ok(pp_zone_search(&cloud, &work, &fit, &budget, &proven, &error), &error);
    assert_false(proven);
    budget = 1e6;
    assert_ok(pp_zone_search(&cloud, &work, &fit, &budget, &proven, &error), &error);
    assert_true(proven && budget > 0);
    pp_memory_free(&memory);
}

/* A first working set that lies in one line, and one whose points all miss the extremes. */
static void unlucky_samples_change_no_zone(void **state)
{
    (void)state;
    enum { N = 40000 };
    point_set p = points_new(N);
    for (size_t i = 0; i < N; i++) p.x[i] = 0.05 * (double)i, p.y[i] = 0.25 * p.x[i], p.z[i] = 0;
    p.x[7] = 700, p.y[7] = -900, p.z[7] = 0.4; /* row 7: in no group, or the test says nothing */
    p.x[19] = 1200, p.y[19] = 1400, p.z[19] = 0.7;
    planes r = planes_of(&p, UP, 1);
    assert_int_equal(r.mz.exact, 1);
    point_set q = points_new(4);
    const size_t keep[4] = {0, 7, 19, N - 1}; /* the hull: a flat tetrahedron */
    for (size_t k = 0; k < 4; k++)
        q.x[k] = p.x[keep[k]], q.y[k] = p.y[keep[k]], q.z[k] = p.z[keep[k]];
    planes s = planes_of(&q, UP, 1);
    assert_near(r.mz.flatness, s.mz.flatness, 1e-14);
    points_free(&p);
    points_free(&q);
}

static void too_little_to_span_a_plane(void **state)
{
    (void)state;
    pp_memory memory = {0};
    pp_error error = {0};
    pp_least_squares ls = {.rms = 2.385};
    point_set p = points_new(50);
    for (size_t i = 0; i < 50; i++) /* decimals of a line are not quite in line as doubles */
        p.x[i] = 0.1 * (double)i, p.y[i] = 0.3 * (double)i, p.z[i] = 1e5 + 0.7 * (double)i;
    pp_points line = points_view(&p);
    assert_int_equal(pp_plane_least_squares(&line, UP, 1, &memory, &ls, &error), PP_EINPUT);
    assert_string_equal(error.message, "all survey points lie in one line; a plane needs points "
                                       "spread over the plate");
    line.count = 2;
    assert_int_equal(pp_plane_least_squares(&line, UP, 1, &memory, &ls, &error), PP_EINPUT);
    p.x[1] = 1e200, line.count = 50;
    assert_int_equal(pp_plane_least_squares(&line, UP, 1, &memory, &ls, &error), PP_EINPUT);
    assert_near(ls.rms, 2.385, 0); /* untouched */
    pp_memory_free(&memory);
    points_free(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_tetrahedron_has_its_known_width),
        cmocka_unit_test(an_octahedron_has_its_known_width),
        cmocka_unit_test(an_icosahedron_has_its_known_width),
        cmocka_unit_test(a_cube_is_as_thick_as_its_edge),
        cmocka_unit_test(four_corners_are_told_from_their_plane),
        cmocka_unit_test(pearsons_line_as_a_plane),
        cmocka_unit_test(any_orientation_any_offset),
        cmocka_unit_test(shifts_that_round_nothing_change_nothing),
        cmocka_unit_test(up_gives_the_sense),
        cmocka_unit_test(threads_and_order_do_not_matter),
        cmocka_unit_test(rounded_heights_on_a_grid),
        cmocka_unit_test(duplicates_and_contacts_in_line),
        cmocka_unit_test(flat_sets_have_width_nothing),
        cmocka_unit_test(spike_over_a_pit),
        cmocka_unit_test(large_clouds_that_are_no_plates),
        cmocka_unit_test(a_search_given_up_says_so),
        cmocka_unit_test(unlucky_samples_change_no_zone),
        cmocka_unit_test(too_little_to_span_a_plane),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

/* The smallest zone: exact cases, and a proof (value = bound) for many kinds of plates. */
#include <stdbool.h>

#include "support/check.h"
#include "support/random.h"

#include "zone/smallest.h"

enum { HOLES_MAX = 700 };

typedef struct plate {
    size_t count;
    double mx[HOLES_MAX], my[HOLES_MAX], nx[HOLES_MAX], ny[HOLES_MAX], allowance[HOLES_MAX];
} plate;

static pp_zone_problem problem_of(const plate *p)
{
    return (pp_zone_problem){p->count, p->mx, p->my, p->nx, p->ny, p->allowance};
}

static pp_smallest_zone solve(const plate *p)
{
    pp_arena scratch = {0};
    pp_error error = {0};
    pp_smallest_zone zone;
    pp_zone_problem problem = problem_of(p);
    assert_ok(pp_smallest_zone_solve(&problem, 1, &scratch, &zone, &error), &error);
    assert_true(zone.radius - zone.lower_bound <= PP_ZONE_GAP_ACCEPTED);
    assert_true(zone.radius >= zone.lower_bound);
    pp_arena_free(&scratch);
    return zone;
}

static void add(plate *p, double nx, double ny, double mx, double my)
{
    size_t i = p->count++;
    p->nx[i] = nx, p->ny[i] = ny, p->mx[i] = mx, p->my[i] = my, p->allowance[i] = 0;
}

/* The placement as reported, put to the test from the outside. */
static double worst_at(const plate *p, double angle, double dx, double dy)
{
    double worst = -INFINITY;
    for (size_t i = 0; i < p->count; i++) {
        double x = cos(angle) * p->mx[i] - sin(angle) * p->my[i] + dx - p->nx[i];
        double y = sin(angle) * p->mx[i] + cos(angle) * p->my[i] + dy - p->ny[i];
        worst = fmax(worst, hypot(x, y) - p->allowance[i]);
    }
    return worst;
}

/* Two holes 2.385 mm too far apart: half of it at either, wherever they are turned. */
static void two_holes_share_their_distance_error(void **state)
{
    (void)state;
    plate p = {0};
    add(&p, 100, 40, 700.3, 12.9);
    add(&p, 400, 440, 700.3 + 502.385 * 0.28, 12.9 + 502.385 * 0.96);
    pp_smallest_zone z = solve(&p);
    assert_near(z.radius, 2.385 / 2, 1e-10);
    assert_int_equal(z.witness_count, 2);
    assert_near(worst_at(&p, z.angle, z.dx, z.dy), z.radius, 1e-10);
    /* allowances come off: (2.385 - .31 - .47) / 2 */
    p.allowance[0] = 0.31, p.allowance[1] = 0.47;
    assert_near(solve(&p).radius, 0.8025, 1e-10);
}

/* Pure scale 1 + 3.7e-5 on a square with corners at distance 700: every corner is off by the same,
 * no placement helps, and any three corners prove it (two opposite ones do). */
static void pure_scale_cannot_be_placed_away(void **state)
{
    (void)state;
    plate p = {0};
    double s = 1 + 3.7e-5, turn = 0.613, c = cos(turn), d = sin(turn);
    for (int k = 0; k < 4; k++) {
        double a = 0.31 + 1.5707963267948966 * k, x = 700 * cos(a), y = 700 * sin(a);
        add(&p, x, y, s * (c * x - d * y) + 1412.7, s * (d * x + c * y) - 388.1);
    }
    pp_smallest_zone z = solve(&p);
    assert_near(z.radius, 700 * 3.7e-5, 1e-10);
    assert_near(z.angle, -turn, 1e-9);
    assert_int_equal(z.witness_count, 2);
}

/* Pure shear of a square: the symmetric part stays, +-gamma/2 at every corner's distance. */
static void pure_shear_leaves_its_symmetric_part(void **state)
{
    (void)state;
    plate p = {0};
    for (int x = -300; x <= 300; x += 600)
        for (int y = -300; y <= 300; y += 600) add(&p, x, y, x + 4.1e-4 * y, y);
    /* gamma/2 (y, x): gamma/2 * |corner|; the antisymmetric part is a turn, exact to gamma^2 */
    assert_near(solve(&p).radius, 4.1e-4 / 2 * 300 * sqrt(2), 1e-4 * 4.1e-4 * 300);
}

static void one_hole_keeps_its_angle_and_loses_its_error(void **state)
{
    (void)state;
    plate p = {0};
    add(&p, 212.4, -77.1, 213.1, -76.6);
    p.allowance[0] = 0.0725;
    pp_smallest_zone z = solve(&p);
    assert_near(z.radius, -0.0725, 1e-12);
    assert_near(z.angle, 0, 0);
    assert_near(z.dx, -0.7, 1e-12);
    assert_near(z.dy, -0.5, 1e-12);
    assert_near(z.moved, hypot(0.7, 0.5), 1e-12);
    assert_int_equal(z.witness_count, 1);
    /* several nominal holes, all measured in one place: their smallest circle, angle 0 */
    plate q = {0};
    add(&q, 0, 0, 5, 5);
    add(&q, 8.6, 0, 5, 5);
    z = solve(&q);
    assert_near(z.radius, 4.3, 1e-12);
    assert_near(z.angle, 0, 0);
}

/* One hole read on both faces, 4.7 mm apart: half of it, at every angle alike; and among other
 * holes it stays the witness. Sinusoids alone would have to fill the circle. */
static void two_faces_of_one_hole_bound_every_angle(void **state)
{
    (void)state;
    plate p = {0};
    add(&p, 131.4, -77.1, 131.4 + 3.76, -77.1);
    add(&p, 131.4, -77.1, 131.4, -77.1 - 2.82);
    pp_smallest_zone z = solve(&p);
    assert_near(z.radius, 2.35, 1e-9);
    assert_true(z.evaluations < 20);
    for (int k = 0; k < 7; k++) add(&p, 31.75 * k, 27.5 * (k % 3), 31.75 * k, 27.5 * (k % 3));
    z = solve(&p);
    assert_near(z.radius, 2.35, 1e-9);
    assert_int_equal(z.witness_count, 2);
    assert_int_equal(z.witness[0] + z.witness[1], 1);
    p.count = 2;
    p.allowance[0] = 0.4, p.allowance[1] = 0.1;
    assert_near(solve(&p).radius, (4.7 - 0.5) / 2, 1e-9);
}

static void a_perfect_plate_needs_no_zone_wherever_it_lies(void **state)
{
    (void)state;
    plate p = {0};
    double c = cos(2.1), s = sin(2.1);
    for (int k = 0; k < 37; k++) {
        double x = 31.75 * (k % 7), y = 27.5 * (k / 7);
        add(&p, x, y, c * x - s * y + 903.3, s * x + c * y - 41.9);
    }
    pp_smallest_zone z = solve(&p);
    assert_near(z.radius, 0, 1e-11);
    assert_near(z.angle, -2.1, 1e-12);
}

static void one_hole_out_is_named_and_halves_its_error(void **state)
{
    (void)state;
    plate p = {0};
    for (int k = 0; k < 61; k++) {
        double a = 0.1 + 2.39996 * k, r = 93 * sqrt(k + 0.5);
        add(&p, r * cos(a), r * sin(a), r * cos(a), r * sin(a));
    }
    p.mx[47] += 0.4; /* far out at radius 641: most of it has to be shared with the others */
    pp_smallest_zone z = solve(&p);
    assert_true(z.radius > 0.1 && z.radius <= 0.2 + PP_ZONE_GAP_WANTED);
    bool named = false;
    for (int k = 0; k < z.witness_count; k++) named |= z.witness[k] == 47;
    assert_true(named);
}

/* --- many plates -------------------------------------------------------------------------- */

static void nominal_lattice(plate *p, size_t count, double pitch)
{
    size_t across = (size_t)ceil(sqrt((double)count));
    for (size_t i = 0; i < count; i++)
        p->nx[i] = pitch * ((double)(i % across) + 0.5 * (double)(i / across % 2)),
        p->ny[i] = pitch * 0.8660254037844386 * (double)(i / across);
}

static void nominal_places(plate *p, int kind, test_random *r)
{
    size_t n = p->count;
    double a = random_between(r, 0, 6.28), size = random_between(r, 50, 2000);
    for (size_t i = 0; i < n; i++) {
        double t = n > 1 ? (double)i / (double)(n - 1) : 0.5;
        switch (kind) {
        case 0: /* scattered */
            p->nx[i] = random_between(r, -size, size), p->ny[i] = random_between(r, -size, size);
            break;
        case 1: /* one row, any direction */
            p->nx[i] = size * t * cos(a), p->ny[i] = size * t * sin(a);
            break;
        case 2: /* one ring */
            p->nx[i] = size * cos(a + 6.283185307179586 * (double)i / (double)n);
            p->ny[i] = size * sin(a + 6.283185307179586 * (double)i / (double)n);
            break;
        default:
            break;
        }
    }
    if (kind == 3) nominal_lattice(p, n, 31.75);
}

static void measured_places(plate *p, int kind, test_random *r)
{
    double angle = random_between(r, -0.01, 0.01);
    if (random_below(r, 5) == 0) angle = random_between(r, -3.14, 3.14);
    double c = cos(angle), s = sin(angle), dx = random_between(r, -900, 900), dy = -0.37 * dx;
    double xx = 1, xy = 0, yy = 1, noise = 0.05;
    if (kind == 1) noise = 0;                                               /* zero error */
    if (kind == 2) noise = 0, xx = yy = 1 + random_between(r, -1e-4, 1e-4); /* pure scale */
    if (kind == 3) noise = 0, xy = random_between(r, -1e-4, 1e-4);          /* pure shear */
    for (size_t i = 0; i < p->count; i++) {
        double ex = noise * random_normal(r), ey = noise * random_normal(r);
        if (kind == 4) ex = i % 2 ? 0.125 : -0.125, ey = i % 4 < 2 ? 0.25 : -0.25; /* ties */
        if (kind == 7) ex = random_between(r, -500, 500), ey = random_between(r, -500, 500);
        double x = xx * p->nx[i] + xy * p->ny[i] + ex, y = yy * p->ny[i] + ey;
        p->mx[i] = c * x - s * y + dx, p->my[i] = s * x + c * y + dy;
        p->allowance[i] = kind == 6 ? random_between(r, 0, 0.15) : 0;
        if (kind == 6 && i % 3 == 0) p->allowance[i] = 0.1;
    }
    if (kind == 5) p->mx[random_below(r, p->count)] += 32; /* a blunder */
}

static void stress_plates_are_all_proven(void **state)
{
    (void)state;
    static const size_t sizes[] = {1, 2, 3, 4, 5, 7, 10, 23, 60, 240, 700};
    test_random r = {20260731};
    static plate p;
    double gap = 0;
    int evaluations = 0, cases = 0, most = 0;
    for (int places = 0; places < 4; places++)
        for (int errors = 0; errors < 8; errors++)
            for (size_t k = 0; k < 11 * 2; k++) {
                p.count = sizes[k % 11];
                nominal_places(&p, places, &r);
                measured_places(&p, errors, &r);
                pp_smallest_zone z = solve(&p);
                assert_near(worst_at(&p, z.angle, z.dx, z.dy), z.radius, 2e-11);
                assert_true(z.radius <= z.least_squares_worst + 1e-11);
                gap = fmax(gap, z.radius - z.lower_bound);
                evaluations += z.evaluations;
                if (z.evaluations > most) most = z.evaluations;
                cases++;
                /* the witnesses alone force the same zone */
                static plate w;
                w.count = 0;
                for (int q = 0; q < z.witness_count; q++) {
                    size_t i = z.witness[q];
                    add(&w, p.nx[i], p.ny[i], p.mx[i], p.my[i]);
                    w.allowance[w.count - 1] = p.allowance[i];
                }
                pp_smallest_zone alone = solve(&w);
                if (z.witnesses_suffice) assert_near(alone.radius, z.radius, 3e-9);
                /* errors as large as the plate need more where other angles compete */
                assert_true(errors == 7 || (z.witnesses_suffice && z.witness_count <= 4));
            }
    print_message("%d plates, largest gap %.2g mm, evaluations %.1f on average, %d at most\n",
                  cases, gap, (double)evaluations / cases, most);
    assert_true(cases >= 600);
}

static void moving_turning_and_shuffling_change_nothing(void **state)
{
    (void)state;
    test_random r = {577};
    static plate p, q;
    p.count = 240;
    nominal_places(&p, 0, &r);
    measured_places(&p, 6, &r);
    pp_smallest_zone z = solve(&p);
    q.count = p.count;
    double c = cos(1.234), s = sin(1.234);
    for (size_t i = 0; i < p.count; i++) {
        size_t from = i * 77 % p.count; /* 77 and 240 have no common divisor */
        q.mx[i] = c * p.mx[from] - s * p.my[from] + 55.2;
        q.my[i] = s * p.mx[from] + c * p.my[from] - 4.7;
        q.nx[i] = p.nx[from] + 300.25, q.ny[i] = p.ny[from] - 17.5;
        q.allowance[i] = p.allowance[from];
    }
    pp_smallest_zone y = solve(&q);
    assert_near(y.radius, z.radius, 1e-9);
    assert_near(remainder(y.angle - (z.angle - 1.234), 6.283185307179586), 0, 1e-9);
    assert_int_equal(y.witness_count, z.witness_count);
    for (int k = 0; k < z.witness_count; k++) {
        bool there = false;
        for (int j = 0; j < y.witness_count; j++) there |= y.witness[j] * 77 % 240 == z.witness[k];
        assert_true(there);
    }
}

static void threads_change_no_bit(void **state)
{
    (void)state;
    size_t n = 100003;
    pp_arena arena = {0};
    double *v[4];
    test_random r = {31};
    for (int k = 0; k < 4; k++) assert_non_null(v[k] = pp_arena_take(&arena, n, sizeof(double)));
    for (size_t i = 0; i < n; i++) {
        v[2][i] = random_between(&r, -1500, 1500), v[3][i] = random_between(&r, -1500, 1500);
        v[0][i] = v[2][i] + 0.03 * random_normal(&r), v[1][i] = v[3][i] + 0.03 * random_normal(&r);
    }
    pp_zone_problem problem = {n, v[0], v[1], v[2], v[3], NULL};
    pp_smallest_zone one, three;
    pp_error error = {0};
    memset(&one, 0, sizeof one), memset(&three, 0, sizeof three);
    assert_ok(pp_smallest_zone_solve(&problem, 1, &arena, &one, &error), &error);
    assert_ok(pp_smallest_zone_solve(&problem, 3, &arena, &three, &error), &error);
    assert_near(three.radius, one.radius, 0);
    assert_near(three.lower_bound, one.lower_bound, 0);
    assert_near(three.angle, one.angle, 0);
    assert_near(three.dx, one.dx, 0);
    assert_near(three.moved, one.moved, 0);
    assert_int_equal(three.witness_count, one.witness_count);
    pp_arena_free(&arena);
}

static void no_holes_is_said(void **state)
{
    (void)state;
    pp_zone_problem problem = {0};
    pp_arena scratch = {0};
    pp_error error = {0};
    pp_smallest_zone zone = {.radius = 7};
    assert_int_equal(pp_smallest_zone_solve(&problem, 1, &scratch, &zone, &error), PP_ENOTHING);
    assert_near(zone.radius, 7, 0);
}

/* One argument: only the tests whose names it matches. */
int main(int count, char **arguments)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_holes_share_their_distance_error),
        cmocka_unit_test(pure_scale_cannot_be_placed_away),
        cmocka_unit_test(pure_shear_leaves_its_symmetric_part),
        cmocka_unit_test(one_hole_keeps_its_angle_and_loses_its_error),
        cmocka_unit_test(two_faces_of_one_hole_bound_every_angle),
        cmocka_unit_test(a_perfect_plate_needs_no_zone_wherever_it_lies),
        cmocka_unit_test(one_hole_out_is_named_and_halves_its_error),
        cmocka_unit_test(stress_plates_are_all_proven),
        cmocka_unit_test(moving_turning_and_shuffling_change_nothing),
        cmocka_unit_test(threads_change_no_bit),
        cmocka_unit_test(no_holes_is_said),
    };
    cmocka_set_test_filter(count > 1 ? arguments[1] : NULL);
    return cmocka_run_group_tests(tests, NULL, NULL);
}

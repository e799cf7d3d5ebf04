/* Straightedges: closed forms, both sides, invariance, and a brute-force oracle. */
#include "base/constants.h"
#include "support/check.h"
#include "support/random.h"

#include <stdlib.h>

#include "flatness/straightedge.h"

/* Height fields for tests: a quadratic, plus a wave, plus wave 2 along y whose height swells. */
typedef struct shape {
    double tilt_x, tilt_y, xx, xy, yy;
    double wave, wave_x, wave_y, phase; /* wave * cos(wave_x x + wave_y y + phase) */
    double ripple, ripple_y, swell;     /* ripple * cos(ripple_y y) * exp(-((y - swell)/400)^2) */
} shape;

static double height_at(const shape *s, double x, double y)
{
    return 731.3 + s->tilt_x * x + s->tilt_y * y + s->xx * x * x + s->xy * x * y + s->yy * y * y +
           s->wave * cos(s->wave_x * x + s->wave_y * y + s->phase) +
           s->ripple * cos(s->ripple_y * y) * exp(-(y - s->swell) * (y - s->swell) / 1.6e5);
}

static void heights(const void *context, size_t count, const double *x, const double *y,
                    double *height)
{
    for (size_t i = 0; i < count; i++) height[i] = height_at(context, x[i], y[i]);
}

static void curvatures(const shape *s, pp_relief *r)
{
    double mean = s->xx + s->yy, radius = hypot(s->xx - s->yy, s->xy);
    double wave = fabs(s->wave) * (s->wave_x * s->wave_x + s->wave_y * s->wave_y);
    wave += 1.3 * s->ripple * s->ripple_y * s->ripple_y; /* 1.3: the swelling's own share */
    r->hollow = fmax(mean + radius + wave, 0);
    r->hump = fmax(radius - mean + wave, 0);
}

static pp_relief disc(const shape *s, double diameter)
{
    pp_relief r = {.outline = PP_OUTLINE_DISC,
                   .radius = diameter / 2,
                   .feature = diameter / 32,
                   .heights = heights,
                   .context = s};
    curvatures(s, &r);
    return r;
}

static pp_relief rectangle(const shape *s, double width, double height)
{
    pp_relief r = {.outline = PP_OUTLINE_RECTANGLE,
                   .width = width,
                   .height = height,
                   .feature = fmax(width, height) / 32,
                   .heights = heights,
                   .context = s};
    curvatures(s, &r);
    return r;
}

static pp_straightedge lay(const pp_relief *top, const pp_relief *underside, double length,
                           int threads)
{
    pp_memory memory = {0};
    pp_error error = {0};
    pp_straightedge e = {0};
    assert_ok(pp_straightedge_on_relief(top, underside, length, threads, &memory, &e, &error),
              &error);
    pp_memory_free(&memory);
    return e;
}

/* A dish of depth delta over Lf = 3185 shows delta (L/Lf)^2 under a straightedge of length L. */
static void a_dish_shows_its_share(void **state)
{
    (void)state;
    const double over = 3185, delta = 4.17, c = 4 * delta / (over * over);
    shape dish = {.tilt_x = 0.003, .tilt_y = -0.007, .xx = c, .yy = c};
    shape dome = {.tilt_x = 0.003, .tilt_y = -0.007, .xx = -c, .yy = -c};
    const double lengths[] = {517, 1000, 3000};
    for (int k = 0; k < 3; k++) {
        double want = delta * (lengths[k] / over) * (lengths[k] / over);
        pp_relief d = disc(&dish, over), u = disc(&dome, over), r = rectangle(&dish, over, 1711);
        pp_straightedge e = lay(&d, NULL, lengths[k], 2);
        assert_near(e.gap, want, 1e-9);
        assert_false(e.underside);
        assert_near(e.used_length, lengths[k], 0);
        assert_true(e.error_bound >= 0 && e.error_bound < 0.02 * delta * lengths[0] / over);
        pp_straightedge f = lay(&u, NULL, lengths[k], 2); /* a dome, seen from the underside */
        assert_near(f.gap, want, 1e-9);
        assert_true(f.underside);
        assert_near(lay(&r, NULL, lengths[k], 2).gap, want, 1e-9);
    }
}

static void a_length_beyond_the_plate_uses_the_plate(void **state)
{
    (void)state;
    const double c = 1.9e-6;
    shape dish = {.xx = c, .yy = c};
    pp_relief d = disc(&dish, 2385), r = rectangle(&dish, 1800, 750);
    pp_straightedge e = lay(&d, NULL, 4000, 2), f = lay(&r, NULL, 4000, 2);
    assert_near(e.gap, c * 2385 * 2385 / 4, 1e-9);
    assert_near(e.used_length, 2385, 1e-4);
    assert_near(e.length, 4000, 0);
    assert_near(hypot(e.x, e.y), 0, 0.05);
    assert_near(f.gap, c * (1800.0 * 1800 + 750.0 * 750) / 4, 1e-9); /* the diagonal */
    assert_near(f.used_length, hypot(1800, 750), 1e-4);
    double diagonal = atan2(750, 1800) * 180 / PP_PI;
    assert_near(fmin(f.direction_deg, 180 - f.direction_deg), diagonal, 1e-6);
}

/* z = c x y: along the diagonal directions +-c/2 s^2, so that both sides show c L^2/8; with an x^2
 * part the larger principal curvature wins, lying at atan(..)/2. */
static void a_saddle_shows_its_principal_curvature(void **state)
{
    (void)state;
    const double c = 2.3e-6, a = 0.7e-6, length = 1200;
    shape s = {.xx = a, .xy = c, .tilt_y = 0.01};
    pp_relief d = disc(&s, 3000);
    pp_straightedge e = lay(&d, NULL, length, 2);
    double curvature = a + hypot(a, c);
    assert_near(e.gap, curvature * length * length / 8, 1e-8);
    assert_near(e.direction_deg, atan2(c, a) / 2 * 180 / PP_PI, 1e-2);
    s.xx = -a; /* now the hump is the stronger one */
    pp_straightedge f = lay(&d, NULL, length, 2);
    assert_near(f.gap, curvature * length * length / 8, 1e-8);
    assert_true(f.underside);
}

/* A wave of length lambda along x under a straightedge at least as long: it rests on two crests and
 * the trough is twice the amplitude below. */
static void long_straightedges_rest_on_crests(void **state)
{
    (void)state;
    shape s = {.wave = 0.83, .wave_x = 2 * PP_PI / 611 * 0.8, .wave_y = 2 * PP_PI / 611 * 0.6};
    pp_relief r = rectangle(&s, 2900, 1900);
    pp_straightedge e = lay(&r, NULL, 700, 2);
    assert_near(e.gap, 2 * 0.83, 2e-4);
    assert_true(e.gap + e.error_bound >= 2 * 0.83 - 1e-9);
    /* shorter than the wave: both ends level about a trough, 2 amplitude sin^2(PP_PI L/(2 lambda))
     */
    double half = sin(PP_PI * 300 / (2 * 611.0));
    e = lay(&r, NULL, 300, 2);
    assert_near(e.gap, 2 * 0.83 * half * half, 2e-4);
}

static void a_plane_shows_nothing(void **state)
{
    (void)state;
    shape s = {.tilt_x = 0.02, .tilt_y = -0.013};
    pp_relief r = rectangle(&s, 2900, 1900);
    pp_straightedge e = lay(&r, NULL, 1000, 2);
    assert_near(e.gap, 0, 1e-11);
    assert_near(e.error_bound, 0, 1e-11);
}

static void threads_tilt_and_place_do_not_matter(void **state)
{
    (void)state;
    shape s = {.xx = 1.1e-6, .xy = -0.6e-6, .wave = 0.4, .wave_x = 0.0071, .wave_y = -0.0033};
    pp_relief r = disc(&s, 2700);
    pp_straightedge a = lay(&r, NULL, 1000, 1), b = lay(&r, NULL, 1000, 3);
    assert_memory_equal(&a.gap, &b.gap, sizeof a.gap);
    assert_memory_equal(&a.x, &b.x, sizeof a.x);
    assert_memory_equal(&a.error_bound, &b.error_bound, sizeof a.error_bound);
    s.tilt_x = 0.031, s.tilt_y = -0.017;
    pp_straightedge c = lay(&r, NULL, 1000, 2);
    assert_near(c.gap, a.gap, 1e-9);
    shape turned = {.xx = -1.1e-6, .xy = 0.6e-6, .wave = -0.4, .wave_x = 0.0071, .wave_y = -0.0033};
    pp_relief u = disc(&turned, 2700); /* turned over: the other side, the same gap */
    pp_straightedge d = lay(&u, NULL, 1000, 2);
    assert_near(d.gap, a.gap, 1e-12);
    assert_int_equal(d.underside, !a.underside);
}

static void a_second_survey_is_the_underside(void **state)
{
    (void)state;
    shape top = {.xx = 0.5e-6, .yy = 0.5e-6}, below = {.xx = -1.3e-6, .yy = -0.2e-6};
    pp_relief t = disc(&top, 2000), b = disc(&below, 2000);
    pp_straightedge e = lay(&t, &b, 900, 2);
    assert_true(e.underside); /* humps of the underside's z are hollows once it is turned over */
    assert_near(e.gap, 1.3e-6 * 900 * 900 / 4, 1e-9);
    below.xx = 1.3e-6, below.yy = 0.9e-6;
    e = lay(&t, &b, 900, 2);
    assert_false(e.underside);
    assert_near(e.gap, 0.5e-6 * 900 * 900 / 4, 1e-9);
}

/* Brute force: every pair of contact places on a grid of directions far off the search's own, and
 * every place between, without any hull. */
static double brute_force(const shape *s, double radius, double length)
{
    enum { TURNS = 25, LINES = 25, STEPS = 16, STARTS = 15 };
    double worst = 0;
    for (int k = 0; k < TURNS; k++)
        for (int m = 0; m < LINES; m++) {
            double angle = PP_PI * (k + 0.37) / TURNS,
                   offset = radius * (2 * (m + 0.41) / LINES - 1);
            double half = sqrt(radius * radius - offset * offset);
            double used = fmin(length, 2 * half);
            for (int q = 0; q < STARTS; q++) {
                double start = -half + (2 * half - used) * q / (STARTS - 1.0), h[STEPS + 1];
                for (int i = 0; i <= STEPS; i++) {
                    double along = start + used * i / STEPS;
                    h[i] = height_at(s, along * cos(angle) - offset * sin(angle),
                                     along * sin(angle) + offset * cos(angle));
                }
                for (int a = 0; a < STEPS; a++)
                    for (int b = a + 2; b <= STEPS; b++)
                        for (int i = a + 1; i < b; i++) {
                            double t = (i - a) / (double)(b - a);
                            double gap = (1 - t) * h[a] + t * h[b] - h[i];
                            worst = fmax(worst, fmax(gap, -gap));
                        }
            }
        }
    return worst;
}

static void brute_force_finds_no_more(void **state)
{
    (void)state;
    const shape shapes[] = {
        {.xx = 0.9e-6, .yy = -0.4e-6, .wave = 0.35, .wave_x = 0.0061, .wave_y = 0.0042, .phase = 1},
        {.xx = -0.5e-6, .xy = 1.3e-6, .wave = 0.8, .wave_x = -0.0022, .wave_y = 0.0049, .phase = 2},
    };
    for (int k = 0; k < 2; k++) {
        pp_relief r = disc(&shapes[k], 2600);
        for (int l = 0; l < 2; l++) {
            double length = l ? 1500 : 700;
            double brute = brute_force(&shapes[k], 1300, length);
            pp_straightedge e = lay(&r, NULL, length, 2);
            assert_true(e.gap >= brute - 1e-9);
            assert_true(e.gap <= brute * 1.04);
            assert_true(e.error_bound < 0.05 * e.gap);
        }
    }
}

/* Hollows and humps of all sorts: what is ruled out on the way shows nothing more. */
static void random_surfaces_hide_nothing(void **state)
{
    (void)state;
    test_random random = {0x1dea5};
    for (int k = 0; k < 6; k++) {
        shape s = {.xx = 1e-6 * random_normal(&random),
                   .xy = 1e-6 * random_normal(&random),
                   .yy = 1e-6 * random_normal(&random),
                   .wave = random_between(&random, 0, 0.6),
                   .wave_x = 0.006 * random_normal(&random),
                   .wave_y = 0.006 * random_normal(&random),
                   .phase = random_between(&random, 0, 2 * PP_PI),
                   .ripple = random_between(&random, 0, 0.3),
                   .ripple_y = random_between(&random, 0.003, 0.012),
                   .swell = random_between(&random, -800, 800)};
        pp_relief r = disc(&s, 2600);
        double length = random_between(&random, 300, 2100);
        double brute = brute_force(&s, 1300, length);
        pp_straightedge e = lay(&r, NULL, length, 2);
        assert_true(e.gap >= brute - 1e-9);
        assert_true(e.gap <= brute * 1.1);
    }
}

/* Many hollows of much the same depth: only a search that looks at every one tells the deepest, and
 * a denser search finds no more than the error bound says. */
static void a_denser_search_stays_within_the_bound(void **state)
{
    (void)state;
    for (int k = 0; k < 6; k += 2) {
        shape s = {.xx = 0.2e-6,
                   .wave = 0.11,
                   .wave_x = 0.013,
                   .wave_y = 0.003 * k,
                   .phase = k,
                   .ripple = 0.19,
                   .ripple_y = 0.017,
                   .swell = -700 + 210 * k};
        pp_relief r = disc(&s, 2600);
        pp_straightedge e = lay(&r, NULL, 430, 2);
        r.feature /= 2;
        pp_straightedge dense = lay(&r, NULL, 430, 2);
        assert_true(dense.error_bound < e.error_bound / 2);
        assert_true(dense.gap <= e.gap + e.error_bound);
        assert_near(e.gap, dense.gap, 1e-6);
    }
}

static void a_length_of_nothing_is_refused(void **state)
{
    (void)state;
    shape s = {.xx = 1e-6};
    pp_relief r = disc(&s, 1000);
    pp_memory memory = {0};
    pp_error error = {0};
    pp_straightedge e = {.gap = 2.385};
    assert_int_equal(pp_straightedge_on_relief(&r, NULL, 0, 1, &memory, &e, &error), PP_EINPUT);
    assert_int_equal(pp_straightedge_on_relief(&r, NULL, NAN, 1, &memory, &e, &error), PP_EINPUT);
    assert_near(e.gap, 2.385, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_dish_shows_its_share),
        cmocka_unit_test(a_length_beyond_the_plate_uses_the_plate),
        cmocka_unit_test(a_saddle_shows_its_principal_curvature),
        cmocka_unit_test(long_straightedges_rest_on_crests),
        cmocka_unit_test(a_plane_shows_nothing),
        cmocka_unit_test(threads_tilt_and_place_do_not_matter),
        cmocka_unit_test(a_second_survey_is_the_underside),
        cmocka_unit_test(brute_force_finds_no_more),
        cmocka_unit_test(random_surfaces_hide_nothing),
        cmocka_unit_test(a_denser_search_stays_within_the_bound),
        cmocka_unit_test(a_length_of_nothing_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

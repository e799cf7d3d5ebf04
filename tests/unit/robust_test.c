/* The robust regression, whitening, and the lean test that is built on them. */
#include <stdbool.h>
#include <stdlib.h>

#include "support/check.h"
#include "support/measures.h"
#include "support/random.h"

#include "causes/lean.h"
#include "causes/serial_correlation.h"
#include "holes/repeats.h"

enum { N = 240, TERMS = 3 };

typedef struct line_data { /* x = b0 + b2 t, y = b1 - 2 b2 t */
    double t[N], x[N], y[N];
} line_data;

static void fill(const void *context, size_t i, pp_robust_row *row)
{
    const line_data *d = context;
    row->a[0][0] = 1, row->a[1][1] = 1;
    row->a[0][2] = d->t[i], row->a[1][2] = -2 * d->t[i];
    row->value[0] = d->x[i], row->value[1] = d->y[i];
}

static pp_robust_problem problem_of(const line_data *d)
{
    return (pp_robust_problem){.count = N,
                               .terms = TERMS,
                               .has = {{true, false, true}, {false, true, true}},
                               .fill = fill,
                               .context = d,
                               .threads = 1};
}

typedef struct fit_room {
    double weight[N], x[N], y[N];
    pp_robust_fit fit;
} fit_room;

static void begin_fit(fit_room *r)
{
    memset(r, 0, sizeof *r);
    r->fit.weight = r->weight;
    r->fit.residual[0] = r->x, r->fit.residual[1] = r->y;
}

static void make_line(line_data *d, double sigma, double rho, test_random *r)
{
    double ex = 0, ey = 0, root = sqrt(1 - rho * rho);
    for (int i = 0; i < N; i++) {
        ex = (i ? rho * ex : 0) + (i ? root : 1) * random_normal(r);
        ey = (i ? rho * ey : 0) + (i ? root : 1) * random_normal(r);
        d->t[i] = (double)i / N - 0.4;
        d->x[i] = 2.385 + 0.77 * d->t[i] + sigma * ex;
        d->y[i] = -1.41 - 2 * 0.77 * d->t[i] + sigma * ey;
    }
}

static void the_median_is_the_middle(void **state)
{
    (void)state;
    test_random r = {3};
    double v[101], sorted[101];
    for (size_t n = 1; n <= 101; n++)
        for (int kind = 0; kind < 3; kind++) {
            for (size_t i = 0; i < n; i++) {
                v[i] = kind == 0   ? random_normal(&r)
                       : kind == 1 ? floor(random_between(&r, 0, 4)) /* ties */
                                   : (double)(n - i);
                size_t at = i;
                for (; at > 0 && sorted[at - 1] > v[i]; at--) sorted[at] = sorted[at - 1];
                sorted[at] = v[i];
            }
            double want = n % 2 ? sorted[n / 2] : 0.5 * (sorted[n / 2 - 1] + sorted[n / 2]);
            assert_near(pp_median(v, n), want, 0);
        }
    assert_true(isnan(pp_median(v, 0)));
}

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Above 2^14 values a sample of 1024 of them, evenly spaced, tells where the middle is. In the last
 * two kinds it tells wrong: all of the sample are larger, or smaller, than all the rest. */
static void the_median_of_many_is_the_middle(void **state)
{
    (void)state;
    enum { MOST = 40000, KINDS = 7 };
    test_random r = {17};
    double *v = malloc(MOST * sizeof *v), *sorted = malloc(MOST * sizeof *sorted);
    assert_true(v && sorted);
    static const size_t counts[] = {16384, 16385, 16386, 39936, 39999, 40000};
    for (size_t c = 0; c < sizeof counts / sizeof *counts; c++)
        for (int kind = 0; kind < KINDS; kind++) {
            size_t n = counts[c], spacing = n / 1024;
            for (size_t i = 0; i < n; i++)
                v[i] = kind == 0   ? random_normal(&r)
                       : kind == 1 ? floor(random_between(&r, 0, 4))
                       : kind == 2 ? (double)(n - i)
                       : kind == 3 ? 7.25
                       : kind == 4
                           ? (i < n / 2 ? 0.3 : 0.7) + 1e-9 * random_normal(&r)
                           : (i % spacing == 0) * (kind == 5 ? 10 : -10) + random_between(&r, 0, 4);
            memcpy(sorted, v, n * sizeof *v);
            qsort(sorted, n, sizeof *sorted, by_value);
            double want = n % 2 ? sorted[n / 2] : 0.5 * (sorted[n / 2 - 1] + sorted[n / 2]);
            assert_near(pp_median(v, n), want, 0);
        }
    free(v);
    free(sorted);
}

static void exact_data_are_recovered_whatever_the_wild_ones_say(void **state)
{
    (void)state;
    test_random r = {11};
    line_data d;
    make_line(&d, 0, 0, &r);
    for (int i = 0; i < N; i += 4) d.x[i] += 50 + i, d.y[i] -= 20; /* a quarter */
    fit_room room;
    begin_fit(&room);
    pp_robust_problem p = problem_of(&d);
    pp_arena scratch = {0};
    pp_error error = {0};
    assert_ok(pp_robust_solve(&p, false, &scratch, &room.fit, &error), &error);
    assert_near(room.fit.beta[0], 2.385, 1e-6);
    assert_near(room.fit.beta[1], -1.41, 1e-6);
    assert_near(room.fit.beta[2], 0.77, 1e-6);
    assert_int_equal(room.fit.kept, N - N / 4);
    for (int i = 0; i < N; i++) assert_true((room.weight[i] < PP_ROBUST_MISFIT) == (i % 4 == 0));
    pp_arena_free(&scratch);
}

/* With normal errors the fit must come close to least squares: estimates within a fraction of the
 * standard error, standard errors within some percent (95 % efficient, so at most 1/sqrt(.95)). */
static void normal_errors_give_nearly_least_squares(void **state)
{
    (void)state;
    test_random r = {17};
    line_data d;
    make_line(&d, 0.03, 0, &r);
    double sxx = 0, sxy = 0, mt = 0, mx = 0, my = 0;
    for (int i = 0; i < N; i++) mt += d.t[i] / N, mx += d.x[i] / N, my += d.y[i] / N;
    for (int i = 0; i < N; i++) {
        double t = d.t[i] - mt;
        sxx += 5 * t * t, sxy += t * (d.x[i] - mx) - 2 * t * (d.y[i] - my);
    }
    fit_room room;
    begin_fit(&room);
    pp_robust_problem p = problem_of(&d);
    pp_arena scratch = {0};
    pp_error error = {0};
    assert_ok(pp_robust_solve(&p, false, &scratch, &room.fit, &error), &error);
    double se = sqrt(room.fit.covariance[8]), least_squares_se = 0.03 / sqrt(sxx);
    assert_near(room.fit.beta[2], sxy / sxx, 0.3 * se);
    assert_near(se / least_squares_se, 1.02, 0.08);
    assert_near(room.fit.scale[0], 0.03, 0.005);
    assert_near(room.fit.df, 2.0 * (double)room.fit.kept - 3, 0);
    pp_arena_free(&scratch);
}

static void terms_that_are_the_same_are_refused(void **state)
{
    (void)state;
    test_random r = {19};
    line_data d;
    make_line(&d, 0.03, 0, &r);
    for (int i = 0; i < N; i++) d.t[i] = 0;
    fit_room room;
    begin_fit(&room);
    pp_robust_problem p = problem_of(&d);
    pp_arena scratch = {0};
    pp_error error = {0};
    assert_int_equal(pp_robust_solve(&p, false, &scratch, &room.fit, &error), PP_ENUMERIC);
    assert_non_null(strstr(error.message, "cannot be told apart"));
    pp_arena_free(&scratch);
}

/* A slope along the order under correlated errors: without whitening its standard error is too
 * small by about sqrt((1 + rho)/(1 - rho)) = 1.73 at .5. */
static void correlated_errors_widen_the_standard_error(void **state)
{
    (void)state;
    test_random r = {23};
    double wide = 0, plain = 0, rho = 0, z2 = 0;
    enum { PLATES = 60 };
    pp_arena scratch = {0};
    for (int plate = 0; plate < PLATES; plate++) {
        line_data d;
        make_line(&d, 0.03, 0.5, &r);
        d.x[100] += 4; /* one misdrilled hole: the chain goes on across it */
        fit_room room;
        begin_fit(&room);
        pp_robust_problem p = problem_of(&d);
        pp_serial serial;
        pp_error error = {0};
        assert_ok(pp_robust_solve(&p, false, &scratch, &room.fit, &error), &error);
        plain += sqrt(room.fit.covariance[8]) / PLATES;
        assert_ok(pp_serial_solve(&p, false, &scratch, &room.fit, &serial, &error), &error);
        double se = sqrt(room.fit.covariance[8]), z = (room.fit.beta[2] - 0.77) / se;
        wide += se / PLATES, rho += serial.rho / PLATES, z2 += z * z / PLATES;
        assert_true(serial.rho > 0.2);
        assert_true(room.weight[100] < PP_ROBUST_MISFIT && room.weight[101] > 0.1);
    }
    assert_near(rho, 0.5, 0.03);
    assert_near(wide / plain, 1.73, 0.12);
    assert_near(sqrt(z2), 1, 0.25);
    pp_arena_free(&scratch);
}

static void independent_errors_are_left_alone(void **state)
{
    (void)state;
    test_random r = {29};
    line_data d;
    make_line(&d, 0.03, 0, &r);
    fit_room room;
    begin_fit(&room);
    pp_robust_problem p = problem_of(&d);
    pp_arena scratch = {0};
    pp_error error = {0};
    pp_serial serial;
    assert_ok(pp_serial_solve(&p, false, &scratch, &room.fit, &serial, &error), &error);
    assert_near(serial.rho, 0, 0);
    assert_false(serial.newey_west);
    assert_true(fabs(serial.correlation) < 0.15);
    /* of all neighbours, whatever the parts the sums are made in */
    const pp_robust_fit *f = &room.fit;
    double product = 0, square = 0;
    for (size_t i = 0; i < N; i++)
        for (int axis = 0; axis < 2; axis++) {
            double here = f->weight[i] * f->residual[axis][i] / f->scale[axis];
            square += here * here;
            if (i > 0)
                product += here * f->weight[i - 1] * f->residual[axis][i - 1] / f->scale[axis];
        }
    assert_int_equal(f->kept, N);
    assert_near(serial.pairs, N - 1, 0);
    assert_near(serial.correlation, product / (N - 1) / (square / N), 1e-12);
    pp_arena_free(&scratch);
}

static void a_lean_is_found_and_a_wild_exit_does_not_make_one(void **state)
{
    (void)state;
    test_random r = {31};
    enum { HOLES = 60 };
    double x[HOLES], y[HOLES];
    uint32_t order[HOLES];
    for (uint32_t i = 0; i < HOLES; i++)
        x[i] = 31.75 * (i % 10), y[i] = 27.5 * (i / 10), order[i] = i;
    for (int lean = 0; lean < 2; lean++) {
        test_plate p;
        test_plate_begin(&p, HOLES, x, y, 2 * HOLES);
        for (uint32_t i = 0; i < HOLES; i++) {
            double ex = 0.04 * lean + 0.03 * random_normal(&r);
            double ey = -0.03 * lean + 0.03 * random_normal(&r);
            if (i == 7) ex += 3;
            test_plate_measure(&p, i, PP_ENTRY, x[i], y[i], 25.6, NAN);
            test_plate_measure(&p, i, PP_EXIT, x[i] + ex, y[i] + ey, 25.6, NAN);
        }
        pp_lean found;
        pp_error error = {0};
        assert_ok(pp_lean_find(&p.measures, HOLES, order, 1, &p.memory.scratch, &found, &error),
                  &error);
        assert_true(found.tested);
        assert_int_equal(found.holes, HOLES);
        assert_near(found.x, 0.04 * lean, 0.015);
        assert_near(found.y, -0.03 * lean, 0.015);
        assert_near(found.standard_error, 0.03 / sqrt(HOLES), 0.001);
        assert_true(lean ? found.p < 1e-8 : found.p > 0.01);
        /* T^2 is about the squared length in standard errors (the axes scatter alike), and for two
         * components P(T^2 > t) = (1 + t / df)^(-df / 2), df near 2 * 59 - 2 */
        double t2 =
            (found.x * found.x + found.y * found.y) / (found.standard_error * found.standard_error);
        assert_near(log(found.p) / (-58 * log(1 + t2 / 116)), 1, 0.15);
        p.measures.alignment.exit_own = true;
        assert_ok(pp_lean_find(&p.measures, HOLES, order, 1, &p.memory.scratch, &found, &error),
                  &error);
        assert_false(found.tested);
        assert_string_equal(found.why_not, "the exit face was aligned on its own");
        test_plate_end(&p);
    }
}

/* Bore A read at x = 1, 1.3, 1.6 (y = 2): sum of squares .18; bore B at (5, 5) and (5, 5.4): .08; C
 * once. Coordinates with freedom: 2 * (2 + 1) = 6: sqrt(.26 / 6). */
static void repeat_readings_pool_their_scatter(void **state)
{
    (void)state;
    const char *names[] = {"A", "B", "A", "C", "B", "A", "", "A"};
    double x[] = {1, 5, 1.6, 9, 5, 1.3, 70, 4}, y[] = {2, 5, 2, 9, 5.4, 2, 70, 4};
    uint8_t face[] = {0, 0, 0, 0, 0, 0, 0, 1}; /* the last is A's exit */
    uint32_t round[] = {1, 1, 1, 1, 1, 1, 1, 1};
    pp_readings r = {.count = 8, .name = names, .x = x, .y = y, .face = face, .round = round};
    pp_arena scratch = {0};
    pp_error error = {0};
    double scatter;
    assert_ok(pp_repeats_scatter(&r, &scratch, &scatter, &error), &error);
    assert_near(scatter, sqrt(0.26 / 6), 1e-12);
    round[5] = 2; /* re-drilled: another bore */
    assert_ok(pp_repeats_scatter(&r, &scratch, &scatter, &error), &error);
    assert_near(scatter, sqrt((0.18 + 0.08) / 4), 1e-12);
    r.name = NULL;
    assert_ok(pp_repeats_scatter(&r, &scratch, &scatter, &error), &error);
    assert_near(scatter, 0, 0);
    pp_arena_free(&scratch);
}

/* A term that eight of 240 items carry: each adds (1/8)^2 to its variance, each of the others
 * (1/232)^2, so that it is known as well as from eight, whatever the fit has left. */
static void a_variance_that_few_carry_has_few_degrees_of_freedom(void **state)
{
    (void)state;
    line_data d;
    fit_room room;
    pp_arena scratch = {0};
    pp_error error = {0};
    pp_serial serial;
    test_random r = {17};
    make_line(&d, 0.03, 0, &r);
    for (int i = 0; i < N; i++) {
        d.x[i] -= 0.77 * d.t[i], d.y[i] += 2 * 0.77 * d.t[i];
        d.t[i] = i % 30 == 0;
    }
    pp_robust_problem p = problem_of(&d);
    begin_fit(&room);
    assert_ok(pp_serial_solve(&p, false, &scratch, &room.fit, &serial, &error), &error);
    assert_near(room.fit.term_df[2], room.fit.df, 0);
    begin_fit(&room);
    assert_ok(pp_serial_solve(&p, true, &scratch, &room.fit, &serial, &error), &error);
    assert_int_equal(room.fit.kept, N);
    double sum = 1 / 8.0 + 1 / 232.0, squares = pow(8, -3) + pow(232, -3);
    assert_near(room.fit.term_df[2], sum * sum / squares, 1e-9);
    assert_true(room.fit.term_df[0] > 200);
    pp_arena_free(&scratch);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_median_is_the_middle),
        cmocka_unit_test(the_median_of_many_is_the_middle),
        cmocka_unit_test(exact_data_are_recovered_whatever_the_wild_ones_say),
        cmocka_unit_test(normal_errors_give_nearly_least_squares),
        cmocka_unit_test(terms_that_are_the_same_are_refused),
        cmocka_unit_test(correlated_errors_widen_the_standard_error),
        cmocka_unit_test(independent_errors_are_left_alone),
        cmocka_unit_test(a_variance_that_few_carry_has_few_degrees_of_freedom),
        cmocka_unit_test(repeat_readings_pool_their_scatter),
        cmocka_unit_test(a_lean_is_found_and_a_wild_exit_does_not_make_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

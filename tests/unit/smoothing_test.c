/* The choice of smoothing against all the trials it spares: bending chains with random heights. */
#include "support/check.h"

#include "flatness/smoothing.h"
#include "linalg/linalg.h"
#include "support/random.h"

enum { NODES = 60, WIDTH = 2, BAND = NODES * (WIDTH + 1), COARSE = NODES / 2 + 1 };

typedef struct chain {
    double normal[BAND], stiffness[BAND], load[NODES];
    double coarse_normal[BAND], coarse_stiffness[BAND], coarse_load[COARSE];
    pp_smoothing_problem problem, guide;
} chain;

static void add(double *band, size_t i, size_t j, double value)
{
    if (i >= j) band[j * (WIDTH + 1) + i - j] += value;
}

/* `count` heights of a line that waves slowly and fast, each between two nodes of a chain that
 * bends: to follow the fast waves or to take them for noise may both be likely. */
static void make_chain(chain *c, test_random *random, size_t count, double noise)
{
    *c = (chain){0};
    const double hinge[3] = {1, -2, 1};
    for (size_t k = 0; k + 2 < NODES; k++)
        for (size_t a = 0; a < 3; a++)
            for (size_t b = 0; b < 3; b++) add(c->stiffness, k + a, k + b, hinge[a] * hinge[b]);
    double waves = random_between(random, 0.3, 9), high = random_between(random, 0.1, 3);
    double turn = random_between(random, 0.5, 2.5), fast = noise * random_between(random, 0, 3);
    for (size_t k = 0; k < count; k++) {
        size_t i = random_bits(random) % (NODES - 1);
        double within = random_unit(random), at = (double)i + within;
        double share[2] = {1 - within, within};
        double z =
            high * sin(waves * at / NODES) + fast * sin(turn * at) + noise * random_normal(random);
        for (size_t a = 0; a < 2; a++) {
            for (size_t b = 0; b < 2; b++) add(c->normal, i + a, i + b, share[a] * share[b]);
            c->load[i + a] += share[a] * z;
        }
        c->problem.zz += z * z;
    }
    c->problem.n = NODES, c->problem.half_bandwidth = WIDTH;
    c->problem.normal = c->normal, c->problem.stiffness = c->stiffness, c->problem.load = c->load;
    c->problem.weight = (double)count;
    c->problem.unit = (double)count * 1e4;
    c->problem.near = NAN;
}

/* Of every second node: the others lie half way between them. */
static double share_of(size_t node, size_t coarse)
{
    if (node % 2 == 0) return node / 2 == coarse;
    return node / 2 == coarse || node / 2 + 1 == coarse ? 0.5 : 0;
}

static void restrict_band(const double *from, double *to)
{
    for (size_t i = 0; i < NODES; i++)
        for (size_t j = i < WIDTH ? 0 : i - WIDTH; j < NODES && j <= i + WIDTH; j++) {
            size_t low = i < j ? i : j, apart = i + j - 2 * low;
            for (size_t p = i / 2; p <= i / 2 + 1; p++)
                for (size_t q = j / 2; q <= j / 2 + 1; q++)
                    add(to, p, q,
                        share_of(i, p) * share_of(j, q) * from[low * (WIDTH + 1) + apart]);
        }
}

static void make_guide(chain *c)
{
    restrict_band(c->normal, c->coarse_normal);
    restrict_band(c->stiffness, c->coarse_stiffness);
    for (size_t i = 0; i < NODES; i++)
        for (size_t p = i / 2; p <= i / 2 + 1; p++)
            c->coarse_load[p] += share_of(i, p) * c->load[i];
    c->guide = c->problem;
    c->guide.n = COARSE;
    c->guide.normal = c->coarse_normal, c->guide.stiffness = c->coarse_stiffness;
    c->guide.load = c->coarse_load;
    c->problem.guide = &c->guide;
}

/* Minus twice the restricted log-likelihood, as smoothing.h states it. */
static double criterion(const pp_smoothing_problem *p, double mu)
{
    double band[BAND], w[NODES], fitted = 0;
    pp_error error = {0};
    for (size_t k = 0; k < BAND; k++) band[k] = p->normal[k] + mu * p->stiffness[k];
    memcpy(w, p->load, sizeof w);
    assert_ok(pp_band_factor(NODES, WIDTH, band, &error), &error);
    assert_ok(pp_band_solve(NODES, WIDTH, band, 1, w, &error), &error);
    for (size_t k = 0; k < NODES; k++) fitted += w[k] * p->load[k];
    double minimum = p->zz - fitted;
    return pp_band_log_determinant(NODES, WIDTH, band) - (NODES - 3.0) * log(mu) +
           (isnan(p->sigma) ? (p->weight - 3) * log(minimum) : minimum / (p->sigma * p->sigma));
}

static double least_of_many(const pp_smoothing_problem *p)
{
    double least = INFINITY;
    for (int step = 0; step <= 160; step++)
        least = fmin(least, criterion(p, p->unit * pow(10, -9 + step / 16.0)));
    return least;
}

static void solve(chain *c, int threads, double solution[NODES], pp_smoothing *found)
{
    pp_memory memory = {0};
    pp_error error = {0};
    c->problem.threads = threads;
    assert_ok(pp_smoothing_solve(&c->problem, &memory, solution, found, &error), &error);
    pp_memory_free(&memory);
}

/* What is chosen is all but the least of many more trials, on any number of threads. */
static void check_choices(bool guided, double close)
{
    test_random random = {0x5eed1e55};
    for (int k = 0; k < 300; k++) {
        chain c;
        double noise = pow(10, random_between(&random, -2.7, -0.3));
        make_chain(&c, &random, 90 + random_below(&random, 200), noise);
        c.problem.sigma = k % 2 ? NAN : noise * random_between(&random, 0.8, 3);
        c.problem.sigma_trusted = true;
        if (guided) make_guide(&c);
        pp_smoothing found[2];
        double solution[2][NODES];
        for (int t = 0; t < 2; t++) solve(&c, t ? 3 : 1, solution[t], &found[t]);
        assert_true(criterion(&c.problem, found[0].mu) <= least_of_many(&c.problem) + close);
        assert_true(found[0].mu > c.problem.unit * 1e-9 && found[0].mu < c.problem.unit * 10);
        assert_memory_equal(&found[0].mu, &found[1].mu, sizeof found[0].mu);
        assert_memory_equal(solution[0], solution[1], sizeof solution[0]);
    }
}

/* The vertex of a parabola through trials an eighth of a decade apart. */
static void no_trial_spared_is_better(void **state)
{
    (void)state;
    check_choices(false, 0.01);
}

/* Chains with waves that every second node cannot follow are among them. */
static void a_guide_leads_to_the_same_choice(void **state)
{
    (void)state;
    check_choices(true, 0.01);
}

int main(void)
{
    pp_blas_single_thread();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_trial_spared_is_better),
        cmocka_unit_test(a_guide_leads_to_the_same_choice),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

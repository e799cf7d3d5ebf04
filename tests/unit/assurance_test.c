/* Assurance: exact probabilities against brute force and simulation, published intervals. */
#include <stdlib.h>

#include "base/stats.h"
#include "rules/assurance.h"
#include "support/check.h"
#include "support/quantiles.h"
#include "support/random.h"

static double probability(size_t count, const pp_margins *items, size_t allowed, double share)
{
    pp_memory memory = {0};
    pp_error error = {0};
    double p = NAN;
    assert_ok(pp_conformance_probability(count, items, allowed, share, &memory.scratch, &p, &error),
              &error);
    pp_memory_free(&memory);
    return p;
}

static double gaussian(test_random *r)
{
    double u = 1 - random_unit(r), v = random_unit(r);
    return sqrt(-2 * log(u)) * cos(6.283185307179586 * v);
}

/* JCGM 106:2012, 7.4: y = 13.6, u = 1.8, limits 12.5 and 16.3: 0.6626297864953. One item, nothing
 * allowed in the remainder. */
static void one_item_has_the_published_probability(void **state)
{
    (void)state;
    pp_margins item = {(16.3 - 13.6) / 1.8, (16.3 - 13.6) / 1.8, (13.6 - 12.5) / 1.8};
    assert_near(probability(1, &item, 0, 0), 0.6626297864953, 1e-13);
    /* one item's error is all its own, whatever part of it is called common */
    assert_near(probability(1, &item, 0, 0.37), 0.6626297864953, 1e-9);
    assert_near(probability(1, &item, 0, 1), 0.6626297864953, 1e-13);
}

/* Every one of the 3^n outcomes of n items, independent errors. */
static void every_outcome_counted_gives_the_same_probability(void **state)
{
    (void)state;
    enum { N = 8, OUTCOMES = 6561 };
    test_random seed = {20261120};
    for (int round = 0; round < 20; round++) {
        pp_margins items[N];
        double chance[N][3]; /* inside, in the remainder, outside */
        for (int i = 0; i < N; i++) {
            double m = 3 * gaussian(&seed), width = 4 * random_unit(&seed);
            items[i] = (pp_margins){m, m + width, 2 + 3 * random_unit(&seed)};
            double below = pp_normal_upper(items[i].other);
            chance[i][0] = fmax(0, pp_normal_upper(-items[i].standard) - below);
            chance[i][1] = fmax(0, pp_normal_upper(-items[i].outer) - below) - chance[i][0];
            chance[i][2] = 1 - chance[i][0] - chance[i][1];
        }
        for (size_t allowed = 0; allowed <= N; allowed++) {
            double total = 0;
            for (int outcome = 0; outcome < OUTCOMES; outcome++) {
                double p = 1;
                size_t remainder = 0;
                bool lost = false;
                for (int i = 0, rest = outcome; i < N; i++, rest /= 3) {
                    p *= chance[i][rest % 3];
                    remainder += rest % 3 == 1;
                    lost = lost || rest % 3 == 2;
                }
                if (!lost && remainder <= allowed) total += p;
            }
            assert_near(probability(N, items, allowed, 0), total, 1e-14);
        }
    }
}

/* 1285 holes, 48 near or beyond the standard limit, 51 allowed; part of the error common to all. */
static void a_simulated_plate_gives_the_same_probability(void **state)
{
    (void)state;
    enum { N = 1285, TRIALS = 5000 };
    static pp_margins items[N];
    test_random seed = {7};
    for (int i = 0; i < N; i++) {
        double m = i < 70 ? 0.8 * gaussian(&seed) - 0.7 : 4 + 3 * random_unit(&seed);
        items[i] = (pp_margins){m, m + 40, 30};
    }
    const double shares[3] = {0, 0.3, 0.9};
    for (int k = 0; k < 3; k++) {
        double common = sqrt(shares[k]), own = sqrt(1 - shares[k]);
        size_t good = 0;
        for (int t = 0; t < TRIALS; t++) {
            double z = gaussian(&seed);
            int beyond = 0;
            for (int i = 0; i < N; i++)
                beyond += items[i].standard < 12 &&
                          common * z + own * gaussian(&seed) > items[i].standard;
            good += beyond <= 51;
        }
        double p = probability(N, items, 51, shares[k]), seen = (double)good / TRIALS;
        assert_true(p > 0.02 && p < 0.98); /* the case says something */
        assert_near(seen, p, 5 * sqrt(p * (1 - p) / TRIALS));
    }
}

/* Close to all common, the integral meets the closed form. */
static void errors_all_common_meet_the_closed_form(void **state)
{
    (void)state;
    enum { N = 60 };
    pp_margins items[N];
    test_random seed = {11};
    for (int i = 0; i < N; i++) {
        double m = 1.5 * gaussian(&seed);
        items[i] = (pp_margins){m, m + 3.5, 4 + random_unit(&seed)};
    }
    assert_near(probability(N, items, 20, 0.999), probability(N, items, 20, 1), 0.01);
}

/* Sure items need no work and change nothing; a lost one leaves no probability. */
static void sure_items_change_nothing(void **state)
{
    (void)state;
    pp_margins items[4] = {{0.3, 20, 20}, {50, 60, INFINITY}, {-40, 50, 60}, {-0.4, 30, 30}};
    double a = pp_normal_upper(-0.3), b = pp_normal_upper(0.4);
    assert_near(probability(4, items, 1, 0), a * b, 1e-15);
    assert_near(probability(4, items, 2, 0), 1 - (1 - a) * (1 - b), 1e-15);
    assert_near(probability(4, items, 3, 0), 1, 1e-15);
    assert_near(probability(4, items, 0, 0), 0, 0);
    items[1].other = -70;
    assert_near(probability(4, items, 4, 0), 0, 0);
}

/* A hundred thousand open items: the halves are multiplied, not item by item. The normal
 * approximation with continuity correction is good to 1e-3 here. */
static void a_hundred_thousand_open_items_are_multiplied(void **state)
{
    (void)state;
    enum { N = 100000 };
    pp_margins *items = malloc(N * sizeof *items);
    double q = pp_normal_upper(1.7);
    for (size_t i = 0; i < N; i++) items[i] = (pp_margins){1.7, 30, 30};
    double mean = N * q, deviation = sqrt(N * q * (1 - q));
    for (int k = -2; k <= 2; k += 2) {
        double allowed = floor(mean + k * deviation);
        assert_near(probability(N, items, (size_t)allowed, 0),
                    pp_normal_upper(-(allowed + 0.5 - mean) / deviation), 1e-3);
    }
    free(items);
}

/* Clopper-Pearson. 4 of 20 at 90 %: computed independently, 10 digits (the NIST e-Handbook 7.2.4.1
 * prints 0.071354 and 0.401029, its upper value off by 9e-7); 8 of 10: published tables, 5 digits;
 * 0 and 10 of 10 at 95 %: computed independently. */
static void intervals_of_a_share_are_the_published_ones(void **state)
{
    (void)state;
    static const struct {
        size_t outside, sample;
        double confidence, low, high, tolerance;
    } CASES[] = {
        {4, 20, .90, 0.0713538843, 0.4010281173, 6e-11},
        {4, 20, .90, 0.071354, 0.401029, 1e-6},
        {8, 10, .99, 0.35180, 0.98915, 6e-6},
        {8, 10, .95, 0.44390, 0.97479, 6e-6},
        {8, 10, .90, 0.49310, 0.96323, 6e-6},
        {0, 10, .95, 0, 0.3084971078, 6e-11},
        {10, 10, .95, 0.6915028922, 1, 6e-11},
    };
    for (size_t i = 0; i < sizeof CASES / sizeof *CASES; i++) {
        double low, high;
        clopper_pearson(CASES[i].sample, CASES[i].outside, CASES[i].confidence, &low, &high);
        assert_near(low, CASES[i].low, CASES[i].tolerance);
        assert_near(high, CASES[i].high, CASES[i].tolerance);
    }
}

/* 985 of 1285 holes, 33 over: at most 3.89 % of the plate by the finite plate's own distribution,
 * 4.45 % if it were boundless. */
static void a_finite_plate_has_a_bound_of_its_own(void **state)
{
    (void)state;
    size_t bound = pp_sample_bound(1285, 985, 33, 0.95);
    assert_int_equal(bound, 50);
    assert_near(100.0 * (double)bound / 1285, 3.89, 0.005);
    double low, high;
    clopper_pearson(985, 33, 0.90, &low, &high); /* two-sided 90 %: 95 % one-sided */
    assert_near(100 * high, 4.45, 0.005);
    /* the same of a plate without end; with 10^8 holes the sample is 10^-5 of it */
    assert_near((double)pp_sample_bound(100000000, 985, 33, 0.95) / 1e8, high, 1e-6);
    assert_int_equal(pp_sample_bound(1285, 1285, 33, 0.95), 33); /* all measured */
    assert_int_equal(pp_sample_bound(1000000, 0, 0, 0.95), 1000000);
}

/* How many, none of them outside, prove 96 % at 95 %: 74 of many, 71 of 1285, 61 of 300, 45 of 100.
 */
static void samples_are_as_large_as_the_plate_wants(void **state)
{
    (void)state;
    static const size_t CASES[][2] = {{100000000, 74}, {1285, 71}, {300, 61}, {100, 45}};
    for (size_t i = 0; i < 4; i++) {
        size_t more, population = CASES[i][0], allowed = population / 25;
        assert_true(pp_sample_more(population, 0, 0, allowed, 0.95, &more));
        assert_int_equal(more, CASES[i][1]);
        /* in two goes it comes to the same */
        assert_true(pp_sample_more(population, 20, 0, allowed, 0.95, &more));
        assert_int_equal(more, CASES[i][1] - 20);
    }
    size_t more;
    assert_true(pp_sample_more(1285, 985, 33, 51, 0.95, &more));
    assert_int_equal(more, 0);
    assert_false(pp_sample_more(1285, 985, 52, 51, 0.95, &more));
}

/* Exact counting for small plates: every sample of 5 from 12. */
static void the_bound_of_a_small_plate_is_counted_out(void **state)
{
    (void)state;
    for (unsigned bad = 0; bad <= 12; bad++) {
        unsigned samples = 0, at_most[6] = {0};
        for (unsigned set = 0; set < 1u << 12; set++) {
            if (__builtin_popcount(set) != 5) continue;
            samples++;
            unsigned seen = (unsigned)__builtin_popcount(set & ((1u << bad) - 1));
            for (unsigned x = seen; x <= 5; x++) at_most[x]++;
        }
        for (unsigned x = 0; x <= 5; x++) { /* `bad` is ruled out when so few are this rare */
            bool ruled_out = at_most[x] <= 0.1 * samples;
            bool possible = bad >= x && bad <= 12 - 5 + x;
            if (possible) assert_int_equal(bad > pp_sample_bound(12, 5, x, 0.9), ruled_out);
        }
    }
}

static uint64_t choose_exact(unsigned n, unsigned k)
{
    uint64_t c = 1;
    if (k > n) return 0;
    for (unsigned i = 1; i <= k; i++) c = c * (n - k + i) / i;
    return c;
}

/* Whole numbers for every plate of up to 30 holes: `bad` is ruled out when the samples with so few
 * of them are at most the risk, a chance of exactly the risk (19 of 20 measured, one bad: 1 in 20
 * at 95 %) included. Everywhere the same, whatever the last digit of a floating sum. */
static void a_chance_of_exactly_the_risk_is_enough(void **state)
{
    (void)state;
    static const struct {
        double confidence;
        uint64_t risk, of; /* 1 - confidence = risk / of */
    } CASES[] = {{0.95, 1, 20}, {0.9, 1, 10}, {0.8, 1, 5},
                 {0.75, 1, 4},  {0.5, 1, 2},  {0.99, 1, 100}};
    size_t ties = 0;
    for (size_t c = 0; c < sizeof CASES / sizeof *CASES; c++)
        for (unsigned n = 1; n <= 30; n++)
            for (unsigned sample = 1; sample <= n; sample++)
                for (unsigned x = 0; x <= 2 && x <= sample; x++) {
                    size_t bound = x;
                    for (unsigned bad = x; bad <= n - sample + x; bad++) {
                        uint64_t fewer = 0, all = choose_exact(n, sample);
                        for (unsigned k = 0; k <= x; k++)
                            fewer += choose_exact(bad, k) * choose_exact(n - bad, sample - k);
                        ties += fewer * CASES[c].of == all * CASES[c].risk;
                        if (fewer * CASES[c].of > all * CASES[c].risk) bound = bad;
                    }
                    assert_int_equal(pp_sample_bound(n, sample, x, CASES[c].confidence), bound);
                }
    assert_true(ties > 100);
}

/* Nearly all of the error common: the edge that is integrated over is steep. What settles lies
 * beside the closed form of a share of 1; what does not is refused, never a wrong figure. */
static void errors_nearly_all_common_settle_or_are_refused(void **state)
{
    (void)state;
    enum { N = 100 };
    pp_margins items[N];
    for (int i = 0; i < N; i++) items[i] = (pp_margins){1.1 + 0.02 * i, 2.2 + 0.02 * i, INFINITY};
    double limit = probability(N, items, 10, 1);
    for (double share = 0.99; share < 0.9999995; share = 1 - (1 - share) / 10)
        assert_near(probability(N, items, 10, share), limit, 0.3 * sqrt(1 - share));
}

/* --- the drawn list --------------------------------------------------------------------------- */

static void draws_are_fair_and_take_tube_holes_alone(void **state)
{
    (void)state;
    enum { N = 50, COUNT = 8, ROUNDS = 6000 };
    uint8_t kind[N] = {0};
    kind[3] = kind[17] = PP_OTHER_HOLE;
    pp_nominal nominal = {.count = N, .kind = kind};
    uint32_t drawn[N], again[N];
    size_t times[N] = {0};
    for (uint64_t seed = 0; seed < ROUNDS; seed++) {
        assert_int_equal(pp_sample_draw(seed, &nominal, NULL, COUNT, drawn), COUNT);
        for (int i = 0; i < COUNT; i++) {
            if (i > 0) assert_true(drawn[i] > drawn[i - 1]);
            times[drawn[i]]++;
        }
    }
    double expected = ROUNDS * (double)COUNT / 48, chi = 0;
    for (int h = 0; h < N; h++) {
        if (kind[h] == PP_OTHER_HOLE)
            assert_int_equal(times[h], 0);
        else
            chi += pow((double)times[h] - expected, 2) / expected;
    }
    assert_true(chi < 90); /* 47 degrees of freedom: beyond it once in 10^4 */
    pp_sample_draw(5, &nominal, NULL, COUNT, drawn);
    pp_sample_draw(5, &nominal, NULL, COUNT, again);
    assert_memory_equal(drawn, again, COUNT * sizeof *drawn);
    bool skip[N] = {false};
    for (int h = 10; h < N; h++) skip[h] = true;
    assert_int_equal(pp_sample_draw(5, &nominal, skip, COUNT * 2, drawn), 9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_item_has_the_published_probability),
        cmocka_unit_test(every_outcome_counted_gives_the_same_probability),
        cmocka_unit_test(a_simulated_plate_gives_the_same_probability),
        cmocka_unit_test(errors_all_common_meet_the_closed_form),
        cmocka_unit_test(sure_items_change_nothing),
        cmocka_unit_test(a_hundred_thousand_open_items_are_multiplied),
        cmocka_unit_test(intervals_of_a_share_are_the_published_ones),
        cmocka_unit_test(a_finite_plate_has_a_bound_of_its_own),
        cmocka_unit_test(samples_are_as_large_as_the_plate_wants),
        cmocka_unit_test(the_bound_of_a_small_plate_is_counted_out),
        cmocka_unit_test(a_chance_of_exactly_the_risk_is_enough),
        cmocka_unit_test(errors_nearly_all_common_settle_or_are_refused),
        cmocka_unit_test(draws_are_fair_and_take_tube_holes_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

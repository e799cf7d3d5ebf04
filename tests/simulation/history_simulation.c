/* What the history says of simulated processes: how often a chart alarms for nothing, how often its
 * intervals cover the truth, how sure the life of a tool is.
 *
 *     history_simulation [RUNS] | --positions RUNS | --heats RUNS | --check RUNS
 *
 * The same numbers on every machine. Published with docs/theory/history.md. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "process/capability.h"
#include "process/charts.h"
#include "process/oneway.h"
#include "support/check.h"
#include "support/random.h"

enum { PLATES_MAX = 60, HOLES = 1285 };

/* ---- charts of individuals ---- */

typedef enum process { NORMAL, LARGEST, RMS, EXPONENTIAL, AR_3, AR_6, PROCESSES } process;
static const char *const PROCESS_NAMES[PROCESSES] = {
    "normal",      "largest of 1000 holes", "rms of a varying scale",
    "exponential", "correlation .3",        "correlation .6"};

static double next_value(process p, double before, test_random *r)
{
    double z = random_normal(r);
    switch (p) {
    case LARGEST: /* of a thousand Rayleigh ones */
        return sqrt(-2 * log(1 - pow(random_unit(r), 1.0 / 1000)));
    case RMS: /* hypot of a scatter of one and a scale that differs from plate to plate */
        return hypot(1, 1.5 * z);
    case EXPONENTIAL:
        return -log(1 - random_unit(r));
    case AR_3:
        return 0.3 * before + sqrt(1 - 0.09) * z;
    case AR_6:
        return 0.6 * before + sqrt(1 - 0.36) * z;
    default:
        return z;
    }
}

static double chart_alarms(process p, size_t plates, long runs, uint64_t seed, pp_memory *m)
{
    test_random r = {seed};
    double value[PLATES_MAX], alarms = 0;
    pp_error error;
    for (long k = 0; k < runs; k++) {
        double before = random_normal(&r);
        for (size_t i = 0; i < plates; i++) before = value[i] = next_value(p, before, &r);
        pp_individuals chart;
        pp_mark mark = pp_arena_mark(&m->keep);
        assert_ok(pp_individuals_chart(value, plates, 0, &m->keep, &chart, &error), &error);
        alarms += chart.found[0].count > 0;
        pp_arena_release(&m->keep, mark);
    }
    return alarms / (double)runs;
}

static void print_charts(long runs, pp_memory *m)
{
    printf("Any plate beyond its limits, of a process in order\n%-24s%8s%8s%8s\n", "process", "12",
           "25", "50");
    for (int p = 0; p < PROCESSES; p++) {
        printf("%-24s", PROCESS_NAMES[p]);
        for (size_t plates = 12; plates <= 50; plates = plates == 12 ? 25 : 2 * plates)
            printf("%8.3f", chart_alarms((process)p, plates, runs, 100 + (uint64_t)p, m));
        printf("\n");
    }
}

/* ---- shares ---- */

/* Binomial, by its normal approximation: some twenty holes out of 1285. */
static double draw_count(double share, test_random *r)
{
    double mean = share * HOLES, out = mean + sqrt(mean * (1 - share)) * random_normal(r);
    return fmin(HOLES, fmax(0, nearbyint(out)));
}

static void share_alarms(double vary, long runs, pp_memory *m, double *binomial, double *widened)
{
    enum { PLATES = 25 };
    test_random r = {200 + (uint64_t)(100 * vary)};
    double out[PLATES], of[PLATES];
    pp_error error;
    *binomial = *widened = 0;
    for (long k = 0; k < runs; k++) {
        pp_shares s;
        pp_mark mark = pp_arena_mark(&m->keep);
        for (int i = 0; i < PLATES; i++) {
            double share = fmax(0.001, 0.02 * (1 + vary * random_normal(&r)));
            out[i] = draw_count(share, &r), of[i] = HOLES;
        }
        assert_ok(pp_shares_chart(out, of, PLATES, &m->keep, &s, &error), &error);
        bool alarm = false;
        for (int i = 0; i < PLATES; i++)
            alarm |= s.share[i] > s.binomial_upper[i] || s.share[i] < s.binomial_lower[i];
        *binomial += alarm / (double)runs, *widened += (s.beyond.count > 0) / (double)runs;
        pp_arena_release(&m->keep, mark);
    }
}

static void print_shares(long runs, pp_memory *m)
{
    printf("\nAny alarm in 25 plates of %d holes whose true share varies by\n%-8s%10s%10s\n", HOLES,
           "of it", "binomial", "widened");
    for (int v = 0; v <= 2; v++) {
        double vary = v == 0 ? 0 : v == 1 ? 0.2 : 0.5, binomial, widened;
        share_alarms(vary, runs, m, &binomial, &widened);
        printf("%-8.1f%10.2f%10.2f\n", vary, binomial, widened);
    }
}

/* ---- capability ---- */

typedef struct coverage {
    double pp, ppk, holes_pp; /* the last: had the holes been counted as independent */
} coverage;

static double random_chi2(double df, test_random *r)
{
    double z = random_normal(r); /* Wilson and Hilferty, Proc. Nat. Acad. Sci. 17 (1931) 684 */
    return df * pow(1 - 2 / (9 * df) + z * sqrt(2 / (9 * df)), 3);
}

static coverage size_coverage(double ratio, size_t plates, long runs, pp_memory *m)
{
    static const double LOWER = -5, UPPER = 7; /* mean 0, within 1 */
    test_random r = {300 + plates + (uint64_t)(100 * ratio)};
    coverage c = {0};
    double total = sqrt(1 + ratio * ratio), pp = (UPPER - LOWER) / (6 * total),
           ppk = fmin(UPPER, -LOWER) / (3 * total);
    pp_error error;
    for (long k = 0; k < runs; k++) {
        pp_plate_moments plate[PLATES_MAX];
        pp_size_capability found;
        for (size_t i = 0; i < plates; i++) {
            double var = random_chi2(HOLES - 1, &r) / (HOLES - 1);
            double mean = ratio * random_normal(&r) + sqrt(1.0 / HOLES) * random_normal(&r);
            plate[i] =
                (pp_plate_moments){.diameters = HOLES, .mean_diameter = mean, .var_diameter = var};
        }
        assert_ok(pp_size_capability_find(plate, plates, LOWER, UPPER, &m->scratch, &found, &error),
                  &error);
        c.pp += (found.pp_low <= pp && pp <= found.pp_high) / (double)runs;
        c.ppk += (found.ppk_low <= ppk && ppk <= found.ppk_high) / (double)runs;
        double df = (double)plates * HOLES - 1, wide = 1.96 * sqrt(1 / (2 * df)); /* of log s */
        c.holes_pp += (fabs(log(found.pp / pp)) <= wide) / (double)runs;
    }
    return c;
}

/* Scatter of holes 1 an axis; means of plates scatter by x, y about `off`; `vary`: standard
 * deviation from plate to plate of the logarithm of the scatter within. */
typedef struct placing {
    double x, y, off, vary;
} placing;

static void draw_places(const placing *g, size_t plates, test_random *r, pp_plate_moments *plate)
{
    for (size_t i = 0; i < plates; i++) {
        double v = exp(2 * g->vary * (random_normal(r) - g->vary)), u = sqrt(v / HOLES);
        plate[i] =
            (pp_plate_moments){.holes = HOLES,
                               .mean_dx = g->off + g->x * random_normal(r) + u * random_normal(r),
                               .mean_dy = g->y * random_normal(r) + u * random_normal(r),
                               .var_dx = v * random_chi2(HOLES - 1, r) / (HOLES - 1),
                               .var_dy = v * random_chi2(HOLES - 1, r) / (HOLES - 1),
                               .cov_dxdy = v * random_normal(r) / sqrt(HOLES - 1.0)};
    }
}

static double position_coverage(const placing *g, size_t plates, long runs)
{
    test_random r = {400 + plates + (uint64_t)(100 * g->x)};
    double vx = 1 + g->x * g->x, vy = 1 + g->y * g->y, covers = 0;
    double limit = 2 * 3.5 * sqrt(0.5 * (vx + vy + g->off * g->off));
    double q50 = pp_normal_disc_radius(0.5, g->off, 0, vx, vy, 0),
           q = pp_normal_disc_radius(0.99865, g->off, 0, vx, vy, 0),
           truth = (0.5 * limit - q50) / (q - q50);
    pp_error error;
    for (long k = 0; k < runs; k++) {
        pp_plate_moments plate[PLATES_MAX];
        pp_position_capability found;
        draw_places(g, plates, &r, plate);
        assert_ok(pp_position_capability_find(plate, plates, limit, &found, &error), &error);
        covers += (found.ppk_low <= truth && truth <= found.ppk_high) / (double)runs;
    }
    return covers;
}

static void print_positions(long runs)
{
    static const size_t PLATES[] = {4, 5, 10, 25};
    static const struct {
        const char *name;
        placing placing;
    } ROWS[] = {{"plates alike", {0, 0, 0, 0}},
                {"between .3 of within", {0.3, 0.3, 0, 0}},
                {"between as within", {1, 1, 0, 0}},
                {"between 3 times within", {3, 3, 0, 0}},
                {"between 1 and .2", {1, 0.2, 0, 0}},
                {"between .3, off by 1", {0.3, 0.3, 1, 0}},
                {"between 1, off by 2", {1, 1, 2, 0}},
                {"scatter within by .2", {0, 0, 0, 0.2}},
                {"the same, between .5", {0.5, 0.5, 0, 0.2}}};
    printf("\nThe interval of the Ppk of positions (90 %%) covers the truth, %ld runs\n%-28s", runs,
           "plates");
    for (size_t n = 0; n < 4; n++) printf("%8zu", PLATES[n]);
    for (size_t q = 0; q < sizeof ROWS / sizeof *ROWS; q++) {
        printf("\n%-28s", ROWS[q].name);
        for (size_t n = 0; n < 4; n++)
            printf("%8.3f", position_coverage(&ROWS[q].placing, PLATES[n], runs)), fflush(stdout);
    }
    printf("\n");
}

static void print_capability(long runs, pp_memory *m)
{
    static const size_t PLATES[] = {3, 5, 10, 25};
    printf("\nIntervals cover the truth, %d holes a plate: Pp and Ppk (95 %%), Pp had every hole "
           "counted\n%-16s%8s%8s%8s%10s\n",
           HOLES, "between/within", "plates", "Pp", "Ppk", "by holes");
    for (int q = 0; q < 3; q++)
        for (int n = 0; n < 4; n++) {
            double ratio = q == 0 ? 0 : q == 1 ? 0.3 : 1;
            coverage c = size_coverage(ratio, PLATES[n], runs, m);
            printf("%-16.1f%8zu%8.2f%8.2f%10.2f\n", ratio, PLATES[n], c.pp, c.ppk, c.holes_pp);
        }
}

/* ---- trends and causes ---- */

static void trend_alarms(double rho, size_t plates, long runs, double *ours, double *plain)
{
    test_random r = {500 + plates + (uint64_t)(100 * rho)};
    double x[PLATES_MAX], y[PLATES_MAX];
    pp_error error;
    *ours = *plain = 0;
    for (long k = 0; k < runs; k++) {
        double value = random_normal(&r);
        for (size_t i = 0; i < plates; i++) {
            value = rho * value + sqrt(1 - rho * rho) * random_normal(&r);
            x[i] = (double)i + 1, y[i] = value;
        }
        pp_trend t;
        assert_ok(pp_trend_fit(x, y, plates, &t, &error), &error);
        *ours += (t.p < 0.05) / (double)runs;
        /* Student's 5 % point, near enough from 15 plates up */
        *plain +=
            (fabs(t.slope) > t.plain_error * (1.96 + 2.4 / ((double)plates - 2))) / (double)runs;
    }
}

static void print_trends(long runs)
{
    printf("\nA trend found where there is none, at 5 %%: ours (plain least squares)\n%-14s%16s%16s"
           "%16s\n",
           "correlation", "15 plates", "30", "60");
    for (int q = 0; q <= 2; q++) {
        printf("%-14.1f", 0.3 * q);
        for (size_t plates = 15; plates <= 60; plates *= 2) {
            double ours, plain;
            trend_alarms(0.3 * q, plates, runs, &ours, &plain);
            printf("%9.2f (%.2f)", ours, plain);
        }
        printf("\n");
    }
}

/* 12 figures by 4 factors, 60 plates; a heat has four plates. */
enum { FIGURES = 12, FACTORS = 4, CAUSE_PLATES = 60, TESTS = FIGURES * FACTORS, HEAT = 4 };
static const size_t CAUSE_GROUPS[FACTORS] = {3, CAUSE_PLATES / HEAT, 2, 4};

/* Shares of the runs. */
typedef struct causes_found {
    double any;    /* of all tests, after Holm */
    double holm;   /* the first figure by heat */
    double raw[3]; /* the same test by itself at .05, at .05/FACTORS, at .05/TESTS */
} causes_found;

/* p of every test, figure by figure; one heat of the first figure is `off` standard deviations. */
static void ask_causes(double off, test_random *r, double *p)
{
    double room[2 * CAUSE_PLATES], value[CAUSE_PLATES];
    size_t group[CAUSE_PLATES];
    const bool none[CAUSE_PLATES] = {0};
    for (int f = 0; f < FIGURES; f++) {
        for (int i = 0; i < CAUSE_PLATES; i++)
            value[i] = random_normal(r) + (f == 0 && i < HEAT ? off : 0);
        for (int g = 0; g < FACTORS; g++) {
            size_t size = CAUSE_PLATES / CAUSE_GROUPS[g];
            for (size_t i = 0; i < CAUSE_PLATES; i++) group[i] = i / size;
            p[f * FACTORS + g] =
                pp_oneway_test(value, group, CAUSE_PLATES, CAUSE_GROUPS[g], none, room).p;
        }
    }
}

static causes_found find_causes(double off, long runs)
{
    static const double LEVEL = 0.05;
    test_random r = {600 + (uint64_t)(10 * off)};
    causes_found c = {0};
    for (long k = 0; k < runs; k++) {
        double p[TESTS];
        size_t scratch[TESTS];
        bool any = false;
        ask_causes(off, &r, p);
        c.raw[0] += p[1] <= LEVEL, c.raw[1] += p[1] <= LEVEL / FACTORS;
        c.raw[2] += p[1] <= LEVEL / TESTS;
        pp_holm_adjust(p, TESTS, scratch);
        for (int t = 0; t < TESTS; t++) any |= p[t] <= LEVEL;
        c.any += any, c.holm += p[1] <= LEVEL;
    }
    c.any /= (double)runs, c.holm /= (double)runs;
    for (int t = 0; t < 3; t++) c.raw[t] /= (double)runs;
    return c;
}

/* For tests/simulation/heats.py, which has the noncentral F. */
static void print_heats(long runs)
{
    printf("off plates heat alone figure all holm any\n");
    for (int off = 0; off <= 4; off++) {
        causes_found c = find_causes(off, runs);
        printf("%d %d %d %.6f %.6f %.6f %.6f %.6f\n", off, CAUSE_PLATES, HEAT, c.raw[0], c.raw[1],
               c.raw[2], c.holm, c.any);
    }
}

/* ---- tools ---- */

static double life_holds(size_t tools, long runs)
{
    static const double LEVEL = 0.06, LEVEL_SD = 0.006, SLOPE = -2e-5, SLOPE_SD = 4e-6,
                        SCATTER = 0.004, SHARE = 0.01, Q = 2.3263478740408408;
    test_random r = {700 + tools};
    double holds = 0, truth = 0;
    for (double k = 0; k < 20000; k++) {
        double v = LEVEL_SD * LEVEL_SD + SLOPE_SD * SLOPE_SD * k * k + SCATTER * SCATTER;
        if (LEVEL + SLOPE * k - Q * sqrt(v) < 0) break;
        truth = k;
    }
    pp_error error;
    for (long n = 0; n < runs; n++) {
        pp_tool_line line[16];
        pp_tool_life life;
        for (size_t j = 0; j < tools; j++)
            line[j] = (pp_tool_line){.level = LEVEL + LEVEL_SD * random_normal(&r),
                                     .slope = SLOPE + SLOPE_SD * random_normal(&r),
                                     .scatter = SCATTER * sqrt(random_chi2(198, &r) / 198),
                                     .holes = 200,
                                     .last = 1000};
        assert_ok(pp_tool_life_find(line, tools, 0, NAN, SHARE, &life, &error), &error);
        holds += (life.life_sure <= truth) / (double)runs;
    }
    return holds;
}

static void print_rest(long runs)
{
    print_trends(runs);
    printf(
        "\nCauses, 12 figures by 4 factors, 60 plates, Holm at 5 %%\nany false alarm %.3f; a heat "
        "of 4 plates 2 sigma off found in %.2f, 4 sigma in %.2f\n",
        find_causes(0, runs).any, find_causes(2, runs).holm, find_causes(4, runs).holm);
    printf("\nThe sure life of a tool is not above the true one (.95 wanted)\n%-8s%8s%8s%8s\n%-8s",
           "tools", "3", "5", "10", "");
    for (int n = 0; n < 3; n++) printf("%8.3f", life_holds(n == 0 ? 3 : n == 1 ? 5 : 10, runs));
    printf("\n");
}

static int check(long runs, pp_memory *m)
{
    static const placing PLACING = {1, 1, 0, 0};
    double alarms = chart_alarms(NORMAL, 25, runs, 1, m), life = life_holds(5, runs);
    double place = position_coverage(&PLACING, 4, runs / 6);
    coverage c = size_coverage(1, 5, runs, m);
    printf("alarms %.3f, Pp %.3f, Ppk %.3f, Pp by holes %.3f, life %.3f, position %.3f\n", alarms,
           c.pp, c.ppk, c.holes_pp, life, place);
    bool good = alarms < 0.12 && c.pp > 0.88 && c.ppk > 0.88 && c.holes_pp < 0.3 && life > 0.88 &&
                place > 0.95 && place < 1; /* leaving out plates alone: .92 */
    return good ? 0 : 1;
}

int main(int count, char **words)
{
    bool checks = count > 2 && strcmp(words[1], "--check") == 0;
    long runs = checks ? strtol(words[2], NULL, 10) : count > 1 ? strtol(words[1], NULL, 10) : 2000;
    pp_memory m = {0};
    int status = 0;
    if (checks) {
        status = check(runs, &m);
    } else if (count > 2 && strcmp(words[1], "--positions") == 0) {
        print_positions(strtol(words[2], NULL, 10));
    } else if (count > 2 && strcmp(words[1], "--heats") == 0) {
        print_heats(strtol(words[2], NULL, 10));
    } else {
        printf("%ld runs a row\n\n", runs);
        print_charts(runs, &m);
        print_shares(runs, &m);
        print_capability(runs, &m);
        print_positions(runs / 4 + 1);
        print_rest(runs);
    }
    pp_memory_free(&m);
    return status;
}

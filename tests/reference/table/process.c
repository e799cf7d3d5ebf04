/* Charts, capability, analysis of variance, lines: what the history of many plates asks. */
#include <math.h>

#include "base/constants.h"
#include "process/capability.h"
#include "process/charts.h"
#include "process/oneway.h"
#include "table.h"

#include "support/check.h"

#define COUNT_OF(array) (sizeof(array) / sizeof(array)[0])

/* NIST/SEMATECH e-Handbook 6.3.2.2: flow rate of ten batches. */
static const double FLOW[] = {49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
/* The same, 6.3.3.2: defective of 50, thirty samples. */
static const double DEFECTIVE[] = {12.0, 15.0, 8.0,  10.0, 4.0,  7.0,  16.0, 9.0,  14.0, 10.0,
                                   5.0,  6.0,  17.0, 12.0, 22.0, 8.0,  10.0, 5.0,  13.0, 11.0,
                                   20.0, 18.0, 24.0, 15.0, 9.0,  12.0, 7.0,  13.0, 9.0,  6.0};
/* NIST StRD SiRstv: resistivity of silicon by five instruments, five times each. */
static const double SILICON[] = {
    196.3052, 196.124,  196.189,  196.2569, 196.3403, 196.3042, 196.3825, 196.1669, 196.3257,
    196.0422, 196.1303, 196.2005, 196.2889, 196.0343, 196.1811, 196.2795, 196.1748, 196.1494,
    196.1485, 195.9885, 196.2119, 196.1051, 196.185,  196.0052, 196.209};
/* NIST StRD Norris, from memory: that the certified values come out to their last digits proves the
 * data. */
static const double NORRIS_X[] = {0.2,   337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6,
                                  777.0, 558.2, 0.4,   0.6,   775.5, 666.9, 338.0, 447.5, 11.6,
                                  556.0, 228.1, 995.8, 887.6, 120.2, 0.3,   0.3,   556.8, 339.1,
                                  887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, 0.5};
static const double NORRIS_Y[] = {0.1,   338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1,
                                  778.9, 559.2, 0.3,   0.1,   778.1, 668.8, 339.3, 448.9, 10.8,
                                  557.7, 228.3, 998.0, 888.8, 119.6, 0.3,   0.6,   557.6, 339.3,
                                  888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, 0.2};

static void charts(ref_table *t)
{
    static const char source[] = "NIST/SEMATECH e-Handbook 6.3.2.2 (from memory)";
    static const char shares[] = "NIST/SEMATECH e-Handbook 6.3.3.2";
    pp_arena arena = {0};
    pp_error error = {0};
    pp_individuals c;
    assert_ok(pp_individuals_chart(FLOW, COUNT_OF(FLOW), 0, &arena, &c, &error), &error);
    ref_row(t, source, 50.81, c.centre, 1e-9, "individuals: centre");
    ref_row(t, source, 1.8778, c.range_centre, 5e-5, "individuals: mean moving range");
    /* 3 / 1.128 there, 2.660 here */
    ref_row(t, source, 55.8041, c.upper, 1e-3, "individuals: upper limit");
    ref_row(t, source, 45.8159, c.lower, 1e-3, "individuals: lower limit");
    double pi = PP_PI, d2 = 2 / sqrt(pi);
    ref_row(t, "mathematics: 3 / d2, d2 = 2 / sqrt(pi)", 3 / d2,
            (c.upper - c.centre) / c.range_centre, 2e-3, "individuals: limits in mean ranges");
    ref_row(t, "mathematics: 1 + 3 sqrt(pi/2 - 1)", 1 + 3 * sqrt(pi / 2 - 1),
            c.range_upper / c.range_centre, 5e-4, "individuals: range limit in mean ranges");
    double of[COUNT_OF(DEFECTIVE)];
    for (size_t i = 0; i < COUNT_OF(of); i++) of[i] = 50;
    pp_shares s;
    assert_ok(pp_shares_chart(DEFECTIVE, of, COUNT_OF(of), &arena, &s, &error), &error);
    ref_row(t, shares, 0.2313, s.centre, 5e-5, "proportions: centre");
    ref_row(t, shares, 0.4102, s.binomial_upper[0], 5e-5, "proportions: upper limit");
    ref_row(t, shares, 0.0524, s.binomial_lower[0], 5e-5, "proportions: lower limit");
    pp_arena_free(&arena);
}

static pp_size_capability one_plate(double n, double mean, double s, double lower, double upper)
{
    pp_arena arena = {0};
    pp_error error = {0};
    pp_size_capability c;
    pp_plate_moments plate = {.diameters = n, .mean_diameter = mean, .var_diameter = s * s};
    assert_ok(pp_size_capability_find(&plate, 1, lower, upper, &arena, &c, &error), &error);
    pp_arena_free(&arena);
    return c;
}

static void capability(ref_table *t)
{
    static const char handbook[] = "NIST/SEMATECH e-Handbook 6.1.6 (from memory)";
    static const char text[] = "Montgomery, Introduction to SQC (from memory)";
    pp_size_capability c = one_plate(50, 16, 2, 8, 20);
    ref_row(t, handbook, 1, c.cp, 1e-12, "Cp: limits 8 and 20, mean 16, s 2");
    ref_row(t, handbook, 0.6667, c.cpk, 5e-5, "Cpk of the same");
    c = one_plate(20, 50, 1.75, 38, 62);
    ref_row(t, text, 2.29, c.pp, 5e-3, "Pp: limits 38 and 62, s 1.75, n 20");
    ref_row(t, text, 1.57, c.pp_low, 1e-2, "its 95 %% lower bound");
    ref_row(t, text, 3.01, c.pp_high, 5e-3, "its 95 %% upper bound");
    static const char rayleigh[] = "mathematics: Rayleigh distribution";
    double high = sqrt(-2 * log(0.00135)), middle = sqrt(2 * log(2));
    ref_row(t, rayleigh, middle, pp_normal_disc_radius(0.5, 0, 0, 1, 1, 0), 1e-8,
            "round cloud: median / sigma");
    ref_row(t, rayleigh, high, pp_normal_disc_radius(0.99865, 0, 0, 1, 1, 0), 1e-7,
            "round cloud: 99.865 %% / sigma");
    pp_error error = {0};
    pp_position_capability p;
    pp_plate_moments plate = {.holes = 100, .var_dx = 1, .var_dy = 1};
    assert_ok(pp_position_capability_find(&plate, 1, 10, &p, &error), &error);
    ref_row(t, rayleigh, (5 - middle) / (high - middle), p.ppk, 1e-7,
            "round cloud: index at 5 sigma");
    ref_row(t, "mathematics: exp(-12.5)", exp(-12.5), p.share_outside, 1e-12,
            "round cloud: share outside 5 sigma");
    ref_row(t, "noncentral chi-square, 2 df (Marcum's Q)", 0.73098793996409,
            pp_normal_disc(2, 1, 0, 1, 1, 0), 1e-12, "off centre by sigma: within 2 sigma");
}

static void analyses(ref_table *t)
{
    static const char silicon[] = "NIST StRD SiRstv, certified";
    static const char norris[] = "NIST StRD Norris, certified";
    size_t group[COUNT_OF(SILICON)];
    double room[10];
    for (size_t i = 0; i < COUNT_OF(group); i++) group[i] = i / 5;
    pp_oneway a = pp_oneway_test(SILICON, group, COUNT_OF(group), 5, NULL, room);
    ref_row(t, silicon, 1.18046237440255, a.f, 1e-10, "one-way analysis: F");
    ref_row(t, silicon, 0.0511462616, a.between_ss, 1e-13, "sum of squares between");
    ref_row(t, silicon, 0.21663656, a.within_ss, 1e-12, "sum of squares within");
    ref_row(t, silicon, 0.104076068334656, a.scatter, 1e-12, "residual standard deviation");
    pp_trend line;
    pp_error error = {0};
    assert_ok(pp_trend_fit(NORRIS_X, NORRIS_Y, COUNT_OF(NORRIS_X), &line, &error), &error);
    ref_row(t, norris, 1.00211681802045, line.slope, 1e-11, "slope of a line");
    ref_row(t, norris, 0.000429796848199937, line.plain_error, 1e-12, "its standard error");
    ref_row(t, norris, -0.262323073774029, line.intercept, 1e-9, "its intercept");
    ref_row(t, norris, 0.884796396144373, line.scatter, 1e-10, "its residual standard deviation");
}

void ref_process(ref_table *t)
{
    charts(t);
    capability(t);
    analyses(t);
}

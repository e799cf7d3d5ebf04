/* Sums, intervals, probabilities, registration. */
#include "base/stats.h"
#include "base/sum.h"
#include "holes/alignment.h"
#include "rules/assurance.h"
#include "rules/decide.h"
#include "support/quantiles.h"
#include "support/strd.h"
#include "table.h"

/* Through the CSV reader and the compensated sums that the stages use. */
static void data_set(ref_table *t, const char *name, size_t count, double mean, double deviation)
{
    pp_memory memory = {0};
    const double *v = strd_read(name, count, &memory);
    pp_sum sum = {0}, squares = {0};
    for (size_t i = 0; i < count; i++) pp_sum_add(&sum, v[i]);
    double m = pp_sum_value(sum) / (double)count;
    for (size_t i = 0; i < count; i++) pp_sum_add(&squares, (v[i] - m) * (v[i] - m));
    double rounding = 1e-15 * fabs(mean); /* of one datum, read as a double */
    ref_row(t, "NIST StRD, certified", mean, m, 2 * rounding, "StRD %s, mean", name);
    ref_row(t, "NIST StRD, certified", deviation, sqrt(pp_sum_value(squares) / (double)(count - 1)),
            1e-14 * deviation + 2 * rounding, "StRD %s, standard deviation", name);
    pp_memory_free(&memory);
}

static void data_sets(ref_table *t)
{
    FILE *list = fopen(PP_SOURCE_DIR "/data/reference/strd/certified.txt", "r");
    assert_non_null(list);
    char line[256], name[32];
    while (fgets(line, sizeof line, list)) {
        size_t count;
        double mean, deviation;
        if (line[0] == '#') continue;
        assert_int_equal(sscanf(line, "%31s %zu %lf %lf", name, &count, &mean, &deviation), 4);
        data_set(t, name, count, mean, deviation);
    }
    fclose(list);
}

static void intervals(ref_table *t)
{
    static const struct {
        size_t outside, sample;
        double confidence, low, high, tolerance;
        const char *source;
    } cases[] = {
        {4, 20, .90, 0.0713538843, 0.4010281173, 6e-11, "computed independently"},
        {4, 20, .90, 0.071354, 0.401029, 1e-6, "NIST e-Handbook 7.2.4.1 (high is off by 9e-7)"},
        {8, 10, .99, 0.35180, 0.98915, 6e-6, "published table, 5 digits"},
        {8, 10, .95, 0.44390, 0.97479, 6e-6, "published table, 5 digits"},
        {8, 10, .90, 0.49310, 0.96323, 6e-6, "published table, 5 digits"},
        {0, 10, .95, 0, 0.3084971078, 6e-11, "computed independently"},
        {10, 10, .95, 0.6915028922, 1, 6e-11, "computed independently"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        double low, high;
        clopper_pearson(cases[i].sample, cases[i].outside, cases[i].confidence, &low, &high);
        const char *what = "Clopper-Pearson %zu of %zu at %g, %s";
        ref_row(t, cases[i].source, cases[i].low, low, cases[i].tolerance, what, cases[i].outside,
                cases[i].sample, cases[i].confidence, "low");
        ref_row(t, cases[i].source, cases[i].high, high, cases[i].tolerance, what, cases[i].outside,
                cases[i].sample, cases[i].confidence, "high");
    }
}

static void decisions(ref_table *t)
{
    pp_memory memory = {0};
    pp_error error = {0};
    pp_margins item = {(16.3 - 13.6) / 1.8, (16.3 - 13.6) / 1.8, (13.6 - 12.5) / 1.8};
    double p;
    assert_ok(pp_conformance_probability(1, &item, 0, 0, &memory.scratch, &p, &error), &error);
    pp_memory_free(&memory);
    ref_row(t, "inputs of JCGM 106:2012, 7.4; computed", 0.6626297864953, p, 1e-13,
            "conformance probability of 13.6, u 1.8, in 12.5..16.3");
    ref_row(t, "normal distribution", 1.6448536, normal_quantile(0.05), 5e-8,
            "quantile for 5 %% on one side");
    ref_row(t, "normal distribution, to three decimals", 1.6448536, PP_GUARD, 5e-4,
            "guard band in standard uncertainties");
    ref_row(t, "normal distribution", 0.9772498680518, 1 - pp_normal_upper(2), 5e-14, "Phi(2)");
    static const struct {
        double guard, risk, tolerance;
    } risks[] = {{1, 0.15866, 5.1e-6}, {1.645, 0.04998, 6e-6}, {1.65, 0.04947, 5.1e-6},
                 {2, 0.02275, 5.1e-6}, {3, 0.00135, 5.1e-6},   {6, 9.87e-10, 5.1e-13}};
    for (size_t i = 0; i < sizeof risks / sizeof *risks; i++)
        ref_row(t, "normal distribution; 2 u in ILAC-G8:09/2019", risks[i].risk,
                pp_normal_upper(risks[i].guard), risks[i].tolerance,
                "largest risk behind a guard band of %g u", risks[i].guard);
    static const double student[][2] = {
        {2, 4.302653}, {5, 2.570582}, {10, 2.228139}, {30, 2.042272}};
    for (size_t i = 0; i < 4; i++)
        ref_row(t, "Student's table, 6 decimals", student[i][1],
                student_quantile(0.05, student[i][0]), 5.1e-7,
                "Student's t, 97.5 %%, %g degrees of freedom", student[i][0]);
}

static void samples(ref_table *t)
{
    static const size_t sizes[][2] = {{100000000, 74}, {1285, 71}, {300, 61}, {100, 45}};
    for (size_t i = 0; i < 4; i++) {
        size_t more = 0;
        pp_sample_more(sizes[i][0], 0, 0, sizes[i][0] / 25, 0.95, &more);
        ref_row(t, "hypergeometric, computed independently", (double)sizes[i][1], (double)more, 0,
                "sample of %zu that proves 96 %% at 95 %%", sizes[i][0]);
    }
    double low, high;
    ref_row(t, "hypergeometric, computed independently", 3.89,
            100.0 * (double)pp_sample_bound(1285, 985, 33, 0.95) / 1285, 0.005,
            "33 of 985 of 1285 outside: at most, %%");
    clopper_pearson(985, 33, 0.90, &low, &high);
    ref_row(t, "binomial, computed independently", 4.45, 100 * high, 0.005,
            "33 of 985 of very many outside: at most, %%");
}

static void registration(ref_table *t)
{
    const double a[3][2] = {{0, 0}, {1, 0}, {0, 2}}, b[3][2] = {{0, 0}, {-1, 0}, {0, 2}};
    const char *published = "Umeyama, IEEE TPAMI 13 (1991) 376",
               *computed = "same, scale 1; computed";
    pp_fit_sums sums = {0};
    pp_pose pose = {0};
    for (int i = 0; i < 3; i++)
        pp_fit_add(&sums, (pp_measured_point){a[i][0], a[i][1]},
                   (pp_nominal_point){b[i][0], b[i][1]});
    assert_true(pp_fit_pose(&sums, &pose));
    double squares = 0;
    for (int i = 0; i < 3; i++) {
        pp_plate_point at = pp_pose_apply(pose, (pp_measured_point){a[i][0], a[i][1]});
        squares += pow(at.x - b[i][0], 2) + pow(at.y - b[i][1], 2);
    }
    ref_row(t, published, 3 / sqrt(13), pose.c, 1e-15, "rigid motion, cosine 3/sqrt 13");
    ref_row(t, published, -2 / sqrt(13), pose.s, 1e-15, "rigid motion, sine -2/sqrt 13");
    ref_row(t, computed, -0.98048356, pose.dx, 1e-8, "rigid motion, shift x");
    ref_row(t, computed, 0.29686654, pose.dy, 1e-8, "rigid motion, shift y");
    ref_row(t, computed, 1.8592649660480145, squares, 1e-14, "rigid motion, sum of squares");
}

void ref_statistics(ref_table *t)
{
    data_sets(t);
    intervals(t);
    decisions(t);
    samples(t);
    registration(t);
}

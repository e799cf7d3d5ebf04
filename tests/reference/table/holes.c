/* Tables of holes, ligaments and mill flatness against their second copies; position examples. */
#include "rules/flatness_rules.h"
#include "support/holes_run.h"
#include "support/limits.h"
#include "support/table.h"
#include "table.h"

static const char *const MEMORY = "from memory";
static const char *const LUDWIG = "Ludwig, vol. III, table 10-8A";
static const char *const CONVERTED = "inch table x 25.4, rounded; table from memory";
static const double INCHES[] = {1, 1.5, 2, 2.5, 3, 4, 5, 6};

static const char *inch_size_source(size_t row, bool close)
{
    if (row <= 4) return LUDWIG;
    if (close) return MEMORY;
    return row == 5   ? "Ludwig, vol. III, and a reprint of the ligaments"
           : row == 6 ? "a reprint of the ligaments, and AS 4458"
           : row == 7 ? "a public reprint of the table"
                      : "from memory; agrees with AS 4458";
}

static const char *inch_tolerance_source(size_t row) { return row <= 4 ? LUDWIG : MEMORY; }

static void hole_table(ref_table *t, bool inch, pp_memory *memory)
{
    double scale = inch ? 25.4 : 1;
    test_table copy = table_read(inch ? "data/reference/tube_holes/holes_inch.csv"
                                      : "data/reference/tube_holes/holes_metric.csv");
    for (size_t i = 0; i < copy.rows; i++)
        for (int close = 0; close < 2; close++) {
            const double *v = &copy.value[i * copy.columns];
            const char *size = inch ? inch_size_source(i, close) : CONVERTED;
            const char *tolerance = inch ? inch_tolerance_source(i) : CONVERTED;
            pp_job job = blank_job(memory);
            job.rules.table = inch ? PP_TABLE_INCH : PP_TABLE_METRIC;
            job.rules.fit = close ? PP_FIT_CLOSE : PP_FIT_STANDARD;
            job.holes.tube_diameter = v[0] * scale;
            pp_limits l = limits_of(&job, NAN, memory);
            const char *what = "tube %g %s, %s fit, %s";
            const char *unit = inch ? "in" : "mm", *fit = close ? "close" : "standard";
            ref_row(t, size, v[close ? 3 : 1], l.hole_nominal.value / scale, 1e-12, what, v[0],
                    unit, fit, "hole");
            ref_row(t, tolerance, v[close ? 4 : 2], l.hole_under.value / scale, 1e-12, what, v[0],
                    unit, fit, "under");
            ref_row(t, tolerance, v[5], l.hole_over.value / scale, 1e-12, what, v[0], unit, fit,
                    "over, 96 %");
            ref_row(t, tolerance, v[6], l.hole_over_limit.value / scale, 1e-12, what, v[0], unit,
                    fit, "over, all");
        }
    table_free(&copy);
}

static void inch_ligaments(ref_table *t, pp_memory *memory)
{
    test_table copy = table_read("data/reference/tube_holes/ligaments_inch.csv");
    for (size_t i = 0; i < copy.rows; i++) {
        const double *v = &copy.value[i * copy.columns];
        for (size_t k = 0; k < 8; k++) {
            pp_job job = blank_job(memory);
            job.rules.table = PP_TABLE_INCH;
            job.plate.thickness = INCHES[k] * 25.4;
            job.holes.tube_diameter = v[0] * 25.4;
            pp_limits l = limits_of(&job, v[1] * 25.4, memory);
            const char *printed = v[0] <= 1.25 ? "a public reprint of the table" : MEMORY;
            if (k == 0)
                ref_row(t, printed, v[3], l.ligament_minimum.value / 25.4, 1e-12,
                        "tube %g in at %g in, least ligament, in", v[0], v[1]);
            /* where the formula gives less than the minimum, the minimum governs */
            bool governed = v[4 + k] <= v[3];
            ref_row(t, governed ? printed : "formula from memory, exact fractions, to 0.001",
                    governed ? v[3] : v[4 + k], l.ligament_standard.value / 25.4, 0.000501,
                    "tube %g in at %g in, %g in thick, 96 %% ligament, in", v[0], v[1], INCHES[k]);
        }
    }
    table_free(&copy);
}

static void metric_minimums(ref_table *t, pp_memory *memory)
{
    test_table copy = table_read("data/reference/tube_holes/ligaments_metric.csv");
    for (size_t i = 0; i < copy.rows; i++) {
        const double *v = &copy.value[i * copy.columns];
        pp_job job = blank_job(memory);
        job.rules.table = PP_TABLE_METRIC;
        job.holes.tube_diameter = v[0];
        ref_row(t, CONVERTED, v[3], limits_of(&job, v[1], memory).ligament_minimum.value, 1e-12,
                "tube %g mm at %g mm, least ligament, mm", v[0], v[1]);
    }
    table_free(&copy);
}

static void drift(ref_table *t, pp_memory *memory)
{
    test_table copy = table_read("data/reference/tube_holes/drift_inch.csv");
    for (size_t i = 0; i < copy.rows; i++)
        for (size_t k = 0; k < 8; k++) {
            const double *v = &copy.value[i * copy.columns];
            pp_job job = blank_job(memory);
            job.rules.table = PP_TABLE_INCH;
            job.plate.thickness = INCHES[k] * 25.4;
            job.holes.tube_diameter = v[0] * 25.4;
            ref_row(t, "0.0016 T/OD (from memory), to 0.0001", v[1 + k],
                    limits_of(&job, NAN, memory).drift_allowance / 25.4, 0.0000501,
                    "tube %g in, %g in thick, drift, in", v[0], INCHES[k]);
        }
    table_free(&copy);
}

static void bridges(ref_table *t, pp_memory *memory)
{
    static const double thickness[] = {20, 40, 60, 80, 100, 120, 140, 160, 200};
    test_table copy = table_read("data/reference/tube_holes/bridges_gbt.csv");
    for (size_t i = 0; i < copy.rows; i++)
        for (size_t k = 0; k < 9; k++) {
            const double *v = &copy.value[i * copy.columns];
            pp_job job = blank_job(memory);
            job.rules.set = "gbt-151-style";
            job.rules.fit = PP_FIT_CLOSE;
            job.plate.thickness = thickness[k];
            job.holes.tube_diameter = v[0];
            pp_limits l = limits_of(&job, v[2], memory);
            if (k == 0) {
                ref_row(t, v[0] <= 30 ? "xoshare.cn page on GB/T 151-2014" : MEMORY, v[1],
                        l.hole_nominal.value, 1e-12, "GB/T-style tube %g mm, grade I, hole", v[0]);
                ref_row(t, "0.6 (S - d), from memory", v[4], l.ligament_minimum.value, 1e-12,
                        "GB/T-style tube %g mm, least bridge", v[0]);
            }
            ref_row(t, "formula from memory, to 0.001", v[5 + k] > v[4] ? v[5 + k] : v[4],
                    l.ligament_standard.value, 0.000501,
                    "GB/T-style tube %g mm, %g mm thick, 96 %% bridge", v[0], thickness[k]);
        }
    table_free(&copy);
}

static void baffles(ref_table *t, pp_memory *memory)
{
    static const struct {
        double tube, span, nominal; /* in */
        const char *source;
    } cases[] = {{0.625, 36.1, 0.640625, "a published worked example"},
                 {0.750, 36, 0.78125, "from memory"},
                 {0.750, 12, 0.78125, "from memory"},
                 {1.25, 40, 1.265625, "1/64 in: worked example; when: from memory"},
                 {1.5, 40, 1.53125, "from memory"},
                 {1.5, 20, 1.53125, "from memory"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        pp_job job = blank_job(memory);
        job.rules.part = PP_BAFFLE;
        job.rules.table = PP_TABLE_INCH;
        job.holes.tube_diameter = cases[i].tube * 25.4;
        job.rules.unsupported_span = cases[i].span * 25.4;
        pp_limits l = limits_of(&job, NAN, memory);
        const char *what = "baffle hole, tube %g in, span %g in, %s, in";
        ref_row(t, cases[i].source, cases[i].nominal, l.diameter_lower / 25.4, 1e-12, what,
                cases[i].tube, cases[i].span, "least");
        ref_row(t, i == 0 ? cases[i].source : "0.010 in: worked example", cases[i].nominal + 0.010,
                l.diameter_upper / 25.4, 1e-12, what, cases[i].tube, cases[i].span, "96 %");
        ref_row(t, MEMORY, cases[i].nominal + 0.015, l.diameter_upper_limit / 25.4, 1e-12, what,
                cases[i].tube, cases[i].span, "all");
    }
}

static double mill_limit(const char *set, double edge, double thickness, double width,
                         double length, pp_memory *memory)
{
    pp_flatness_rules rules;
    pp_error error = {0};
    double limit;
    const char *source;
    assert_ok(pp_flatness_rules_read(set, &(pp_rule_place){0}, memory, &rules, &error), &error);
    const pp_flatness_table *table =
        edge > 0 ? pp_flatness_rules_edge(&rules, edge) : pp_flatness_rules_whole(&rules);
    assert_non_null(table);
    assert_ok(pp_flatness_rules_limit(&rules, table, &(pp_rolled_size){thickness, width, length},
                                      memory, &limit, &source, &error),
              &error);
    return limit;
}

static void mill_flatness(ref_table *t, pp_memory *memory)
{
    static const double half[][2] = {{0.2, 15.0 / 32}, {0.3, 3.0 / 8},   {0.45, 5.0 / 16},
                                     {0.6, 9.0 / 32},  {0.85, 9.0 / 32}, {1.5, 1.0 / 4}};
    for (size_t i = 0; i < 6; i++)
        ref_row(t, "excerpt of a half-standard-flatness table", half[i][1],
                mill_limit("flatness-a20-carbon-inch", 0, half[i][0] * 25.4, 54 * 25.4, 120 * 25.4,
                           memory) /
                    25.4 / 2,
                1e-12, "half of A20-style flatness, %g in x 54 in, in", half[i][0]);
    static const double narrow[][2] = {{1, 18},  {2, 16},  {3.5, 16}, {4.5, 14}, {6, 13},
                                       {10, 12}, {20, 12}, {30, 9},   {50, 8}};
    for (size_t i = 0; i < 9; i++)
        ref_row(t, "JIS G 3193 in a steel maker's leaflet", narrow[i][1],
                mill_limit("flatness-jis-g3193", 2000, narrow[i][0], 1100, 3000, memory), 1e-12,
                "JIS-style flatness over 2 m, %g mm x 1100 mm, mm", narrow[i][0]);
}

/* One hole at (0, 0) and one a pitch away, the first measured at (dx, dy) with `diameter`. */
static void position(ref_table *t, const char *source, const char *rules, double dx, double dy,
                     double diameter, double error_published, double allowed_published,
                     double tolerance)
{
    char job[512], measured[128];
    snprintf(job, sizeof job,
             "[plate]\noutline = disc\ndiameter = 400\nthickness = 40\n[holes]\nnominal = "
             "nominal.csv\nmeasured = measured.csv\npitch = 100\ncoverage = sample\n%s",
             rules);
    snprintf(measured, sizeof measured, "hole,x,y,diameter\nA,%.6f,%.6f,%.6f\n", dx, dy, diameter);
    holes_run run;
    pp_error error = {0};
    assert_ok(holes_run_texts(&run,
                              (holes_texts){job, "hole,x,y\nA,0,0\nB,100,0\n", measured, NULL}, 1,
                              &error),
              &error);
    const pp_judgement *j = &run.judgement;
    const pp_finding *f = &j->findings[j->first[PP_POSITION]];
    if (error_published > 0)
        ref_row(t, source, error_published, f->value, tolerance, "position error at (%g, %g), mm",
                dx, dy);
    if (allowed_published > 0)
        ref_row(t, source, allowed_published, pp_finding_upper(j, f), 1e-9,
                "position allowed to a hole of %g mm, mm", diameter);
    pp_memory_free(&run.memory);
}

static void positions(ref_table *t)
{
    static const char plain[] = "position_limit = 0.3\n[rules]\nhole_nominal = 10\nhole_under = "
                                "0.1\nhole_over = 0.5\nhole_over_limit = 0.5\n";
    static const char maximum[] =
        "position_limit = 0.3\nmaterial_condition = maximum\n[rules]\nhole_nominal = 10\n"
        "hole_under = 0\nhole_over = 0.5\nhole_over_limit = 0.5\n";
    static const char quarter[] =
        "position_limit = 0.25\nmaterial_condition = maximum\n[rules]\nhole_nominal = 10\n"
        "hole_under = 0\nhole_over = 0.5\nhole_over_limit = 0.5\n";
    static const char inch[] =
        "position_limit = 0.015 in\nmaterial_condition = maximum\n[rules]\nhole_nominal = 1.5 in\n"
        "hole_under = 0\nhole_over = 0.005 in\nhole_over_limit = 0.005 in\n";
    static const char tube[] =
        "position_limit = 0.3\nmaterial_condition = maximum\n[rules]\nhole_nominal = 19.25\n"
        "hole_under = 0.1\nhole_over = 0.05\nhole_over_limit = 0.05\n";
    const char *example = "textbook example", *definition = "by definition";
    position(t, example, plain, 0.1, 0.1, 10, 0.2828, 0.3, 5e-5);
    position(t, example, plain, 0.15, 0, 10, 0.30, 0, 1e-9);
    position(t, definition, plain, 0.03, 0.04, 10, 0.10, 0, 1e-9);
    position(t, definition, plain, 0.10, 0.15, 10, 0.3606, 0, 5e-5);
    position(t, example, maximum, 0.1, 0.1, 10.2, 0, 0.5, 0);
    position(t, example, quarter, 0.15, 0, 10.1, 0, 0.35, 0);
    position(t, example, inch, 0.1, 0, 1.503 * 25.4, 0, 0.018 * 25.4, 0);
    position(t, definition, tube, 0.1, 0, 19.25, 0, 0.40, 0);
}

void ref_holes(ref_table *t)
{
    pp_memory memory = {0};
    hole_table(t, true, &memory);
    hole_table(t, false, &memory);
    inch_ligaments(t, &memory);
    metric_minimums(t, &memory);
    drift(t, &memory);
    bridges(t, &memory);
    baffles(t, &memory);
    mill_flatness(t, &memory);
    pp_memory_free(&memory);
    positions(t);
}

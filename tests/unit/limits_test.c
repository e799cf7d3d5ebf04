#include "rules/limits.h"

#include "rules/flatness_rules.h"
#include "rules/hole_rules.h"
#include "support/job_text.h"

static pp_memory memory;
static pp_error error;

static int release(void **state)
{
    (void)state;
    pp_memory_free(&memory);
    return 0;
}

static pp_limits limits_of(const char *text, double pitch)
{
    pp_job job;
    pp_limits limits = {0};
    assert_ok(read_job_text(text, &memory, &job, &error), &error);
    assert_ok(pp_limits_resolve(&job, pitch, &memory, &limits, &error), &error);
    return limits;
}

static void refused(const char *text, double pitch, long line, const char *words)
{
    pp_job job;
    pp_limits limits = {.count = 77};
    assert_ok(read_job_text(text, &memory, &job, &error), &error);
    error = (pp_error){0};
    pp_status status = pp_limits_resolve(&job, pitch, &memory, &limits, &error);
    if (status != PP_EINPUT || error.line != line || !strstr(error.message, words) ||
        !strstr(error.message, ";") || !error.file[0]) {
        print_error("for:\n%s\ngot status %d, %s:%ld: %s\nwanted line %ld, \"%s\"\n", text, status,
                    error.file, error.line, error.message, line, words);
        fail();
    }
    assert_int_equal(limits.count, 77);
}

#define TUBE "[holes]\nmeasured = m.csv\ntube_diameter = 1 in\n[plate]\nthickness = 40\n"
#define DISC "[survey]\nfile = s.csv\n[plate]\noutline = disc\ndiameter = 2600\nthickness = 40\n"

static void every_limit_has_its_source(void **state)
{
    (void)state;
    pp_limits l =
        limits_of("[holes]\ntube_diameter = 1 in\nmeasured = m.csv\nposition_limit = 0.4\n"
                  "edge_ligament_minimum = 12\nother_ligament_minimum = 8\n"
                  "pattern_limit = 0.9\n"
                  "[plate]\nthickness = 40\n[survey]\nfile = s.csv\nunderside = u.csv\n"
                  "flatness_limit = 1.5\nstraightedge = 1000, 2000\n"
                  "straightedge_limit = 6, 9\nparallelism_limit = 0.7\n"
                  "[rules]\ndrift_limit = 0.2\nhole_over_limit = 0.3\n"
                  "remainder_share = 3 %\n",
                  31.75);
    assert_string_equal(l.set, "tema-style");
    assert_int_equal(l.table, PP_TABLE_INCH);
    /* formula: 31.75 - 25.7048 - (2 * 0.04064 * 40 / 25.4 + 0.762) = 5.1552 */
    assert_near(l.ligament_standard.value, 5.1552, 1e-12);
    assert_near(l.ligament_minimum.value, 0.120 * 25.4, 1e-12);
    assert_near(l.ligament_nominal, 6.0452, 1e-12);
    assert_near(l.drift_allowance, 0.064, 1e-15);
    assert_near(l.hole_over_limit.value, 0.3, 0);
    assert_near(l.diameter_upper_limit, 25.7048 + 0.3, 1e-12);
    assert_string_equal(l.hole_over_limit.source, "job file, line 19");
    assert_string_equal(l.remainder_share.source, "job file, line 20");
    assert_string_equal(l.position_limit.source, "job file, line 4");
    assert_string_equal(l.straightedge[1].source, "job file, line 15");
    assert_string_equal(l.drift_limit.source, "job file, line 18");
    assert_non_null(strstr(l.hole_nominal.source, "tema-style, tube-plate, standard fit, inch "
                                                  "table, tube 1 in; "));
    assert_non_null(strstr(l.hole_nominal.source, "published"));
    assert_non_null(strstr(l.hole_under.source, "from memory"));
    assert_non_null(strstr(l.ligament_standard.source, "from memory"));
    assert_non_null(strstr(l.ligament_minimum.source, "published"));
    assert_int_equal(l.count, 16);
    static const char *const names[] = {"hole_nominal",
                                        "hole_under",
                                        "hole_over",
                                        "hole_over_limit",
                                        "ligament_standard",
                                        "ligament_minimum",
                                        "drift_limit",
                                        "position_limit",
                                        "pattern_limit",
                                        "edge_ligament_minimum",
                                        "other_ligament_minimum",
                                        "remainder_share",
                                        "flatness_limit",
                                        "parallelism_limit",
                                        "straightedge_limit",
                                        "straightedge_limit"};
    for (size_t i = 0; i < l.count; i++) {
        assert_string_equal(l.all[i].name, names[i]);
        assert_true(*l.all[i].source);
    }
}

static void what_is_not_given_is_not_judged(void **state)
{
    (void)state;
    pp_limits l = limits_of("", NAN);
    assert_int_equal(l.count, 1); /* the share of the remainder */
    assert_string_equal(l.all[0].name, "remainder_share");
    assert_true(isnan(l.diameter_lower) && isnan(l.ligament_nominal) && isnan(l.drift_allowance));
    /* no tube, a pitch: nothing to take from the set */
    l = limits_of("[holes]\nmeasured = m.csv\n[rules]\n", 32);
    assert_true(isnan(l.hole_nominal.value) && isnan(l.ligament_standard.value));
}

static pp_limits unjudged_limits_of(const char *text, double pitch)
{
    pp_job job;
    pp_limits limits = {0};
    assert_ok(read_job_text(text, &memory, &job, &error), &error);
    assert_ok(pp_limits_resolve_unjudged(&job, pitch, &memory, &limits, &error), &error);
    return limits;
}

/* A survey or a hold-down study needs no rules that fit its holes. */
static void where_no_hole_is_judged_nothing_is_refused(void **state)
{
    (void)state;
    pp_limits l = unjudged_limits_of("[holes]\ntube_diameter = 25\n", 32);
    assert_true(isnan(l.hole_nominal.value));
    /* each of the two steps for itself: the hole sizes stay where the pitch has no row */
    l = unjudged_limits_of(TUBE "[rules]\nligament_minimum = 3\n", NAN);
    assert_near(l.hole_nominal.value, 25.7048, 1e-12);
    assert_near(l.ligament_minimum.value, 3, 0);
    assert_true(isnan(l.ligament_standard.value)); /* without a pitch there are no two holes */
    l = unjudged_limits_of(TUBE, 32);
    assert_near(l.hole_nominal.value, 25.7048, 1e-12);
    assert_true(isnan(l.ligament_minimum.value));
    l = unjudged_limits_of(TUBE, 31.75);
    assert_near(l.ligament_minimum.value, 3.048, 1e-12);
    /* the set itself must be there, and so must its flatness table */
    pp_job job;
    assert_ok(read_job_text("[rules]\nset = tema\n", &memory, &job, &error), &error);
    assert_int_equal(pp_limits_resolve_unjudged(&job, NAN, &memory, &l, &error), PP_EINPUT);
    assert_int_equal(error.line, 2);
}

static void the_jobs_own_limits_win(void **state)
{
    (void)state;
    pp_limits l = limits_of(TUBE "[rules]\nligament_minimum = 5.5\n", 32);
    /* the formula gives 5.4052: the minimum in force governs */
    assert_near(l.ligament_standard.value, 5.5, 0);
    assert_non_null(strstr(l.ligament_standard.source, "the formula gives less (5.405 mm)"));
    l = limits_of(TUBE "[rules]\nligament_minimum = 2\nligament_standard = 3\n", 32);
    assert_near(l.ligament_standard.value, 3, 0);
    l = limits_of(TUBE "[rules]\nhole_nominal = 25.6\n", 31.75);
    assert_near(l.hole_nominal.value, 25.6, 0);
    assert_near(l.hole_under.value, 0.1016, 1e-15);
    /* the hole in force counts: 31.75 - 25.6 - (0.128 + 0.762) */
    assert_near(l.ligament_standard.value, 5.26, 1e-12);
    l = limits_of("[holes]\nmeasured = m.csv\ntube_diameter = 25\n[plate]\nthickness = 50\n"
                  "[rules]\nhole_nominal = 25.25\nhole_under = 0.1\nhole_over = 0.05\n"
                  "hole_over_limit = 0.2\nligament_minimum = 3\n",
                  32);
    /* 32 - 25.25 - (2 * 0.04064 * 50 / 25 + 0.762) */
    assert_near(l.ligament_standard.value, 5.82544, 1e-12);
    assert_near(l.diameter_lower, 25.15, 1e-12);
    /* small tubes have the smaller allowance: 22 - 14.25 - (0.08128 * 50 / 14 + 0.508) */
    l = limits_of("[holes]\nmeasured = m.csv\ntube_diameter = 14\n[plate]\nthickness = 50\n"
                  "[rules]\nhole_nominal = 14.25\nhole_under = 0.1\nhole_over = 0.05\n"
                  "hole_over_limit = 0.2\nligament_minimum = 3\n",
                  22);
    assert_near(l.ligament_standard.value, 22 - 14.25 - (0.08128 * 50 / 14 + 0.508), 1e-12);
    /* a baffle's ligaments are judged only by limits given outright */
    l = limits_of(TUBE "[rules]\npart = baffle\nunsupported_span = 800\nligament_minimum = 2\n"
                       "ligament_standard = 3\n",
                  32);
    assert_near(l.ligament_minimum.value, 2, 0);
}

static void a_missing_row_names_the_keys_to_give(void **state)
{
    (void)state;
    refused("[holes]\nmeasured = m.csv\ntube_diameter = 25\n", 32, 3,
            "tema-style has no row for a tube of 25 mm (0.984252 in) in the metric table, standard "
            "fit; give [rules] hole_nominal, hole_under, hole_over and hole_over_limit");
    refused("[holes]\nmeasured = m.csv\ntube_diameter = 25\n[rules]\nhole_nominal = 25.25\n", 32, 3,
            "no row for a tube of 25 mm");
    refused(TUBE, 32, 3, "give [rules] ligament_minimum");
    refused(TUBE "[holes]\npitch = 32\n", 32, 7, "give [rules] ligament_minimum");
    refused(TUBE, 31.75 + 0.0511, 3, "give [rules] ligament_minimum");
    pp_limits l = limits_of(TUBE, 31.75 + 0.0499);
    assert_near(l.ligament_minimum.value, 3.048, 1e-12);
    refused("[holes]\nmeasured = m.csv\ntube_diameter = 1 in\n", 31.75, 0, "[plate] thickness");
    refused(TUBE "[rules]\nligament_standard = 3\n", 31.75, 7,
            "below the ligament_minimum of the rule set");
    refused(TUBE "[rules]\nhole_over = 0.3\n", 31.75, 7, "give both");
    refused("[rules]\nhole_over = 0.1\n[holes]\nmeasured = m.csv\n", 32, 2,
            "or [holes] tube_diameter");
    refused(TUBE "[rules]\npart = baffle\n", 32, 7, "give [rules] unsupported_span");
    refused(TUBE "[rules]\nset = gbt-151-style\npart = baffle\nunsupported_span = 800\n", 32, 7,
            "no hole sizes for part = baffle, fit = standard, table = inch");
    refused("[rules]\nset = temastyle\n", 32, 2, "did you mean \"tema-style\"?");
    refused("[rules]\nset = flatness-jis-g3193\n", 32, 2, "has rules for flatness, not for holes");
    refused(TUBE "[rules]\nligament_minimum = 1\n", 25.65, 0, "leaves no ligament");
}

static void flatness_rules_go_by_thickness_and_width(void **state)
{
    (void)state;
    /* 40 mm thick and 2600 mm wide: the metric table's row 25-50, column 2400-2700 */
    pp_limits l = limits_of(DISC "flatness_rule = flatness-a20-carbon-metric\n", NAN);
    assert_near(l.flatness_limit.value, 16, 0);
    assert_string_equal(l.flatness_limit.source,
                        "flatness-a20-carbon-metric, plate 40 mm thick and 2600 mm wide; ASTM "
                        "A6M/A20M carbon steel, permissible variation from flatness (value from "
                        "memory, not checked)");
    l = limits_of(DISC "flatness_rule = flatness-a20-carbon-metric\n[survey]\n"
                       "flatness_limit = 2\n",
                  NAN);
    assert_near(l.flatness_limit.value, 2, 0);
    l = limits_of(DISC "flatness_rule = flatness-en10029-n-l\n[survey]\n"
                       "straightedge = 300, 1000, 2000\n",
                  NAN);
    assert_true(isnan(l.straightedge[0].value));
    assert_near(l.straightedge[1].value, 5, 0);
    assert_near(l.straightedge[2].value, 8, 0);
    assert_true(isnan(l.flatness_limit.value));
    assert_non_null(strstr(l.straightedge[2].source, "from memory"));
    l = limits_of(DISC "flatness_rule = flatness-en10029-n-l\n[survey]\n"
                       "straightedge = 2000\nstraightedge_limit = 4\n",
                  NAN);
    assert_near(l.straightedge[0].value, 4, 0);

    refused(DISC "flatness_rule = flatness-en10029-n-l\n", NAN, 7, "straightedge = 1000 mm");
    refused(DISC "flatness_rule = flatness-jis-g3193\n[survey]\nstraightedge = 2000\n", NAN, 7,
            "has no value for a plate 40 mm thick and 2600 mm wide");
    refused(DISC "flatness_rule = no-such-rule\n", NAN, 7, "there is no rule set");
    refused("[survey]\nfile = s.csv\n[plate]\nflatness_rule = flatness-jis-g3193\n", NAN, 4,
            "give [plate] outline and thickness");
    refused("[survey]\nfile = s.csv\n[plate]\noutline = rectangle\nwidth = 5000\nheight = 2000\n"
            "thickness = 40\nflatness_rule = flatness-a20-carbon-metric\n",
            NAN, 8, "3700 mm of a plate's length");
}

static double plate_limit(const char *rule, double length, double thickness, double width,
                          double long_side)
{
    pp_flatness_rules rules;
    assert_ok(pp_flatness_rules_read(rule, &(pp_rule_place){0}, &memory, &rules, &error), &error);
    const pp_flatness_table *table =
        isnan(length) ? pp_flatness_rules_whole(&rules) : pp_flatness_rules_edge(&rules, length);
    assert_non_null(table);
    double value = NAN;
    const char *source;
    error = (pp_error){0};
    pp_flatness_rules_limit(&rules, table, &(pp_rolled_size){thickness, width, long_side}, &memory,
                            &value, &source, &error);
    return value;
}

static void flatness_classes_begin_and_end_where_printed(void **state)
{
    (void)state;
    const char *inch = "flatness-a20-carbon-inch";
    /* 1 in is of the class 1 to 2; 48 in of 48 to 60; the longer side 120 in is not short */
    assert_near(plate_limit(inch, NAN, 25.4, 48 * 25.4, 3048) / 25.4, 1. / 2, 1e-12);
    assert_near(plate_limit(inch, NAN, 25.3, 47.9 * 25.4, 3048) / 25.4, 1. / 2, 1e-12);
    assert_near(plate_limit(inch, NAN, 51, 100 * 25.4, 3048) / 25.4, 1. / 2, 1e-12);
    assert_near(plate_limit(inch, NAN, 6, 100 * 25.4, 3048) / 25.4, 1 + 5. / 8, 1e-12);
    /* no value: empty cell, beyond the thickness (15 in included), too long */
    assert_true(isnan(plate_limit(inch, NAN, 6, 150 * 25.4, 3600)));
    assert_near(plate_limit(inch, NAN, 15 * 25.4, 3000, 3600) / 25.4, 1, 1e-12);
    assert_true(isnan(plate_limit(inch, NAN, 15 * 25.4 + 0.1, 3000, 3600)));
    assert_true(isnan(plate_limit(inch, NAN, 25.4, 1000, 144 * 25.4 + 1)));
    /* short plates: below 36 in a quarter; below 72 in 75 %, not less than a quarter */
    assert_near(plate_limit(inch, NAN, 25.4, 500, 900) / 25.4, 1. / 4, 1e-12);
    assert_near(plate_limit(inch, NAN, 25.4, 1600, 1700) / 25.4, 0.75 * 9 / 16, 1e-12);
    assert_near(plate_limit(inch, NAN, 60, 500, 1700) / 25.4, 1. / 4, 1e-12);
    const char *en = "flatness-en10029-n-h";
    assert_near(plate_limit(en, 1000, 8, 1500, 9000), 10, 0);
    assert_near(plate_limit(en, 2000, 400, 1500, 9000), 13, 0);
    assert_true(isnan(plate_limit(en, 2000, 8, 599, 9000)));
    assert_true(isnan(plate_limit(en, 2000, 2.9, 1500, 9000)));
    assert_near(plate_limit("flatness-jis-g3193", 2000, 300, 1599, 9000), 8, 0);
    assert_near(plate_limit("flatness-jis-g3193", 2000, 1.6, 1249, 9000), 16, 0);
    assert_near(plate_limit("flatness-a20-alloy-inch", NAN, 25.4, 3000, 3048) / 25.4, 1, 1e-12);
}

static void every_built_in_reads_and_names_itself(void **state)
{
    (void)state;
    size_t holes = 0, flatness = 0;
    for (size_t i = 0; i < pp_rule_built_in_count(); i++) {
        char name[PP_RULE_NAME_MAX];
        pp_rule_built_in_name(i, name);
        pp_rule_file file;
        assert_ok(pp_rule_file_open(name, NULL, &(pp_rule_place){0}, &memory, &file, &error),
                  &error);
        assert_string_equal(file.name, name);
        assert_true(strlen(file.title) > 10 && file.note);
        pp_hole_rules hole_rules;
        pp_flatness_rules flatness_rules;
        if (strcmp(file.kind, "holes") == 0) {
            assert_ok(pp_hole_rules_read(name, &(pp_rule_place){0}, &memory, &hole_rules, &error),
                      &error);
            for (size_t t = 0; t < hole_rules.table_count; t++) {
                assert_non_null(hole_rules.tables[t].source);
                for (size_t k = 0; k < hole_rules.tables[t].row_count; k++)
                    assert_true(hole_rules.tables[t].rows[k].sure);
            }
            holes++;
        } else {
            assert_ok(
                pp_flatness_rules_read(name, &(pp_rule_place){0}, &memory, &flatness_rules, &error),
                &error);
            for (size_t t = 0; t < flatness_rules.table_count; t++)
                assert_true(flatness_rules.tables[t].source && flatness_rules.tables[t].sure);
            flatness++;
        }
    }
    assert_int_equal(holes, 2);
    assert_int_equal(flatness, 6);
}

/* ---- rule files of the user's own ---- */

static char rules_path[256];

static pp_limits limits_by_file(const char *rules, const char *job_text, double pitch)
{
    char job[1024];
    write_new_file(rules, strlen(rules), rules_path);
    snprintf(job, sizeof job, "%s[rules]\nset = %s\n", job_text, rules_path);
    pp_limits limits = limits_of(job, pitch);
    unlink(rules_path);
    return limits;
}

static void bad_rules(const char *rules, long line, const char *words)
{
    write_new_file(rules, strlen(rules), rules_path);
    pp_hole_rules read;
    error = (pp_error){0};
    char named[300];
    snprintf(named, sizeof named, "%s", rules_path);
    pp_status status = pp_hole_rules_read(named, &(pp_rule_place){0}, &memory, &read, &error);
    pp_flatness_rules flatness;
    if (status == PP_EINPUT && strstr(error.message, "has rules for flatness"))
        status = pp_flatness_rules_read(named, &(pp_rule_place){0}, &memory, &flatness, &error);
    unlink(rules_path);
    if (status != PP_EINPUT || error.line != line || !strstr(error.message, words)) {
        print_error("for:\n%s\ngot status %d, %s:%ld: %s\nwanted line %ld, \"%s\"\n", rules, status,
                    error.file, error.line, error.message, line, words);
        fail();
    }
}

#define SET "[set]\nkind = holes\ntitle = t\n"
#define FLAT "[set]\nkind = flatness\ntitle = t\n"

static void a_users_rule_file_is_read(void **state)
{
    (void)state;
    static const char rules[] =
        SET "[holes tube-plate any any]\nunit = in\ncolumns = tube_up_to, clearance, under, over\n"
            "row = 3/4, 0.010, 4/1000, 0.002\nrow = -, 0.3 mm, 0.1 mm, 0.05 mm\n"
            "[ligaments any any]\nunit = mm\ncolumns = tube, pitch, minimum\nrow = 25, 32, 3.3\n"
            "[ligament-formula any any]\nunit = mm\ndrift_factor = 0.05\ncolumns = allowance\n"
            "row = 0.7\n";
    pp_limits l = limits_by_file(
        rules, "[holes]\nmeasured = m.csv\ntube_diameter = 25\n[plate]\nthickness = 50\n", 32);
    assert_near(l.hole_nominal.value, 25.3, 1e-12);
    assert_near(l.hole_under.value, 0.1, 0);
    assert_near(l.hole_over_limit.value, 0.05, 0);
    assert_non_null(strstr(l.hole_nominal.source, "its sources not checked"));
    assert_near(l.ligament_minimum.value, 3.3, 0);
    assert_near(l.ligament_standard.value, 32 - 25.3 - (2 * 0.05 * 50 / 25 + 0.7), 1e-12);
    assert_near(l.drift_allowance, 0.1, 1e-15);
    assert_string_equal(l.set, rules_path);
    assert_string_equal(l.rules_path, rules_path);
    assert_null(l.flatness_rules_path);
}

static void bad_rule_files_say_where(void **state)
{
    (void)state;
    bad_rules("", 0, "no section [set]");
    bad_rules("[set]\ntitle = x\n", 1, "kind = holes or kind = flatness");
    bad_rules(SET "[holes any any any]\nunit = mm\ncolumns = hole, under, over\nrow = 9, 0, 1\n"
                  "[ligaments baffle any]\n",
              8, "ligaments of a baffle are judged by the job's own limits only");
    bad_rules("[set]\nkind = hole\n", 2, "\"hole\" is no kind of rules; did you mean \"holes\"?");
    bad_rules(SET "[set]\n", 4, "[set] is there twice");
    bad_rules("[set]\nkind = holes\nkind = holes\n", 3, "is there twice");
    bad_rules("[set]\nkind = holes\ntitel = x\n", 3, "did you mean \"title\"?");
    bad_rules(SET "[hole tube-plate any any]\n", 4, "did you mean \"holes\"?");
    bad_rules(SET "[holes tube-plate any]\n", 4, "[holes PART FIT TABLE]");
    bad_rules(SET "[ligaments tube-plate]\n", 4, "[ligaments PART TABLE]");
    bad_rules(SET "[holes tubeplate any any]\n", 4, "did you mean \"tube-plate\"?");
    bad_rules(SET "[holes any tight any]\n", 4, "is no fit");
    bad_rules(SET "[holes any any imperial]\n", 4, "is no table");
    bad_rules(SET "[holes any any any]\nrow = 1\n", 4, "add unit = mm");
    bad_rules(SET "[holes any any any]\nunit = kg\n", 5, "no unit of length");
    bad_rules(SET "[holes any any any]\nunit = mm\nrow = 1\n", 6, "above its columns");
    bad_rules(SET "[holes any any any]\nunit = mm\ncolumns = hole, under\n", 6, "lack over");
    bad_rules(SET "[holes any any any]\nunit = mm\ncolumns = under, over\n", 6,
              "lack hole or clearance");
    bad_rules(SET "[holes any any any]\nunit = mm\ncolumns = hole, under, ower\n", 6,
              "did you mean \"over\"?");
    bad_rules(SET "[holes any any any]\nunit = mm\ncolumns = hole, hole, under, over\n", 6,
              "there twice");
#define HOLES                                                                                      \
    "[holes any any any]\nunit = mm\ncolumns = tube, hole, under, over, over_limit, sure\n"
    bad_rules(SET HOLES "columns = hole\n", 7, "there twice");
    bad_rules(SET HOLES "row = 25, 25.3, 0.1\n", 7, "3 cells for 6 columns");
    bad_rules(SET HOLES "row = 25, 25.3, 0.1, x, 0.2, A\n", 7, "not a number");
    bad_rules(SET HOLES "row = 25, 25.3, -0.1, 0.1, 0.2, A\n", 7, "under");
    bad_rules(SET HOLES "row = 25, 0, 0.1, 0.1, 0.2, A\n", 7, "above 0 mm");
    bad_rules(SET HOLES "row = 25, 25.3, 0.1, 0.1, 0.2, E\n", 7, "write A, B, C or D");
    bad_rules(SET HOLES "row = 25, 25.3, 0.1, 0.1, 0.05, A\n", 7, "over_limit below over");
    bad_rules(SET HOLES "row = 25, 24.9, 0.1, 0.1, 0.2, A\n", 7, "no larger than the tube");
    bad_rules(SET HOLES "row = 1, 25.4, 0.1, 0.1, 0.2, A\n", 7, "half as large again");
    bad_rules(SET HOLES "row = 25, 25.4, 0.1, 0.05, 6.35, A\n", 7, "a tenth of the hole");
    bad_rules(SET HOLES "row = 25, 25.4, 2.6, 0.05, 0.25, A\n", 7, "a tenth of the hole");
    bad_rules(SET HOLES "row = 25, -, 0.1, 0.1, 0.2, A\n", 7, "no hole size");
    bad_rules(SET HOLES "row = 25, 25.3, -, 0.1, 0.2, A\n", 7, "no under");
    bad_rules(SET HOLES "rows = 1\n", 7, "did you mean \"row\"?");
    bad_rules(SET "[ligaments any any]\nunit = mm\ncolumns = tube, minimum\n", 6, "lack pitch");
    bad_rules(SET "[ligaments any any]\nunit = mm\ncolumns = tube, pitch, minimum\nrow = 3, 2, 1\n",
              7, "pitch no larger");
    bad_rules(SET "[ligament-formula any any]\nunit = mm\n", 4, "no drift_factor");
    bad_rules(SET "[ligament-formula any any]\nunit = mm\nminimum_share = 120 %\n", 6, "range");
#define WHOLE "[whole-plate]\nunit = mm\n"
    bad_rules(FLAT "[plate]\n", 4, "did you mean \"whole-plate\"?");
    bad_rules(FLAT WHOLE "row = 1, 2, 3\n", 6, "above the widths");
    bad_rules(FLAT WHOLE "widths = 100, 90\n", 6, "do not rise");
    bad_rules(FLAT WHOLE "widths = -, 90\n", 6, "do not rise");
    bad_rules(FLAT WHOLE "widths = 100, -\nrow = 1, 2, 3\n", 7, "3 cells, and should have 4");
    bad_rules(FLAT WHOLE "widths = -\nrow = 2, 1, 3\n", 7, "does not rise");
    bad_rules(FLAT WHOLE "widths = -\nrow = 1, 3, 3\nrow = 2, 4, 3\n", 4, "overlap");
    bad_rules(FLAT WHOLE "length = 1000\n", 4, "take length away");
    bad_rules(FLAT WHOLE WHOLE, 6, "line 4 has such a table");
    bad_rules(FLAT WHOLE "short_length = 3\n", 4, "give both");
    bad_rules(FLAT WHOLE "medium_share = 75 %\n", 4, "give both");
    bad_rules(FLAT WHOLE "sure = sure\n", 6, "A, B, C or D");
    bad_rules(FLAT WHOLE "short = 3\n", 6, "did you mean");
    bad_rules(FLAT "[straightedge]\nunit = mm\n", 4, "give length");
    pp_hole_rules read;
    assert_int_equal(pp_hole_rules_read("no/such.ini", &(pp_rule_place){0}, &memory, &read, &error),
                     PP_EIO);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_limit_has_its_source),
        cmocka_unit_test(what_is_not_given_is_not_judged),
        cmocka_unit_test(where_no_hole_is_judged_nothing_is_refused),
        cmocka_unit_test(the_jobs_own_limits_win),
        cmocka_unit_test(a_missing_row_names_the_keys_to_give),
        cmocka_unit_test(flatness_rules_go_by_thickness_and_width),
        cmocka_unit_test(flatness_classes_begin_and_end_where_printed),
        cmocka_unit_test(every_built_in_reads_and_names_itself),
        cmocka_unit_test(a_users_rule_file_is_read),
        cmocka_unit_test(bad_rule_files_say_where),
    };
    return cmocka_run_group_tests(tests, NULL, release);
}

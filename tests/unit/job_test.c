#include <sys/stat.h>

#include "support/job_text.h"

static pp_memory memory;
static pp_error error;

static int release(void **state)
{
    (void)state;
    pp_memory_free(&memory);
    return 0;
}

static pp_job job_of(const char *text)
{
    pp_job job = {0};
    error = (pp_error){0};
    assert_ok(read_job_text(text, &memory, &job, &error), &error);
    return job;
}

/* The job is refused on `line`, and the message has `words`. */
static void refused(const char *text, long line, const char *words)
{
    pp_job job = {.name = "untouched"};
    error = (pp_error){0};
    pp_status status = read_job_text(text, &memory, &job, &error);
    if (status != PP_EINPUT || error.line != line || !strstr(error.message, words) ||
        !strstr(error.message, ";") || !error.file[0]) {
        print_error("for:\n%s\ngot status %d, %s:%ld: %s\nwanted line %ld, \"%s\"\n", text, status,
                    error.file, error.line, error.message, line, words);
        fail();
    }
    assert_string_equal(job.name, "untouched");
}

static void defaults_are_those_of_the_manual(void **state)
{
    (void)state;
    pp_job job = job_of("");
    assert_null(job.title);
    assert_int_equal(job.units, PP_MM);
    assert_int_equal(job.plate.outline, PP_OUTLINE_NONE);
    assert_true(isnan(job.plate.diameter) && isnan(job.plate.thickness));
    assert_near(job.plate.centre_x, 0, 0);
    assert_near(job.plate.elastic_modulus, 206000, 0);
    assert_near(job.plate.poisson_ratio, 0.3, 0);
    assert_near(job.plate.density, 7850, 0);
    assert_true(isnan(job.plate.yield_strength));
    assert_null(job.survey.file.path);
    assert_int_equal(job.survey.up, PP_UP_Z);
    assert_near(job.survey.angle_deg, 0, 0);
    assert_near(job.survey.origin_y, 0, 0);
    assert_int_equal(job.survey.flatness_zone, PP_ZONE_MINIMUM);
    assert_int_equal(job.survey.laid, PP_LAID_ON_SUPPORTS);
    assert_int_equal(job.survey.length_unit, PP_MM);
    assert_int_equal(job.survey.straightedge.count, 0);
    assert_int_equal(job.support.kind, PP_SUPPORT_NONE);
    assert_int_equal(job.support.seat, PP_SEAT_REST);
    assert_near(job.support.height, 0, 0);
    assert_near(job.support.pin_clearance, 0, 0);
    assert_true(isnan(job.support.touch_gap));
    assert_true(isnan(job.foot.force) && isnan(job.holddown.gap_limit));
    assert_false(job.holddown.ligament_softening);
    assert_int_equal(job.holes.exit_view, PP_EXIT_THROUGH);
    assert_int_equal(job.holes.exit_align, PP_EXIT_ALIGN_SAME);
    assert_int_equal(job.holes.align, PP_ALIGN_AS_MEASURED);
    assert_int_equal(job.holes.match, PP_MATCH_NAMES_OR_NEAREST);
    assert_int_equal(job.holes.material_condition, PP_REGARDLESS);
    assert_int_equal(job.holes.coverage, PP_EVERY_HOLE);
    assert_false(job.holes.compensated);
    assert_near(job.holes.expansion, 11.5e-6, 0);
    assert_near(job.holes.confidence, 0.95, 1e-16);
    assert_near(job.holes.common_share, 0, 0);
    assert_true(isnan(job.holes.temperature) && isnan(job.holes.uncertainty_position));
    assert_string_equal(job.rules.set, "tema-style");
    assert_int_equal(job.rules.set_line, 0);
    assert_int_equal(job.rules.part, PP_TUBE_PLATE);
    assert_int_equal(job.rules.fit, PP_FIT_STANDARD);
    assert_int_equal(job.rules.table, PP_TABLE_METRIC);
    assert_false(job.rules.table_given);
    assert_int_equal(job.rules.decision, PP_SIMPLE);
    assert_near(job.rules.remainder_share, 0.04, 0);
    assert_int_equal(job.rules.ligament_face, PP_LIGAMENT_WORST);
    assert_true(isnan(job.rules.hole_nominal.value) && isnan(job.rules.drift_limit.value));
    assert_int_equal(job.instrument_count, 0);
}

static void every_key_is_read(void **state)
{
    (void)state;
    pp_job job = job_of("[job]\n"
                        "title = a title ; and a comment\n"
                        "customer = c\norder = o; not a comment\nitem = i\nplate_id = p\n"
                        "plate_role = r\nserial = s\ndrawing = d\ndrawing_revision = dr\n"
                        "material = m\nheat_number = h\nprocedure = pr\ninspector = in\n"
                        "inspection_date = 2024-02-29\nstage = final\nreport_number = 7\n"
                        "report_revision = B\nsupersedes = 6\ndate = 2026-11-20\nunits = mm\n");
    assert_string_equal(job.title, "a title");
    assert_string_equal(job.order, "o; not a comment");
    const char *texts[] = {
        job.customer,    job.item,          job.plate_id,         job.plate_role,
        job.serial,      job.drawing,       job.drawing_revision, job.material,
        job.heat_number, job.procedure,     job.inspector,        job.inspection_date,
        job.stage,       job.report_number, job.report_revision,  job.supersedes,
        job.date};
    const char *want[] = {"c",  "i",  "p",          "r",     "s", "d", "dr", "m",         "h",
                          "pr", "in", "2024-02-29", "final", "7", "B", "6",  "2026-11-20"};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        assert_string_equal(texts[i], want[i]);

    job = job_of("[plate]\noutline = rectangle\nwidth = 2400\nheight = 120 cm\n"
                 "centre = 1.5 m, -20 mm\nthickness = 38\nthickness_variation = 0.6\n"
                 "elastic_modulus = 29000 ksi\npoisson_ratio = 0.29\ndensity = 0.29 lb/in3\n"
                 "yield_strength = 260\nflatness_rule = some-rule\n");
    assert_int_equal(job.plate.outline, PP_OUTLINE_RECTANGLE);
    assert_near(job.plate.width, 2400, 0);
    assert_near(job.plate.height, 1200, 0);
    assert_near(job.plate.centre_x, 1500, 0);
    assert_near(job.plate.centre_y, -20, 0);
    assert_near(job.plate.thickness, 38, 0);
    assert_near(job.plate.thickness_variation, 0.6, 0);
    /* 29e6 lbf/in2 = 29e6 * 4.4482216152605 N / 645.16 mm2 */
    assert_near(job.plate.elastic_modulus, 29e6 * 4.4482216152605 / 645.16, 1e-6);
    assert_near(job.plate.poisson_ratio, 0.29, 0);
    /* 0.29 * 0.45359237 kg / (0.0254 m)^3 */
    assert_near(job.plate.density, 0.29 * 0.45359237 / (0.0254 * 0.0254 * 0.0254), 1e-9);
    assert_near(job.plate.yield_strength, 260, 0);
    assert_string_equal(job.plate.flatness_rule, "some-rule");

    job =
        job_of("[survey]\nfile = s.csv\nunderside = u.csv\nlength_unit = um\nup = -y\n"
               "survey_angle = -90 deg\nsurvey_origin = 3, 4.25\nuncertainty = 20 um\n"
               "flatness_limit = 1.5\nflatness_zone = least-squares\narea_threshold = .5\n"
               "straightedge = 1000 mm, 2 m\nstraightedge_limit = 6, 9\nparallelism_limit = 0.75\n"
               "laid = on-three-points\nthree_points = t.csv\n");
    assert_string_equal(job.survey.file.written, "s.csv");
    assert_string_equal(job.survey.underside.written, "u.csv");
    assert_int_equal(job.survey.length_unit, PP_UM);
    assert_int_equal(job.survey.up, PP_UP_MINUS_Y);
    assert_near(job.survey.angle_deg, -90, 0);
    assert_near(job.survey.origin_x, 3, 0);
    assert_near(job.survey.origin_y, 4.25, 0);
    assert_near(job.survey.uncertainty, 0.02, 0);
    assert_near(job.survey.flatness_limit, 1.5, 0);
    assert_int_equal(job.survey.flatness_zone, PP_ZONE_LEAST_SQUARES);
    assert_near(job.survey.area_threshold, 0.5, 0);
    assert_int_equal(job.survey.straightedge.count, 2);
    assert_near(job.survey.straightedge.values[1], 2000, 0);
    assert_near(job.survey.straightedge_limit.values[0], 6, 0);
    assert_near(job.survey.parallelism_limit, 0.75, 0);
    assert_int_equal(job.survey.laid, PP_LAID_ON_THREE_POINTS);
    assert_string_equal(job.survey.three_points.written, "t.csv");

    job = job_of("[support]\nkind = pins\nfile = pins.csv\npin_diameter = 10\n"
                 "pin_load_limit = 20 kN\npin_clearance = 1.5\npin_spacing = 240\nseat = level\n"
                 "support_height = -12.5\ntouch_gap = 0.03\n"
                 "[foot]\nforce = 1000 lbf\nouter_diameter = 160\ninner_diameter = 90\n"
                 "thrust = 2500\n"
                 "[holddown]\ngap_limit = 0.3\nforce_cap = 200 kN\nclamp_force_limit = 40 kN\n"
                 "clamp_pad = 80\nclamp_candidates = c.csv\nshim_stock = 1, 0.1, 0.5\n"
                 "ligament_softening = yes\n");
    assert_int_equal(job.support.kind, PP_SUPPORT_PINS);
    assert_string_equal(job.support.file.written, "pins.csv");
    assert_near(job.support.pin_diameter, 10, 0);
    assert_near(job.support.pin_load_limit, 20000, 0);
    assert_near(job.support.pin_clearance, 1.5, 0);
    assert_near(job.support.pin_spacing, 240, 0);
    assert_int_equal(job.support.seat, PP_SEAT_LEVEL);
    assert_near(job.support.height, -12.5, 0);
    assert_near(job.support.touch_gap, 0.03, 0);
    assert_near(job.foot.force, 4448.2216152605, 1e-9);
    assert_near(job.foot.outer_diameter, 160, 0);
    assert_near(job.foot.inner_diameter, 90, 0);
    assert_near(job.foot.thrust, 2500, 0);
    assert_near(job.holddown.gap_limit, 0.3, 0);
    assert_near(job.holddown.force_cap, 200e3, 0);
    assert_near(job.holddown.clamp_force_limit, 40e3, 0);
    assert_near(job.holddown.clamp_pad, 80, 0);
    assert_string_equal(job.holddown.clamp_candidates.written, "c.csv");
    assert_int_equal(job.holddown.shim_stock.count, 3);
    assert_near(job.holddown.shim_stock.values[0], 1, 0);
    assert_true(job.holddown.ligament_softening);

    job = job_of("[holes]\nnominal = n.csv\nmeasured = m.csv @ARM\nligaments = l.csv\n"
                 "checks = k.csv\nlength_unit = in\ntube_diameter = 25.4\npitch = 31.75\n"
                 "entry_face_is = tube side\nface_names = A:entry, B : exit\n"
                 "exit_view = turned-about-x\nexit_align = best-fit\nalign = datum-points\n"
                 "match = pattern\ndatum_points = d.csv\nposition_limit = 0.5\n"
                 "pattern_limit = 1\nmaterial_condition = maximum\ncoverage = sample\n"
                 "confidence = 99 %\ntemperature = 77 F\ncompensated = yes\nexpansion = 1.6e-5\n"
                 "uncertainty_position = 0.01\nuncertainty_per_metre = 8 um\n"
                 "uncertainty_temperature = 1.8 F\nuncertainty_diameter = 0.005\n"
                 "uncertainty_ligament = 0.02\ncommon_share = 0.25\nedge_ligament_minimum = 12\n"
                 "other_ligament_minimum = 8\n"
                 "[instrument ARM]\nkind = arm\nserial = 1\ncertificate = 2\n"
                 "calibration_due = 2027-03-01\n");
    assert_string_equal(job.holes.nominal.written, "n.csv");
    assert_string_equal(job.holes.measured.written, "m.csv");
    assert_string_equal(job.holes.measured.instrument, "ARM");
    assert_int_equal(job.holes.measured.line, 3);
    assert_string_equal(job.holes.ligaments.written, "l.csv");
    assert_string_equal(job.holes.checks.written, "k.csv");
    assert_int_equal(job.holes.length_unit, PP_INCH);
    assert_near(job.holes.tube_diameter, 25.4, 0);
    assert_int_equal(job.holes.tube_diameter_unit, PP_MM);
    assert_string_equal(job.holes.tube_diameter_text, "25.4");
    assert_near(job.holes.pitch, 31.75, 0);
    assert_string_equal(job.holes.entry_face_is, "tube side");
    assert_int_equal(job.holes.face_name_count, 2);
    assert_string_equal(job.holes.face_names[1].word, "B");
    assert_true(!job.holes.face_names[0].exit && job.holes.face_names[1].exit);
    assert_int_equal(job.holes.exit_view, PP_EXIT_TURNED_ABOUT_X);
    assert_int_equal(job.holes.exit_align, PP_EXIT_ALIGN_BEST_FIT);
    assert_int_equal(job.holes.align, PP_ALIGN_DATUM_POINTS);
    assert_int_equal(job.holes.match, PP_MATCH_PATTERN);
    assert_string_equal(job.holes.datum_points.written, "d.csv");
    assert_near(job.holes.position_limit, 0.5, 0);
    assert_near(job.holes.pattern_limit, 1, 0);
    assert_int_equal(job.holes.material_condition, PP_MAXIMUM_MATERIAL);
    assert_int_equal(job.holes.coverage, PP_SAMPLE);
    assert_near(job.holes.confidence, 0.99, 1e-16);
    assert_near(job.holes.temperature, 25, 1e-13); /* (77 - 32) 5/9 */
    assert_true(job.holes.compensated);
    assert_near(job.holes.expansion, 1.6e-5, 0);
    assert_near(job.holes.uncertainty_position, 0.01, 0);
    assert_near(job.holes.uncertainty_per_metre, 0.008, 0);
    assert_near(job.holes.uncertainty_temperature, 1, 1e-15); /* a difference: no offset */
    assert_near(job.holes.uncertainty_diameter, 0.005, 0);
    assert_near(job.holes.uncertainty_ligament, 0.02, 0);
    assert_near(job.holes.common_share, 0.25, 0);
    assert_near(job.holes.edge_ligament_minimum, 12, 0);
    assert_near(job.holes.other_ligament_minimum, 8, 0);
    assert_int_equal(job.instrument_count, 1);
    const pp_instrument *arm = pp_job_instrument(&job, "ARM");
    assert_string_equal(arm->kind, "arm");
    assert_string_equal(arm->serial, "1");
    assert_string_equal(arm->certificate, "2");
    assert_string_equal(arm->calibration_due, "2027-03-01");
    assert_null(pp_job_instrument(&job, "LASER"));

    job = job_of("[holes]\nalign = two-holes\ndatum_holes = A1, A40\n"
                 "[rules]\nset = my/rules.ini\npart = tubesheet\nfit = close\ntable = inch\n"
                 "unsupported_span = 900\ndecision = guarded\nremainder_share = 2.5 %\n"
                 "ligament_face = exit\nhole_nominal = 25.7\nhole_under = 0.1\nhole_over = 0.05\n"
                 "hole_over_limit = 0.25\nligament_standard = 5.2\nligament_minimum = 3.05\n"
                 "drift_limit = 0.2\n");
    assert_string_equal(job.holes.datum_holes[0], "A1");
    assert_string_equal(job.holes.datum_holes[1], "A40");
    assert_string_equal(job.rules.set, "my/rules.ini");
    assert_int_equal(job.rules.set_line, 5);
    assert_int_equal(job.rules.part, PP_TUBE_PLATE);
    assert_int_equal(job.rules.fit, PP_FIT_CLOSE);
    assert_true(job.rules.table_given);
    assert_int_equal(job.rules.table, PP_TABLE_INCH);
    assert_near(job.rules.unsupported_span, 900, 0);
    assert_int_equal(job.rules.decision, PP_GUARDED);
    assert_near(job.rules.remainder_share, 0.025, 1e-17);
    assert_int_equal(job.rules.ligament_face, PP_LIGAMENT_EXIT);
    const pp_job_limit *limits[] = {&job.rules.hole_nominal,      &job.rules.hole_under,
                                    &job.rules.hole_over,         &job.rules.hole_over_limit,
                                    &job.rules.ligament_standard, &job.rules.ligament_minimum,
                                    &job.rules.drift_limit};
    const double values[] = {25.7, 0.1, 0.05, 0.25, 5.2, 3.05, 0.2};
    for (size_t i = 0; i < 7; i++) {
        assert_near(limits[i]->value, values[i], 0);
        assert_int_equal(limits[i]->line, 13 + (long)i);
    }
    assert_int_equal(pp_job_key_line(&job, "rules", "remainder_share"), 11);
    assert_int_equal(pp_job_key_line(&job, "holes", "pitch"), 0);
}

static void bare_lengths_are_in_the_jobs_units_wherever_those_stand(void **state)
{
    (void)state;
    pp_job job = job_of("[plate]\noutline = disc\ndiameter = 96\nthickness = 38 mm\n"
                        "[holes]\ntube_diameter = 3/4\npitch = 1-1/8\nposition_limit = 0.01\n"
                        "[rules]\nhole_nominal = 0.76\n[job]\nunits = inch\n");
    assert_int_equal(job.units, PP_INCH);
    assert_near(job.plate.diameter, 96 * 25.4, 0);
    assert_near(job.plate.thickness, 38, 0);
    assert_near(job.holes.tube_diameter, 19.05, 1e-14);
    assert_near(job.holes.pitch, 28.575, 0);
    assert_int_equal(job.holes.tube_diameter_unit, PP_INCH);
    assert_int_equal(job.rules.table, PP_TABLE_INCH);
    assert_int_equal(job.holes.length_unit, PP_INCH);
    assert_int_equal(job.survey.length_unit, PP_INCH);
    assert_near(job.rules.hole_nominal.value, 19.304, 1e-15);

    job = job_of("[holes]\ntube_diameter = 1 1/4 in\n[rules]\ntable = metric\n");
    assert_near(job.holes.tube_diameter, 31.75, 0);
    assert_int_equal(job.rules.table, PP_TABLE_METRIC);
    job = job_of("[holes]\ntube_diameter = 2.54cm");
    assert_near(job.holes.tube_diameter, 25.4, 0);
    assert_int_equal(job.rules.table, PP_TABLE_METRIC);
    job = job_of("[survey]\nfile = s.csv\nstraightedge = 39 in, 78 in\n");
    assert_near(job.survey.straightedge.values[1], 1981.2, 1e-12);
}

static void paths_are_seen_from_the_job_file(void **state)
{
    (void)state;
    pp_job job = job_of("[survey]\nfile = sub/s p.csv   @LASER TRACKER\n[holes]\n"
                        "nominal = /abs/n.csv\nmeasured = my@home.csv\n"
                        "[instrument LASER TRACKER]\n");
    char want[512];
    snprintf(want, sizeof want, "%s/sub/s p.csv", PP_BINARY_DIR);
    assert_string_equal(job.survey.file.path, want);
    assert_string_equal(job.survey.file.written, "sub/s p.csv");
    assert_string_equal(job.survey.file.instrument, "LASER TRACKER");
    assert_string_equal(job.holes.nominal.path, "/abs/n.csv");
    assert_string_equal(job.holes.measured.written, "my@home.csv");
    assert_null(job.holes.measured.instrument);
    assert_memory_equal(job.name, "job-", 4);
    assert_int_equal(pp_job_read("data/demo/clean.ini", &memory, &job, &error), PP_OK);
    assert_string_equal(job.name, "clean");
    assert_string_equal(job.survey.file.path, "data/demo/survey.csv");
}

static void text_forms_that_are_allowed(void **state)
{
    (void)state;
    pp_job job = job_of("\xef\xbb\xbf[job]\r\n  title = \xc3\xa9tage ; x\r\n\r\n# c = d\r\n; e\r\n"
                        "\tunits=INCH\r\norder =\r\n[ support ] ; on the table\r\n"
                        "[job]\ncustomer = c: d = e");
    assert_string_equal(job.title, "\xc3\xa9tage");
    assert_int_equal(job.units, PP_INCH);
    assert_null(job.order);
    assert_string_equal(job.customer, "c: d = e");
    assert_int_equal(job.support.kind, PP_SUPPORT_TABLE);
    /* the longest line: 198 bytes */
    char longest[256] = "[job]\ntitle = ";
    memset(longest + 14, 'x', 198 - 8);
    job = job_of(longest);
    assert_int_equal(strlen(job.title), 190);
    longest[14 + 190] = 'y';
    refused(longest, 2, "199 bytes long, and at most 198");
    char comment[600] = "[job]\ntitle = a ;";
    memset(comment + 17, 'x', 500);
    job = job_of(comment);
    assert_string_equal(job.title, "a");
}

static void bytes_that_are_no_text_are_refused(void **state)
{
    (void)state;
    pp_job job;
    const char nul[] = "[job]\ntitle = a\0b\n";
    assert_int_equal(read_job_bytes(nul, sizeof nul - 1, &memory, &job, &error), PP_EINPUT);
    assert_int_equal(error.line, 2);
    assert_non_null(strstr(error.message, "control character (0x00)"));
    refused("[job]\ntitle = a\rb\n", 2, "control character (0x0d)");
    refused("[job]\n; \xff\n", 2, "byte 3 of the line is not UTF-8");
    refused("\xff\xfe[job]\n", 1, "not UTF-8");
    refused("[job]\n\ntitle = \xc0\xaf\n", 3, "not UTF-8");       /* overlong */
    refused("[job]\ntitle = \xed\xa0\x80\n", 2, "not UTF-8");     /* surrogate */
    refused("[job]\ntitle = \xf4\x90\x80\x80\n", 2, "not UTF-8"); /* beyond Unicode */
    refused("[job]\ntitle = \xe2\x82", 2, "not UTF-8");           /* cut short */
    job = job_of("[job]\ntitle = \xf0\x9f\x94\xa9 \xe2\x82\xac\n");
    assert_string_equal(job.title, "\xf0\x9f\x94\xa9 \xe2\x82\xac");
}

static void files_that_cannot_be_read(void **state)
{
    (void)state;
    pp_job job;
    assert_int_equal(pp_job_read("no/such.ini", &memory, &job, &error), PP_EIO);
    assert_string_equal(error.file, "no/such.ini");
    assert_non_null(strstr(error.message, "no such file"));
    assert_int_equal(pp_job_read(PP_BINARY_DIR, &memory, &job, &error), PP_EIO);
    assert_non_null(strstr(error.message, "a folder"));
    char pipe[256];
    snprintf(pipe, sizeof pipe, "%s/job-pipe-%ld", PP_BINARY_DIR, (long)getpid());
    assert_int_equal(mkfifo(pipe, 0600), 0);
    assert_int_equal(pp_job_read(pipe, &memory, &job, &error), PP_EIO);
    unlink(pipe);
    char *large = calloc(1, 1100000);
    memset(large, '\n', 1099999);
    assert_int_equal(read_job_text(large, &memory, &job, &error), PP_EINPUT);
    assert_non_null(strstr(error.message, "larger than 1 MiB"));
    free(large);
}

static void instruments_keep_their_own_keys(void **state)
{
    (void)state;
    pp_job job = job_of("[instrument A]\nserial = 1\n[instrument B]\nserial = 2\n");
    assert_string_equal(job.instruments[0].serial, "1");
    assert_string_equal(job.instruments[1].serial, "2");
}

static void the_good_corpus_is_read(void **state)
{
    (void)state;
    static const char *const names[] = {"plate", "baffle", "pins", "thrust-without-force"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        char path[256];
        snprintf(path, sizeof path, "tests/corpus/job-good/%s.ini", names[i]);
        pp_job job;
        assert_ok(pp_job_read(path, &memory, &job, &error), &error);
        assert_string_equal(job.name, names[i]);
    }
}

/* Every file of the corpus is refused on its line and with its words; expected.tsv lists them all.
 */
static void the_corpus_is_refused(void **state)
{
    (void)state;
    FILE *list = fopen("tests/corpus/job/expected.tsv", "r");
    assert_non_null(list);
    char row[1024];
    size_t count = 0, wrong = 0;
    assert_non_null(fgets(row, sizeof row, list)); /* header */
    for (; fgets(row, sizeof row, list); count++) {
        char *line = strchr(row, '\t'), *words = line ? strchr(line + 1, '\t') : NULL;
        assert_non_null(words);
        *line++ = *words++ = '\0';
        words[strcspn(words, "\n")] = '\0';
        char path[1100];
        snprintf(path, sizeof path, "tests/corpus/job/%s", row);
        pp_job job = {.name = "untouched"};
        error = (pp_error){0};
        pp_status status = pp_job_read(path, &memory, &job, &error);
        if (status == PP_EINPUT && error.line == atol(line) && strstr(error.message, words) &&
            strstr(error.message, ";") && strcmp(error.file, path) == 0 &&
            strcmp(job.name, "untouched") == 0)
            continue;
        print_error("%s: got status %d, line %ld: %s\n  wanted line %s: %s\n", row, status,
                    error.line, error.message, line, words);
        wrong++;
    }
    fclose(list);
    assert_int_equal(wrong, 0);
    assert_true(count >= 80);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(defaults_are_those_of_the_manual),
        cmocka_unit_test(every_key_is_read),
        cmocka_unit_test(bare_lengths_are_in_the_jobs_units_wherever_those_stand),
        cmocka_unit_test(paths_are_seen_from_the_job_file),
        cmocka_unit_test(text_forms_that_are_allowed),
        cmocka_unit_test(bytes_that_are_no_text_are_refused),
        cmocka_unit_test(files_that_cannot_be_read),
        cmocka_unit_test(instruments_keep_their_own_keys),
        cmocka_unit_test(the_good_corpus_is_read),
        cmocka_unit_test(the_corpus_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, release);
}

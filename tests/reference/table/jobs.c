/* Whole hole jobs, the smallest zone of any placement, the diagnosis of the machine: against
 * independent programs. */
#include "report/json/json.h"
#include "support/diagnosis_case.h"
#include "support/holes_run.h"
#include "support/placement_case.h"
#include "table.h"

static const char *const SOURCE = "independent numpy and scipy program";

/* "position.largest" below `holes`; NaN where there is none */
static double at_path(const json_t *whole, const char *path)
{
    char key[64];
    const json_t *at = json_object_get(whole, "holes");
    for (size_t length; *path; path += length + (path[length] == '.')) {
        length = strcspn(path, ".");
        snprintf(key, sizeof key, "%.*s", (int)length, path);
        at = json_object_get(at, key);
    }
    return json_is_number(at) ? json_number_value(at) : NAN;
}

static void hole_job(ref_table *t, const char *name)
{
    static const struct {
        const char *path;
        double tolerance; /* mm; counts are exact */
    } values[] = {{"measured", 0},
                  {"alignment.rms", 1e-6},
                  {"position.largest", 1e-6},
                  {"position.mean", 1e-6},
                  {"position.out", 0},
                  {"diameter.smallest", 1e-6},
                  {"diameter.largest", 1e-6},
                  {"diameter.mean", 1e-6},
                  {"diameter.in_tolerance", 0},
                  {"ligament.pairs", 0},
                  {"ligament.smallest", 1e-6},
                  {"ligament.mean", 1e-6},
                  {"ligament.standard", 0},
                  {"drift.largest", 1e-6}};
    char path[512];
    pp_error error = {0};
    holes_run run = {0};
    pp_text text = {0};
    snprintf(path, sizeof path, "%s/data/reference/jobs/%s/job.ini", PP_SOURCE_DIR, name);
    assert_ok(holes_run_file(&run, path, 2, &error), &error);
    assert_ok(pp_json_write(&run.results, NULL, &text, &error), &error);
    json_t *ours = json_loadb(text.data, text.length, 0, NULL);
    snprintf(path, sizeof path, "%s/data/reference/jobs/%s/expected.json", PP_SOURCE_DIR, name);
    json_t *expected = json_load_file(path, 0, NULL);
    assert_true(ours && expected);
    for (size_t i = 0; i < sizeof values / sizeof *values; i++) {
        double want = at_path(expected, values[i].path);
        if (isnan(want)) continue; /* not part of this job */
        ref_row(t, SOURCE, want, at_path(ours, values[i].path), values[i].tolerance, "job %s, %s",
                name, values[i].path);
    }
    json_decref(ours);
    json_decref(expected);
    pp_text_free(&text);
    pp_memory_free(&run.memory);
}

static void placement(ref_table *t, const char *name)
{
    placement_case c;
    placement_solve(name, &c);
    const json_t *want = json_object_get(c.whole, "expected");
    const json_t *tolerance = json_object_get(c.whole, "tolerance");
    double zone = json_number_at(tolerance, "minimax");
    ref_row(t, SOURCE, json_number_at(want, "minimax"), c.zone.radius, zone,
            "%s, smallest largest error, mm", name);
    ref_row(t, SOURCE, json_number_at(want, "lower_bound"), c.zone.lower_bound, zone,
            "%s, proven bound, mm", name);
    ref_row(t, SOURCE, json_number_at(want, "least_squares_worst"), c.zone.least_squares_worst,
            1e-9, "%s, largest error by least squares, mm", name);
    ref_row(t, SOURCE, json_number_at(want, "angle_deg"), c.zone.angle * 57.29577951308232,
            json_number_at(tolerance, "angle_deg"), "%s, angle, degrees", name);
    if (fabs(json_number_at(want, "dx")) > 1) {
        ref_row(t, SOURCE, json_number_at(want, "dx"), c.zone.dx, json_number_at(tolerance, "dx"),
                "%s, shift x, mm", name);
        ref_row(t, SOURCE, json_number_at(want, "dy"), c.zone.dy, json_number_at(tolerance, "dy"),
                "%s, shift y, mm", name);
    }
    placement_release(&c);
}

static void diagnosis(ref_table *t, const char *name)
{
    test_plate plate;
    pp_diagnosis d;
    pp_error error = {0};
    diagnosis_plate(&plate, name);
    json_t *whole = diagnosis_expected(name);
    const json_t *terms = json_object_get(json_object_get(whole, "expected"), "terms");
    assert_ok(test_diagnose(&plate, 2, &d, &error), &error);
    for (size_t i = 0; i < d.term_count; i++) {
        const json_t *want = json_object_get(terms, d.terms[i].name);
        if (d.terms[i].kind == PP_TERM_TOOL_CHANGE) {
            ref_row(t, SOURCE, json_number_at(want, "value"), d.terms[i].value, 0, "%s, %s", name,
                    d.terms[i].name);
            continue;
        }
        double se = json_number_at(want, "se"), value = json_number_at(want, "value");
        if (fabs(value) > 0.02 * se) /* else the tolerance would hide it */
            ref_row(t, SOURCE, value, d.terms[i].value, 0.01 * se, "%s, %s", name, d.terms[i].name);
        ref_row(t, SOURCE, se, d.terms[i].standard_error, 0.001 * se, "%s, %s, standard error",
                name, d.terms[i].name);
    }
    json_decref(whole);
    test_plate_end(&plate);
}

void ref_jobs(ref_table *t)
{
    static const char *const jobs[] = {"both_faces",     "faces_aligned", "guarded", "inch_repeats",
                                       "others_plugged", "rework",        "sample",  "thin",
                                       "tri_bestfit",    "tri_clean",     "warm"};
    for (size_t i = 0; i < sizeof jobs / sizeof *jobs; i++) hole_job(t, jobs[i]);
    placement(t, "minimax_60");
    placement(t, "minimax_square");
    diagnosis(t, "diag_clean");
    diagnosis(t, "diag_four_terms");
}

/* The whole program on small jobs made of the bytes: every job either is refused with what to do,
 * or gives results that are the same for one thread and for two, without a number that is none. */
#include "fuzz/memory_file.h"

#include <jansson.h>
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "linalg/linalg.h"
#include "report/folder/write.h"
#include "run/run.h"

/* ---- bytes as decisions ---- */

typedef struct chooser {
    const uint8_t *data;
    size_t left;
} chooser;

/* 0 to count - 1; 0 once the bytes are used up, so that the first choice is the plain one. */
static unsigned choose(chooser *c, unsigned count)
{
    if (c->left == 0) return 0;
    c->left--;
    return *c->data++ % count;
}

/* -1 to 1 in 255 steps. */
static double choose_share(chooser *c) { return ((double)choose(c, 255) - 127) / 127; }

/* ---- the job file ---- */

enum { VALUES_MAX = 8 };

/* The first value of a key is the plain one, "" leaves the key out. */
typedef struct job_key {
    const char *section, *key;
    const char *values[VALUES_MAX];
    const char *needs; /* "key=value" that must have been chosen; NULL */
} job_key;

static const job_key KEYS[] = {
    {"job", "units", {"mm", "inch"}, NULL},
    {"plate", "outline", {"disc", "rectangle", "", "disc"}, NULL},
    {"plate", "diameter", {"400", "", "400 in", "1e-3", "1e6", "40 in"}, "outline=disc"},
    {"plate", "width", {"500", "", "500", "20 in", "1e6", "1e-3"}, "outline=rectangle"},
    {"plate", "height", {"300", "", "300", "12 in", "1e6", "1e-3"}, "outline=rectangle"},
    {"plate", "centre", {"", "0, 0", "1e6, -1e6", "10, 20"}, NULL},
    {"plate", "thickness", {"30", "", "0.5", "500", "0.25 in", "1e6", "1e-9"}, NULL},
    {"plate", "thickness_variation", {"", "0.6", "0", "1000"}, NULL},
    {"plate", "elastic_modulus", {"", "206 GPa", "1 GPa", "1000 GPa"}, NULL},
    {"plate", "poisson_ratio", {"", "0.3", "0.001", "0.49"}, NULL},
    {"plate", "density", {"", "7850 kg/m3", "0.29 lb/in3"}, NULL},
    {"plate", "yield_strength", {"", "260 MPa"}, NULL},
    {"survey", "length_unit", {"", "mm", "in", "um", "m"}, NULL},
    {"survey", "up", {"", "z", "x", "y", "-x", "-y", "-z"}, NULL},
    {"survey", "survey_angle", {"", "0", "30 deg", "-179.999"}, NULL},
    {"survey", "survey_origin", {"", "0, 0", "100, 50", "1e6, 1e6"}, NULL},
    {"survey", "uncertainty", {"0.02", "", "0", "1e-12", "1000"}, NULL},
    {"survey", "flatness_limit", {"0.5", "", "1e-9", "1e9"}, NULL},
    {"survey", "flatness_zone", {"", "minimum", "least-squares"}, NULL},
    {"survey", "area_threshold", {"0.1", "", "1e-9", "1e6"}, NULL},
    {"survey", "straightedge", {"", "200", "100, 300", "1e-3", "1e6"}, NULL},
    {"survey", "straightedge_limit", {"", "1, 2"}, "straightedge=100, 300"},
    {"survey", "laid", {"", "on-supports", "free"}, NULL},
    {"support", "kind", {"table", "", "pins"}, NULL},
    {"support", "pin_diameter", {"", "10", "1e-3", "1e4"}, NULL},
    {"support", "pin_load_limit", {"", "20 kN"}, NULL},
    {"support", "seat", {"", "rest", "level"}, NULL},
    {"support", "support_height", {"0", "", "-5", "1e6"}, "seat=level"},
    {"support", "touch_gap", {"", "0.02", "0", "100"}, NULL},
    {"foot", "force", {"6 kN", "", "1e-6 N", "1e6 kN", "600 lbf"}, NULL},
    {"foot", "outer_diameter", {"160", "", "1e-3", "1e5"}, NULL},
    {"foot", "inner_diameter", {"90", "", "0"}, "outer_diameter=160"},
    {"foot", "thrust", {"", "2.5 kN", "1e6 kN"}, NULL},
    {"holddown", "gap_limit", {"", "0.3", "1e-6", "1e6"}, NULL},
    {"holddown", "force_cap", {"200 kN", "", "1e-3 N"}, NULL},
    {"holddown", "clamp_force_limit", {"", "40 kN"}, NULL},
    {"holddown", "clamp_pad", {"", "80", "1e6"}, NULL},
    {"holddown", "shim_stock", {"", "0.1, 0.2, 0.5, 1"}, NULL},
    {"holddown", "ligament_softening", {"", "yes", "no"}, NULL},
    {"holes", "length_unit", {"", "mm", "in", "cm"}, NULL},
    {"holes", "tube_diameter", {"1 in", "25.4", "", "0.75 in", "15.875", "1e-6", "1e6"}, NULL},
    {"holes", "pitch", {"31.75", "", "1e-6", "32", "1e6"}, NULL},
    {"holes", "exit_view", {"", "through", "turned-about-x", "turned-about-y"}, NULL},
    {"holes", "exit_align", {"", "same", "two-holes", "best-fit"}, NULL},
    {"holes", "align", {"", "as-measured", "best-fit", "two-holes"}, NULL},
    {"holes", "match", {"", "nearest", "pattern"}, NULL},
    {"holes", "datum_holes", {"H0, H1", "", "H0, H7", "H3, H2"}, "align=two-holes"},
    {"holes", "position_limit", {"0.5", "", "1e-9", "1e6"}, NULL},
    {"holes", "material_condition", {"", "regardless", "maximum"}, NULL},
    {"holes", "coverage", {"", "every-hole", "sample"}, NULL},
    {"holes", "temperature", {"", "24 C", "-40 C", "200 C"}, NULL},
    {"holes", "compensated", {"", "no", "yes"}, NULL},
    {"holes", "uncertainty_position", {"0.01", "", "0", "1000"}, NULL},
    {"holes", "uncertainty_per_metre", {"", "0.008", "1000"}, NULL},
    {"holes", "uncertainty_temperature", {"", "1 C"}, NULL},
    {"holes", "uncertainty_diameter", {"0.005", "", "0", "1000"}, NULL},
    {"holes", "uncertainty_ligament", {"0.02", ""}, NULL},
    {"holes", "pitch_steps", {"", "2", "1000"}, NULL},
    {"holes", "pitch_error_limit", {"", "0.2", "1e-9"}, NULL},
    {"holes", "edge_ligament_minimum", {"", "10", "1e6"}, NULL},
    {"holes", "other_ligament_minimum", {"", "3"}, NULL},
    {"rules", "part", {"", "tube-plate", "baffle"}, NULL},
    {"rules", "fit", {"", "standard", "close"}, NULL},
    {"rules", "table", {"", "inch", "metric"}, NULL},
    {"rules", "unsupported_span", {"900", "", "1e-6"}, "part=baffle"},
    {"rules", "decision", {"", "simple", "guarded"}, NULL},
    {"rules", "remainder_share", {"", "4 %", "0", "1"}, NULL},
    {"rules", "ligament_face", {"", "worst", "exit"}, NULL},
    {"rules", "hole_nominal", {"", "25.7", "1e-6", "1e6"}, NULL},
    {"rules", "hole_under", {"", "0.1"}, NULL},
    {"rules", "hole_over", {"", "0.05"}, NULL},
    {"rules", "hole_over_limit", {"", "0.25"}, NULL},
    {"rules", "ligament_standard", {"", "5"}, NULL},
    {"rules", "ligament_minimum", {"3.05", ""}, NULL},
    {"rules", "drift_limit", {"", "0.1", "1e-9"}, NULL},
};

static unsigned count_values(const job_key *key)
{
    unsigned count = 1; /* the first may be "" too */
    while (count < VALUES_MAX && key->values[count]) count++;
    return count;
}

typedef enum job_files { SURVEY, PINS, NOMINAL, MEASURED, LIGAMENTS, FILE_COUNT } job_files;

static const struct {
    const char *section, *key;
} FILE_KEYS[FILE_COUNT] = {{"survey", "file"},
                           {"support", "file"},
                           {"holes", "nominal"},
                           {"holes", "measured"},
                           {"holes", "ligaments"}};

enum { KEY_COUNT = sizeof KEYS / sizeof *KEYS };

/* Three in four are plain: most jobs get far into the run. */
static const char *choose_value(chooser *c, const job_key *key)
{
    unsigned count = count_values(key), pick = choose(c, 4 * count);
    return key->values[pick < count ? pick : 0];
}

static bool is_chosen(const char *needs, const char *const value[KEY_COUNT], size_t before)
{
    size_t length = strcspn(needs, "=");
    for (size_t i = 0; i < before; i++)
        if (strncmp(KEYS[i].key, needs, length) == 0 && KEYS[i].key[length] == '\0')
            return strcmp(value[i], needs + length + 1) == 0;
    return false;
}

static void write_files(char path[FILE_COUNT][64], const char *section, bool pins, FILE *job)
{
    fprintf(job, "[%s]\n", section);
    for (int f = 0; f < FILE_COUNT; f++)
        if (path[f][0] && strcmp(section, FILE_KEYS[f].section) == 0 && (f != PINS || pins))
            fprintf(job, "%s = %s\n", FILE_KEYS[f].key, path[f]);
}

static void write_job(chooser *c, char path[FILE_COUNT][64], FILE *job)
{
    const char *value[KEY_COUNT], *section = "";
    bool strict = choose(c, 16) != 15; /* else keys that contradict each other */
    for (size_t i = 0; i < KEY_COUNT; i++) {
        value[i] = choose_value(c, &KEYS[i]);
        if (strict && KEYS[i].needs && !is_chosen(KEYS[i].needs, value, i)) value[i] = "";
    }
    bool pins = !strict || is_chosen("kind=pins", value, KEY_COUNT);
    for (size_t i = 0; i < KEY_COUNT; i++) {
        if (strcmp(section, KEYS[i].section) != 0)
            write_files(path, section = KEYS[i].section, pins, job);
        if (*value[i]) fprintf(job, "%s = %s\n", KEYS[i].key, value[i]);
    }
}

/* ---- the CSVs ---- */

static const double SCALES[] = {1, 1, 1, 1 / 25.4, 25.4, 1e-3, 1e6};
static const double OFFSETS[] = {0, 0, 0, 0, 10, 1e6};

static void write_survey(chooser *c, FILE *file)
{
    unsigned count = 48 - choose(c, 49);
    double scale = SCALES[choose(c, 7)], offset = OFFSETS[choose(c, 6)];
    double rough = choose(c, 2) ? 1e-3 : 1;
    unsigned kind = choose(c, 4);
    fputs("x,y,z\n", file);
    for (unsigned i = 0; i < count; i++) {
        double x = kind == 1 ? 150 * choose_share(c) : (i % 7 - 3.0) * 60;
        double y = kind == 1 ? 150 * choose_share(c) : kind == 2 ? x : (i / 7 - 3.0) * 60;
        double z = kind == 3 ? 0 : rough * choose_share(c);
        fprintf(file, "%.9g,%.9g,%.9g\n", scale * x + offset, scale * y + offset, scale * z);
    }
}

static void write_pins(chooser *c, FILE *file)
{
    unsigned count = 8 - choose(c, 9);
    fputs("x,y,z\n", file);
    for (unsigned i = 0; i < count; i++)
        fprintf(file, "%.9g,%.9g,%.9g\n", 180 * choose_share(c), 180 * choose_share(c),
                choose(c, 2) * choose_share(c));
}

static void place_of_hole(unsigned i, double *x, double *y)
{
    *x = (i % 5 - 2.0) * 32 + (i / 5 % 2) * 16.0;
    *y = (i / 5 - 2.0) * 27.7128;
}

static void write_nominal(chooser *c, unsigned count, double scale, FILE *file)
{
    fputs("hole,x,y,kind,diameter,under,over\n", file);
    for (unsigned i = 0; i < count; i++) {
        double x, y;
        place_of_hole(i, &x, &y);
        unsigned other = choose(c, 8) == 7;
        fprintf(file, "H%u,%.9g,%.9g,%s\n", choose(c, 32) == 31 ? 0 : i, scale * x, scale * y,
                other ? "other,20,0.1,0.1" : "tube,,,");
    }
}

static void write_measured(chooser *c, unsigned count, double scale, FILE *file)
{
    static const char *const diameters[] = {"25.7",  "25.695", "25.85", "26.2",
                                            "25.55", "1e6",    "1e-6",  "25.7"};
    static const char *const tails[] = {",,",         "entry,1,", "exit,1,", "exit,2,reamed",
                                        ",1,plugged", "entry,2,", "exit,,",  ",,"};
    bool named = choose(c, 4) != 3;
    double offset = OFFSETS[choose(c, 6)], turn = choose(c, 4) == 3 ? choose_share(c) : 0;
    unsigned rows = choose(c, 2) ? choose(c, 48) : count;
    fputs(named ? "hole,x,y,diameter,face,round,disposition\n"
                : "x,y,diameter,face,round,disposition\n",
          file);
    for (unsigned i = 0; i < rows; i++) {
        double x, y, error = choose(c, 8) == 7 ? 20 : 0.3;
        unsigned hole = choose(c, 8) == 7 ? choose(c, 40) : i % (count ? count : 1);
        place_of_hole(hole, &x, &y);
        x += error * choose_share(c) + offset, y += error * choose_share(c) + offset;
        if (named) fprintf(file, "H%u,", hole);
        fprintf(file, "%.9g,%.9g,%s,%s\n", scale * (x * cos(turn) - y * sin(turn)),
                scale * (x * sin(turn) + y * cos(turn)), diameters[choose(c, 8)],
                tails[choose(c, 8)]);
    }
}

static void write_ligaments(chooser *c, unsigned count, FILE *file)
{
    fputs("hole_a,hole_b,ligament\n", file);
    for (unsigned i = 0; i + 1 < count; i++)
        fprintf(file, "H%u,H%u,%.9g\n", i, i + 1 + (choose(c, 8) == 7), 6.3 + choose_share(c));
}

static int new_file(const char *bytes, size_t size, char path[64])
{
    return memory_file((const uint8_t *)bytes, size, path);
}

static void write_one(chooser *c, job_files which, unsigned holes, double scale, FILE *file)
{
    switch (which) {
    case SURVEY:
        write_survey(c, file);
        break;
    case PINS:
        write_pins(c, file);
        break;
    case NOMINAL:
        write_nominal(c, holes, scale, file);
        break;
    case MEASURED:
        write_measured(c, holes, scale, file);
        break;
    default:
        write_ligaments(c, holes, file);
    }
}

/* Job and data as files in memory; how many handles there are to close. */
static int make_files(chooser *c, int handles[FILE_COUNT + 1], char job_path[64])
{
    char path[FILE_COUNT][64] = {{0}};
    unsigned present = choose(c, 32) ^ 13; /* bits: the plain job has survey and holes */
    if (choose(c, 4)) present &= ~1u;      /* a surface takes most of a run's time: fewer of them */
    unsigned holes = 25 - choose(c, 26);
    double scale = SCALES[choose(c, 7)];
    char *bytes = NULL;
    size_t size = 0;
    int count = 0;
    for (int f = 0; f < FILE_COUNT; f++) {
        if (!(present >> f & 1)) continue;
        FILE *file = open_memstream(&bytes, &size);
        write_one(c, (job_files)f, holes, scale, file);
        fclose(file);
        handles[count++] = new_file(bytes, size, path[f]);
        free(bytes);
    }
    FILE *file = open_memstream(&bytes, &size);
    write_job(c, path, file);
    fclose(file);
    if (getenv("FUZZ_SHOW")) fwrite(bytes, 1, size, stderr);
    handles[count++] = new_file(bytes, size, job_path);
    free(bytes);
    return count;
}

/* ---- the run ---- */

static bool no_stop(void *unused) { return (void)unused, false; }

static void make_page(const pp_results *results, pp_report_page page, pp_text *text)
{
    pp_report_options options = {.threads = 1, .job_file = "job.ini", .stopped = no_stop};
    pp_error error = {0};
    if (!pp_report_page_is_due(results, page)) return;
    pp_status status = pp_report_page_make(results, page, "/report", &options, text, &error);
    if (status != PP_OK) fprintf(stderr, "%s\n", error.message);
    FUZZ_CHECK(status == PP_OK && text->length > 0);
}

static pp_status run_job(const char *path, int threads, bool pages, pp_text *json, pp_error *error)
{
    pp_memory memory = {0};
    pp_job job;
    pp_results results;
    pp_run_options options = {.scope = PP_SCOPE_ALL, .threads = threads};
    pp_status status = pp_job_read(path, &memory, &job, error);
    if (status == PP_OK) status = pp_run(&job, &options, &memory, &results, error);
    if (status == PP_OK) {
        results.date = "2026-02-03";
        make_page(&results, PP_PAGE_JSON, json);
        pp_text html = {0}, qif = {0};
        if (pages) make_page(&results, PP_PAGE_HTML, &html);
        if (pages) make_page(&results, PP_PAGE_QIF, &qif);
        pp_text_free(&html);
        pp_text_free(&qif);
    }
    pp_memory_free(&memory);
    return status;
}

static void check_json(const pp_text *text)
{
    json_error_t error;
    json_t *root = json_loadb(text->data, text->length, JSON_REJECT_DUPLICATES, &error);
    if (!root) fprintf(stderr, "%s\n", error.text);
    FUZZ_CHECK(root && json_is_string(json_object_get(root, "verdict")));
    json_decref(root);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    pp_blas_single_thread(); /* as the program does */
    chooser c = {data, size};
    int handles[FILE_COUNT + 1];
    char path[64];
    int count = make_files(&c, handles, path);
    pp_text one = {0}, two = {0};
    pp_error error = {0}, other = {0};
    pp_status status = run_job(path, 1, true, &one, &error);
    if (getenv("FUZZ_SHOW")) fprintf(stderr, "%d: %s\n", status, error.message);
    pp_status again = run_job(path, 2, false, &two, &other);
    FUZZ_CHECK(status == again);
    if (status == PP_OK) {
        check_json(&one);
        FUZZ_CHECK(one.length == two.length && memcmp(one.data, two.data, one.length) == 0);
    } else {
        FUZZ_CHECK(status == PP_EINPUT || status == PP_ENOTHING || status == PP_ENUMERIC);
        FUZZ_CHECK(strpbrk(error.message, ";?") && strcmp(error.message, other.message) == 0);
    }
    pp_text_free(&one);
    pp_text_free(&two);
    for (int i = 0; i < count; i++) close(handles[i]);
    return 0;
}

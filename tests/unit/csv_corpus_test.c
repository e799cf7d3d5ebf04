/* Every bad file of tests/corpus/csv: status, line, column and words as its list says
 * (file, reader, status, line, column, words; separated by tabs), and nothing is filled in. */
#include "support/check.h"

#include <stdlib.h>

#include "input/lists/holelist.h"
#include "input/lists/survey.h"

#define FOLDER PP_SOURCE_DIR "/tests/corpus/csv/"

static const pp_face_name FACE_NAMES[] = {{"A", false}, {"B", true}};

/* A disc of 1000 mm, millimetre; the nominal list is sound unless it is the one to try. */
static pp_status read_with(const char *reader, const char *path, pp_memory *memory, pp_error *error)
{
    pp_job job = {.path = "plate.ini"};
    job.plate.outline = PP_OUTLINE_DISC;
    job.plate.diameter = 1000;
    job.holes.face_name_count = 2;
    job.holes.face_names = FACE_NAMES;
    job.holes.nominal = (pp_job_file){.path = FOLDER "../good_nominal.csv", .line = 8};
    pp_job_file bad = {.path = path, .written = "bad.csv", .line = 7};
    pp_survey survey;
    pp_place_list places;
    pp_hole_files files;
    if (strcmp(reader, "survey") == 0) {
        job.survey.file = bad;
        return pp_survey_read(&job, &job.survey.file, 2, memory, &survey, error);
    }
    if (strcmp(reader, "places") == 0) {
        job.support.file = bad;
        return pp_places_read(&job, &job.support.file, memory, &places, error);
    }
    if (strcmp(reader, "nominal") == 0) job.holes.nominal = bad;
    if (strcmp(reader, "measured") == 0) job.holes.measured = bad;
    if (strcmp(reader, "ligaments") == 0) job.holes.ligaments = bad;
    if (strcmp(reader, "checks") == 0) job.holes.checks = bad;
    if (strcmp(reader, "datum") == 0) job.holes.datum_points = bad;
    return pp_holelist_read(&job, 2, memory, &files, error);
}

/* False, and a line about it, when the file is not refused as listed. */
static bool try_line(char *line)
{
    char *field[6], *rest = line;
    for (int i = 0; i < 6; i++) {
        field[i] = strsep(&rest, i < 5 ? "\t" : "\n");
        if (!field[i]) fail_msg("expected.tsv: a line of fewer than six fields");
    }
    char path[512];
    snprintf(path, sizeof path, "%s%s", FOLDER, field[0]);
    pp_memory memory = {0};
    pp_error error = {0};
    pp_status status = read_with(field[1], path, &memory, &error);
    pp_memory_free(&memory);
    pp_status want = strcmp(field[2], "input") == 0 ? PP_EINPUT : PP_EIO;
    bool good = status == want && error.line == atol(field[3]) && error.column == atol(field[4]) &&
                strstr(error.message, field[5]) && strcmp(error.file, path) == 0 &&
                (strchr(error.message, ';') || strchr(error.message, '?'));
    if (!good)
        print_error("%s: status %d, %ld:%ld: %s\n  want %s:%s: ... %s\n", field[0], status,
                    error.line, error.column, error.message, field[3], field[4], field[5]);
    return good;
}

static void every_bad_file_is_refused_as_listed(void **state)
{
    (void)state;
    char line[1024];
    int tried = 0, good = 0;
    FILE *list = fopen(FOLDER "expected.tsv", "r");
    assert_non_null(list);
    while (fgets(line, sizeof line, list)) {
        tried++;
        good += try_line(line);
    }
    fclose(list);
    print_message("%d bad files, %d refused as listed\n", tried, good);
    assert_int_equal(good, tried);
    assert_true(tried >= 80);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_bad_file_is_refused_as_listed)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}

#include "input/csv/csv.h"
#include "input/lists/list_parts.h"

enum { X, Y, Z, COLUMNS };

static const pp_csv_column PLACE_COLUMNS[COLUMNS] = {
    [X] = {.names = {"x"}, .type = PP_CSV_LENGTH, .needed = true},
    [Y] = {.names = {"y"}, .type = PP_CSV_LENGTH, .needed = true},
    [Z] = {.names = {"z"}, .type = PP_CSV_LENGTH},
};

static const pp_csv_column THICKNESS_COLUMNS[COLUMNS] = {
    [X] = {.names = {"x"}, .type = PP_CSV_LENGTH, .needed = true},
    [Y] = {.names = {"y"}, .type = PP_CSV_LENGTH, .needed = true},
    [Z] = {.names = {"t", "thickness"}, .type = PP_CSV_LENGTH, .needed = true},
};

static const pp_column_map *map_of(const pp_job *job, const pp_job_file *file)
{
    if (file == &job->plate.outline_file || file == &job->plate.thickness_points) return NULL;
    if (file == &job->survey.three_points) return &job->survey.columns;
    return file == &job->support.file ? &job->support.columns : &job->holddown.columns;
}

pp_status pp_places_read_noted(const pp_job *job, const pp_job_file *file, pp_memory *memory,
                               pp_table_note *note, pp_place_list *places, pp_error *error)
{
    bool survey = file == &job->survey.three_points;
    bool thickness = file == &job->plate.thickness_points;
    pp_csv_request request = {.job = job,
                              .file = file,
                              .what = "the list of points",
                              .unit = survey ? job->survey.length_unit : job->units,
                              .section = survey ? "survey" : NULL,
                              .map = map_of(job, file),
                              .columns = thickness ? THICKNESS_COLUMNS : PLACE_COLUMNS,
                              .column_count = COLUMNS,
                              .plain_min = thickness ? Z + 1 : Y + 1,
                              .plain_max = Z + 1,
                              .lines = true,
                              .note = note};
    pp_csv_table t;
    PP_TRY(pp_csv_read(&request, 1, memory, &t, error));
    if (t.rows == 0)
        return pp_fail_at(error, PP_EINPUT, file->path, 0, 0,
                          "has no rows; write one point a row: %s",
                          thickness ? "x,y,t" : "x,y or x,y,z");
    const double *z = t.column[Z].number;
    if (!z) {
        double *none;
        PP_TAKE_ZERO(none, &memory->keep, t.rows);
        z = none;
    }
    *places = (pp_place_list){t.rows, t.column[X].number, t.column[Y].number, z, t.reading, t.line};
    return PP_OK;
}

pp_status pp_places_read(const pp_job *job, const pp_job_file *file, pp_memory *memory,
                         pp_place_list *places, pp_error *error)
{
    pp_table_note note = {0};
    return pp_places_read_noted(job, file, memory, &note, places, error);
}

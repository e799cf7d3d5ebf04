/* Direct ligaments, attribute checks, datum points; and every hole file together. */
#include "input/lists/holelist.h"

#include <math.h>
#include <string.h>

#include "input/lists/commanded.h"

pp_status pp_readings_read(const pp_job *job, int threads, pp_memory *memory, pp_readings *readings,
                           pp_error *error)
{
    pp_table_note note = {0};
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = pp_measured_read_noted(job, &job->holes.measured, NULL, threads, memory,
                                              &note, readings, error);
    pp_arena_release(&memory->scratch, mark);
    return status;
}

/* ---- direct ligaments ---- */

enum { L_HOLE_A, L_HOLE_B, L_LIGAMENT, L_FACE, L_COLUMNS };

static const pp_csv_column LIGAMENT_COLUMNS[L_COLUMNS] = {
    [L_HOLE_A] = {.names = {"hole_a"}, .type = PP_CSV_TEXT, .needed = true},
    [L_HOLE_B] = {.names = {"hole_b"}, .type = PP_CSV_TEXT, .needed = true},
    [L_LIGAMENT] = {.names = {"ligament"}, .type = PP_CSV_LENGTH, .needed = true},
};

pp_status pp_ligaments_read_noted(const pp_job *job, const pp_names *names, int threads,
                                  pp_memory *memory, pp_table_note *note, pp_hole_files *files,
                                  pp_error *error)
{
    pp_csv_column columns[L_COLUMNS];
    memcpy(columns, LIGAMENT_COLUMNS, sizeof columns);
    PP_TRY(pp_face_column_make(job, &memory->scratch, &columns[L_FACE], error));
    pp_csv_request request = {.job = job,
                              .file = &job->holes.ligaments,
                              .section = "holes",
                              .map = &job->holes.ligaments_columns,
                              .note = note,
                              .is_name = names ? pp_is_listed : NULL,
                              .is_name_context = names,
                              .what = "the ligament list",
                              .unit = job->holes.length_unit,
                              .columns = columns,
                              .column_count = L_COLUMNS,
                              .plain_min = L_LIGAMENT + 1,
                              .plain_max = L_FACE + 1,
                              .lines = true};
    pp_csv_table t;
    PP_TRY(pp_csv_read(&request, threads, memory, &t, error));
    PP_TRY(pp_need_rows(&request, &t, error));
    pp_row_check rows = {.request = &request, .memory = memory};
    pp_direct_ligament *ligaments;
    PP_TAKE(ligaments, &memory->keep, t.rows);
    for (size_t i = 0; i < t.rows; i++) {
        const int8_t *face = t.column[L_FACE].code;
        pp_direct_ligament l = {.hole_a = t.column[L_HOLE_A].text[i],
                                .hole_b = t.column[L_HOLE_B].text[i],
                                .ligament = t.column[L_LIGAMENT].number[i],
                                .face = face ? (pp_face)face[i] : PP_ENTRY,
                                .line = t.line[i]};
        ligaments[i] = l;
        if (rows.full) continue;
        if (strcmp(l.hole_a, l.hole_b) == 0)
            PP_TRY(pp_check_note(&rows, i, L_HOLE_B,
                                 "hole_a and hole_b are the same hole; a ligament lies between two",
                                 error));
        if (l.ligament < 0)
            PP_TRY(pp_check_note(
                &rows, i, L_LIGAMENT,
                "the ligament is negative; correct the cell (0 where the holes meet)", error));
    }
    PP_TRY(pp_check_end(&rows, error));
    files->ligaments_reading = t.reading;
    files->ligament_count = t.rows;
    files->ligaments = ligaments;
    files->ligaments_file = pp_file_written(request.file);
    return PP_OK;
}

/* ---- attribute checks ---- */

enum { C_HOLE, C_CHARACTERISTIC, C_VALUE, C_LOW, C_HIGH, C_RESULT, C_COLUMNS };

static const pp_csv_word RESULTS[] = {{"accepted", 1}, {"rejected", 0}, {"accept", 1},
                                      {"reject", 0},   {"pass", 1},     {"fail", 0},
                                      {"ok", 1},       {"yes", 1},      {"no", 0}};

static const pp_csv_column CHECK_COLUMNS[C_COLUMNS] = {
    [C_HOLE] = {.names = {"hole", "id"}, .type = PP_CSV_TEXT, .needed = true},
    [C_CHARACTERISTIC] = {.names = {"characteristic"}, .type = PP_CSV_TEXT, .needed = true},
    [C_VALUE] = {.names = {"value"}, .type = PP_CSV_NUMBER, .optional = true},
    [C_LOW] = {.names = {"low"}, .type = PP_CSV_NUMBER, .optional = true},
    [C_HIGH] = {.names = {"high"}, .type = PP_CSV_NUMBER, .optional = true},
    [C_RESULT] = {.names = {"result"},
                  .type = PP_CSV_WORD,
                  .optional = true,
                  .empty = -1,
                  .words = RESULTS,
                  .word_count = COUNT_OF(RESULTS)},
};

static double number_or_nan(const pp_csv_table *t, int column, size_t row)
{
    return t->column[column].number ? t->column[column].number[row] : NAN;
}

pp_status pp_checks_read_noted(const pp_job *job, const pp_names *names, int threads,
                               pp_memory *memory, pp_table_note *note, pp_hole_files *files,
                               pp_error *error)
{
    pp_csv_request request = {.job = job,
                              .file = &job->holes.checks,
                              .section = "holes",
                              .map = &job->holes.checks_columns,
                              .note = note,
                              .is_name = names ? pp_is_listed : NULL,
                              .is_name_context = names,
                              .what = "the list of checks",
                              .unit = job->holes.length_unit,
                              .columns = CHECK_COLUMNS,
                              .column_count = C_COLUMNS,
                              .lines = true};
    pp_csv_table t;
    PP_TRY(pp_csv_read(&request, threads, memory, &t, error));
    PP_TRY(pp_need_rows(&request, &t, error));
    pp_row_check rows = {.request = &request, .memory = memory};
    pp_check_row *checks;
    PP_TAKE(checks, &memory->keep, t.rows);
    for (size_t i = 0; i < t.rows; i++) {
        const int8_t *result = t.column[C_RESULT].code;
        pp_check_row c = {.hole = t.column[C_HOLE].text[i],
                          .characteristic = t.column[C_CHARACTERISTIC].text[i],
                          .value = number_or_nan(&t, C_VALUE, i),
                          .low = number_or_nan(&t, C_LOW, i),
                          .high = number_or_nan(&t, C_HIGH, i),
                          .result = result ? result[i] : -1,
                          .line = t.line[i]};
        checks[i] = c;
        if (rows.full) continue;
        if (isnan(c.value) && c.result < 0)
            PP_TRY(pp_check_note(&rows, i, C_RESULT,
                                 "neither a value nor a result; a check needs one of them", error));
        if (c.low > c.high)
            PP_TRY(pp_check_note(&rows, i, C_LOW, "low is above high; exchange them", error));
    }
    PP_TRY(pp_check_end(&rows, error));
    files->checks_reading = t.reading;
    files->check_count = t.rows;
    files->checks = checks;
    files->checks_file = pp_file_written(request.file);
    return PP_OK;
}

/* ---- datum points ---- */

enum { D_NAME, D_NOMINAL_X, D_NOMINAL_Y, D_X, D_Y, D_COLUMNS };

static const pp_csv_column DATUM_COLUMNS[D_COLUMNS] = {
    [D_NAME] = {.names = {"name", "hole", "id"}, .type = PP_CSV_TEXT, .optional = true},
    [D_NOMINAL_X] = {.names = {"nominal_x"}, .type = PP_CSV_LENGTH, .needed = true},
    [D_NOMINAL_Y] = {.names = {"nominal_y"}, .type = PP_CSV_LENGTH, .needed = true},
    [D_X] = {.names = {"x"}, .type = PP_CSV_LENGTH, .needed = true},
    [D_Y] = {.names = {"y"}, .type = PP_CSV_LENGTH, .needed = true},
};

pp_status pp_datum_read_noted(const pp_job *job, int threads, pp_memory *memory,
                              pp_table_note *note, pp_hole_files *files, pp_error *error)
{
    pp_csv_request request = {.job = job,
                              .file = &job->holes.datum_points,
                              .section = "holes",
                              .map = &job->holes.datum_points_columns,
                              .note = note,
                              .what = "the list of datum points",
                              .unit = job->holes.length_unit,
                              .columns = DATUM_COLUMNS,
                              .column_count = D_COLUMNS,
                              .plain_min = D_COLUMNS,
                              .plain_max = D_COLUMNS};
    pp_csv_table t;
    PP_TRY(pp_csv_read(&request, threads, memory, &t, error));
    PP_TRY(pp_need_rows(&request, &t, error));
    pp_datum_point *points;
    PP_TAKE(points, &memory->keep, t.rows);
    for (size_t i = 0; i < t.rows; i++)
        points[i] = (pp_datum_point){
            t.column[D_NAME].text ? t.column[D_NAME].text[i] : "", t.column[D_NOMINAL_X].number[i],
            t.column[D_NOMINAL_Y].number[i], t.column[D_X].number[i], t.column[D_Y].number[i]};
    files->datum_reading = t.reading;
    files->datum_count = t.rows;
    files->datum = points;
    return PP_OK;
}

/* ---- all of them ---- */

/* The measured list may be another than the job's; what stands in lists of ligaments and checks
 * is then of other holes. */
static pp_status read_others(const pp_job *job, const pp_job_file *measured, int threads,
                             pp_memory *memory, pp_hole_files *files, pp_error *error)
{
    const pp_names *names = &files->nominal.names;
    bool own = measured == &job->holes.measured;
    files->measured_given = measured->path != NULL;
    files->measured_file = measured;
    pp_table_note note = {0};
    if (job->holes.commanded.path)
        PP_TRY(pp_commanded_read_noted(job, threads, memory, &note, &files->nominal, error));
    note = (pp_table_note){0};
    if (files->measured_given)
        PP_TRY(pp_measured_read_noted(job, measured, &files->nominal, threads, memory, &note,
                                      &files->measured, error));
    note = (pp_table_note){0};
    if (own && job->holes.ligaments.path)
        PP_TRY(pp_ligaments_read_noted(job, names, threads, memory, &note, files, error));
    note = (pp_table_note){0};
    if (own && job->holes.checks.path)
        PP_TRY(pp_checks_read_noted(job, names, threads, memory, &note, files, error));
    note = (pp_table_note){0};
    if (job->holes.sample_list.path)
        PP_TRY(pp_sample_read_noted(job, names, threads, memory, &note, files, error));
    note = (pp_table_note){0};
    if (job->holes.datum_points.path)
        PP_TRY(pp_datum_read_noted(job, threads, memory, &note, files, error));
    return PP_OK;
}

pp_status pp_holelist_read_of(const pp_job *job, const pp_job_file *measured, int threads,
                              pp_memory *memory, pp_hole_files *files, pp_error *error)
{
    pp_hole_files f = {0};
    PP_TRY(pp_nominal_read(job, threads, memory, &f.nominal, error));
    pp_mark mark = pp_arena_mark(&memory->scratch); /* above the table of names */
    pp_status status = read_others(job, measured, threads, memory, &f, error);
    pp_arena_release(&memory->scratch, mark);
    if (status == PP_OK) *files = f;
    return status;
}

pp_status pp_holelist_read(const pp_job *job, int threads, pp_memory *memory, pp_hole_files *files,
                           pp_error *error)
{
    return pp_holelist_read_of(job, &job->holes.measured, threads, memory, files, error);
}

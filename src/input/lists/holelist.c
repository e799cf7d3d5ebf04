#include "input/lists/holelist.h"

#include <math.h>
#include <string.h>

#include "base/names.h"
#include "base/parallel.h"
#include "input/csv/csv.h"
#include "input/lists/outline.h"
#include "input/lists/spacing.h"

#define COUNT_OF(array) (sizeof(array) / sizeof(array)[0])

/* ---- words ---- */

static const pp_csv_word KINDS[] = {{"tube", PP_TUBE_HOLE}, {"other", PP_OTHER_HOLE}};
static const pp_csv_word YES_NO[] = {{"yes", 1}, {"no", 0}, {"y", 1}, {"n", 0}, {"1", 1}, {"0", 0}};
static const pp_csv_word RESULTS[] = {{"accepted", 1}, {"rejected", 0}, {"accept", 1},
                                      {"reject", 0},   {"pass", 1},     {"fail", 0},
                                      {"ok", 1},       {"yes", 1},      {"no", 0}};

/* entry, exit and the words of face_names. */
static pp_status make_face_words(const pp_job *job, pp_arena *scratch, pp_csv_column *face,
                                 pp_error *error)
{
    size_t count = job->holes.face_name_count;
    pp_csv_word *words;
    PP_TAKE(words, scratch, count + 2);
    words[0] = (pp_csv_word){"entry", PP_ENTRY};
    words[1] = (pp_csv_word){"exit", PP_EXIT};
    for (size_t i = 0; i < count; i++)
        words[i + 2] = (pp_csv_word){job->holes.face_names[i].word,
                                     job->holes.face_names[i].exit ? PP_EXIT : PP_ENTRY};
    *face = (pp_csv_column){.names = {"face"},
                            .type = PP_CSV_WORD,
                            .optional = true,
                            .empty = PP_ENTRY,
                            .words = words,
                            .word_count = count + 2,
                            .remedy = ", or explain the word with face_names in [holes]"};
    return PP_OK;
}

/* ---- messages about a row that was read ---- */

static pp_status fail_row(const pp_csv_request *request, size_t row, size_t column,
                          pp_memory *memory, pp_error *error, const char *message)
{
    long line, cell;
    PP_TRY(pp_csv_find(request, row, column, memory, &line, &cell, error));
    return pp_fail_at(error, PP_EINPUT, request->file->path, line, cell, "%s", message);
}

static pp_status need_rows(const pp_csv_request *request, const pp_csv_table *table,
                           pp_error *error)
{
    if (table->rows) return PP_OK;
    return pp_fail_at(error, PP_EINPUT, request->file->path, 0, 0,
                      table->comments ? "%s has no rows (lines that begin with # are comments); "
                                        "add the rows or leave the file out of the job"
                                      : "%s has no rows; add them or leave the file out of the job",
                      request->what);
}

static const char *written(const pp_job_file *file)
{
    return file->written ? file->written : file->path;
}

/* ---- the nominal list ---- */

enum { N_HOLE, N_X, N_Y, N_KIND, N_DIAMETER, N_UNDER, N_OVER, N_COLUMNS };

static const pp_csv_column NOMINAL_COLUMNS[N_COLUMNS] = {
    [N_HOLE] = {.names = {"hole", "id"}, .type = PP_CSV_TEXT, .needed = true},
    [N_X] = {.names = {"x"}, .type = PP_CSV_LENGTH, .needed = true},
    [N_Y] = {.names = {"y"}, .type = PP_CSV_LENGTH, .needed = true},
    [N_KIND] = {.names = {"kind"},
                .type = PP_CSV_WORD,
                .optional = true,
                .empty = PP_TUBE_HOLE,
                .words = KINDS,
                .word_count = COUNT_OF(KINDS)},
    [N_DIAMETER] = {.names = {"diameter", "dia", "d"}, .type = PP_CSV_LENGTH, .optional = true},
    [N_UNDER] = {.names = {"under"}, .type = PP_CSV_LENGTH, .optional = true},
    [N_OVER] = {.names = {"over"}, .type = PP_CSV_LENGTH, .optional = true},
};

/* Sizes are of kind other only: those written beside tube holes are ignored. */
static pp_status keep_other_sizes(const pp_csv_request *request, pp_csv_table *t, pp_memory *memory,
                                  pp_error *error)
{
    const int8_t *kind = t->column[N_KIND].code;
    for (int c = N_DIAMETER; c <= N_OVER; c++) {
        double *value = t->column[c].number;
        for (size_t i = 0; value && i < t->rows; i++) {
            if (!kind || kind[i] == PP_TUBE_HOLE)
                value[i] = NAN;
            else if (c == N_DIAMETER && value[i] <= 0)
                return fail_row(request, i, (size_t)c, memory, error,
                                "the diameter is not above zero; correct the cell");
            else if (c == N_UNDER && value[i] < 0)
                return fail_row(request, i, (size_t)c, memory, error,
                                "the allowance under the diameter is negative; write it as a "
                                "positive length");
        }
    }
    return PP_OK;
}

typedef struct uniqueness { /* two searches that run side by side */
    const pp_csv_table *table;
    pp_arena *names_memory, centres_memory;
    pp_names names;
    pp_spacing_pair centres;
} uniqueness;

static pp_status search(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker;
    uniqueness *u = context;
    const pp_csv_values *column = u->table->column;
    if (part == 0)
        return pp_names_build(column[N_HOLE].text, u->table->rows, u->names_memory, &u->names,
                              error);
    return pp_spacing_find_close(column[N_X].number, column[N_Y].number, u->table->rows,
                                 &u->centres_memory, &u->centres, error);
}

static pp_status fail_unique(const pp_csv_request *request, const uniqueness *u, pp_memory *memory,
                             pp_error *error)
{
    const pp_csv_values *column = u->table->column;
    long first_line, line, cell;
    bool name = u->names.repeat != PP_NAME_NONE &&
                (!u->centres.found || u->names.repeat <= u->centres.second);
    size_t first = name ? u->names.repeat_of : u->centres.first;
    size_t second = name ? u->names.repeat : u->centres.second;
    PP_TRY(pp_csv_find(request, first, N_HOLE, memory, &first_line, &cell, error));
    PP_TRY(pp_csv_find(request, second, name ? N_HOLE : N_X, memory, &line, &cell, error));
    if (name)
        return pp_fail_at(error, PP_EINPUT, request->file->path, line, cell,
                          "hole %.200s stands on line %ld already; every nominal hole needs its "
                          "own name",
                          column[N_HOLE].text[second], first_line);
    return pp_fail_at(error, PP_EINPUT, request->file->path, line, cell,
                      "hole %.200s has the centre of hole %.200s on line %ld (within 0.001 mm); "
                      "remove one of them",
                      column[N_HOLE].text[second], column[N_HOLE].text[first], first_line);
}

static pp_status check_unique(const pp_csv_request *request, const pp_csv_table *t, int threads,
                              pp_memory *memory, pp_names *names, pp_error *error)
{
    uniqueness u = {.table = t, .names_memory = &memory->scratch};
    pp_status status = pp_parallel(threads, 2, search, &u, error);
    if (status == PP_OK && (u.names.repeat != PP_NAME_NONE || u.centres.found))
        status = fail_unique(request, &u, memory, error);
    pp_arena_release(&u.centres_memory, (pp_mark){0});
    pp_arena_hand_over(&u.centres_memory, &memory->scratch);
    *names = u.names;
    return status;
}

static pp_status check_nominal_places(const pp_csv_request *request, const pp_csv_table *t,
                                      pp_memory *memory, pp_error *error)
{
    const double *x = t->column[N_X].number, *y = t->column[N_Y].number;
    for (size_t i = 0; i < t->rows; i++) {
        if (pp_outline_near(request->job, x[i], y[i])) continue;
        long line, cell;
        PP_TRY(pp_csv_find(request, i, N_X, memory, &line, &cell, error));
        return pp_outline_fail(request->job, request->file->path, line, cell, x[i], y[i], error);
    }
    return PP_OK;
}

pp_status pp_nominal_read(const pp_job *job, int threads, pp_memory *memory, pp_nominal *nominal,
                          pp_error *error)
{
    pp_csv_request request = {.job = job,
                              .file = &job->holes.nominal,
                              .what = "the nominal hole list",
                              .unit = job->holes.length_unit,
                              .columns = NOMINAL_COLUMNS,
                              .column_count = N_COLUMNS,
                              .plain_min = N_Y + 1,
                              .plain_max = N_Y + 1};
    pp_csv_table t;
    PP_TRY(pp_csv_read(&request, threads, memory, &t, error));
    PP_TRY(need_rows(&request, &t, error));
    PP_TRY(keep_other_sizes(&request, &t, memory, error));
    PP_TRY(check_nominal_places(&request, &t, memory, error));
    pp_names names;
    PP_TRY(check_unique(&request, &t, threads, memory, &names, error));
    uint8_t *kind;
    PP_TAKE_ZERO(kind, &memory->keep, t.rows); /* PP_TUBE_HOLE */
    if (t.column[N_KIND].code) memcpy(kind, t.column[N_KIND].code, t.rows);
    *nominal = (pp_nominal){.count = t.rows,
                            .name = t.column[N_HOLE].text,
                            .x = t.column[N_X].number,
                            .y = t.column[N_Y].number,
                            .kind = kind,
                            .diameter = t.column[N_DIAMETER].number,
                            .under = t.column[N_UNDER].number,
                            .over = t.column[N_OVER].number,
                            .file = written(request.file),
                            .names = names};
    return PP_OK;
}

/* ---- the measured list ---- */

enum {
    M_HOLE,
    M_X,
    M_Y,
    M_DIAMETER,
    M_FACE,
    M_ROUND,
    M_ORDER,
    M_DISPOSITION,
    M_REFERENCE,
    M_GO,
    M_NO_GO,
    M_NO_GO_MAX,
    M_COLUMNS
};

#define GAUGE_COLUMN(name)                                                                         \
    {                                                                                              \
        .names = {name}, .type = PP_CSV_WORD, .optional = true, .empty = -1, .words = YES_NO,      \
        .word_count = COUNT_OF(YES_NO)                                                             \
    }

static const pp_csv_column MEASURED_COLUMNS[M_COLUMNS] = {
    [M_HOLE] = {.names = {"hole", "id"}, .type = PP_CSV_TEXT, .optional = true},
    [M_X] = {.names = {"x"}, .type = PP_CSV_LENGTH, .needed = true},
    [M_Y] = {.names = {"y"}, .type = PP_CSV_LENGTH, .needed = true},
    [M_DIAMETER] = {.names = {"diameter", "dia", "d"}, .type = PP_CSV_LENGTH, .optional = true},
    [M_ROUND] = {.names = {"round"}, .type = PP_CSV_COUNT, .optional = true, .empty = 1},
    [M_ORDER] = {.names = {"order"}, .type = PP_CSV_NUMBER, .optional = true},
    [M_DISPOSITION] = {.names = {"disposition"},
                       .type = PP_CSV_TEXT,
                       .optional = true,
                       .lines = true},
    [M_REFERENCE] = {.names = {"reference"}, .type = PP_CSV_TEXT, .optional = true, .lines = true},
    [M_GO] = GAUGE_COLUMN("go"),
    [M_NO_GO] = GAUGE_COLUMN("no_go"),
    [M_NO_GO_MAX] = GAUGE_COLUMN("no_go_max"),
};

/* A gauge that goes in where a smaller one does not is a slip of the pen. */
static pp_status check_gauges(const pp_csv_request *request, const pp_csv_table *t,
                              pp_memory *memory, pp_error *error)
{
    static const size_t BY_SIZE[] = {M_GO, M_NO_GO, M_NO_GO_MAX};
    for (size_t i = 0; i < t->rows; i++) {
        bool stopped = false;
        for (size_t k = 0; k < sizeof BY_SIZE / sizeof *BY_SIZE; k++) {
            const int8_t *result = t->column[BY_SIZE[k]].code;
            if (!result) continue;
            if (stopped && result[i] == 1)
                return fail_row(request, i, BY_SIZE[k], memory, error,
                                "the gauge goes in although a smaller one does not; correct the "
                                "row");
            stopped = stopped || result[i] == 0;
        }
    }
    return PP_OK;
}

/* A hole needs a diameter above zero, or a gauge that was tried in it. */
static pp_status check_sizes(const pp_csv_request *request, const pp_csv_table *t,
                             pp_memory *memory, pp_error *error)
{
    const double *diameter = t->column[M_DIAMETER].number;
    const int8_t *go = t->column[M_GO].code, *no_go = t->column[M_NO_GO].code,
                 *no_go_max = t->column[M_NO_GO_MAX].code;
    if (!diameter && !go && !no_go)
        return pp_fail_at(error, PP_EINPUT, request->file->path, 0, 0,
                          "the measured hole list has no column diameter, and no go and no_go in "
                          "its place; add one");
    for (size_t i = 0; i < t->rows; i++) {
        if (diameter && diameter[i] > 0) continue;
        if (diameter && diameter[i] <= 0)
            return fail_row(request, i, M_DIAMETER, memory, error,
                            "the diameter is not above zero; correct the cell");
        bool gauged =
            (go && go[i] >= 0) || (no_go && no_go[i] >= 0) || (no_go_max && no_go_max[i] >= 0);
        if (!gauged)
            return fail_row(request, i, diameter ? M_DIAMETER : M_GO, memory, error,
                            "neither a diameter nor a gauge result (go, no_go); every row needs "
                            "one");
    }
    return go || no_go || no_go_max ? check_gauges(request, t, memory, error) : PP_OK;
}

static bool has_names(const pp_csv_table *t)
{
    const char *const *name = t->column[M_HOLE].text;
    for (size_t i = 0; name && i < t->rows; i++)
        if (name[i][0]) return true;
    return false;
}

static pp_status fill_readings(const pp_csv_request *request, const pp_csv_table *t,
                               pp_memory *memory, pp_readings *readings, pp_error *error)
{
    double *diameter = t->column[M_DIAMETER].number;
    uint8_t *face;
    uint32_t *round = t->column[M_ROUND].count;
    PP_TAKE_ZERO(face, &memory->keep, t->rows); /* PP_ENTRY */
    if (t->column[M_FACE].code) memcpy(face, t->column[M_FACE].code, t->rows);
    if (!round) {
        PP_TAKE(round, &memory->keep, t->rows);
        for (size_t i = 0; i < t->rows; i++) round[i] = 1;
    }
    if (!diameter) {
        PP_TAKE(diameter, &memory->keep, t->rows);
        for (size_t i = 0; i < t->rows; i++) diameter[i] = NAN;
    }
    *readings = (pp_readings){.count = t->rows,
                              .name = has_names(t) ? t->column[M_HOLE].text : NULL,
                              .x = t->column[M_X].number,
                              .y = t->column[M_Y].number,
                              .diameter = diameter,
                              .face = face,
                              .round = round,
                              .order = t->column[M_ORDER].number,
                              .disposition = t->column[M_DISPOSITION].text,
                              .reference = t->column[M_REFERENCE].text,
                              .go = t->column[M_GO].code,
                              .no_go = t->column[M_NO_GO].code,
                              .no_go_max = t->column[M_NO_GO_MAX].code,
                              .file = written(request->file),
                              .line = t->line};
    return PP_OK;
}

static pp_status read_measured(const pp_job *job, int threads, pp_memory *memory,
                               pp_readings *readings, pp_error *error)
{
    pp_csv_column columns[M_COLUMNS];
    memcpy(columns, MEASURED_COLUMNS, sizeof columns);
    PP_TRY(make_face_words(job, &memory->scratch, &columns[M_FACE], error));
    pp_csv_request request = {.job = job,
                              .file = &job->holes.measured,
                              .what = "the measured hole list",
                              .unit = job->holes.length_unit,
                              .columns = columns,
                              .column_count = M_COLUMNS,
                              .plain_min = M_DIAMETER + 1,
                              .plain_max = M_DIAMETER + 1,
                              .lines = true};
    pp_csv_table t;
    PP_TRY(pp_csv_read(&request, threads, memory, &t, error));
    PP_TRY(need_rows(&request, &t, error));
    PP_TRY(check_sizes(&request, &t, memory, error));
    return fill_readings(&request, &t, memory, readings, error);
}

/* ---- direct ligaments ---- */

enum { L_HOLE_A, L_HOLE_B, L_LIGAMENT, L_FACE, L_COLUMNS };

static const pp_csv_column LIGAMENT_COLUMNS[L_COLUMNS] = {
    [L_HOLE_A] = {.names = {"hole_a"}, .type = PP_CSV_TEXT, .needed = true},
    [L_HOLE_B] = {.names = {"hole_b"}, .type = PP_CSV_TEXT, .needed = true},
    [L_LIGAMENT] = {.names = {"ligament"}, .type = PP_CSV_LENGTH, .needed = true},
};

static pp_status read_ligaments(const pp_job *job, int threads, pp_memory *memory,
                                pp_hole_files *files, pp_error *error)
{
    pp_csv_column columns[L_COLUMNS];
    memcpy(columns, LIGAMENT_COLUMNS, sizeof columns);
    PP_TRY(make_face_words(job, &memory->scratch, &columns[L_FACE], error));
    pp_csv_request request = {.job = job,
                              .file = &job->holes.ligaments,
                              .what = "the ligament list",
                              .unit = job->holes.length_unit,
                              .columns = columns,
                              .column_count = L_COLUMNS,
                              .plain_min = L_LIGAMENT + 1,
                              .plain_max = L_FACE + 1,
                              .lines = true};
    pp_csv_table t;
    PP_TRY(pp_csv_read(&request, threads, memory, &t, error));
    PP_TRY(need_rows(&request, &t, error));
    pp_direct_ligament *ligaments;
    PP_TAKE(ligaments, &memory->keep, t.rows);
    for (size_t i = 0; i < t.rows; i++) {
        const int8_t *face = t.column[L_FACE].code;
        pp_direct_ligament l = {.hole_a = t.column[L_HOLE_A].text[i],
                                .hole_b = t.column[L_HOLE_B].text[i],
                                .ligament = t.column[L_LIGAMENT].number[i],
                                .face = face ? (pp_face)face[i] : PP_ENTRY,
                                .line = t.line[i]};
        if (strcmp(l.hole_a, l.hole_b) == 0)
            return fail_row(&request, i, L_HOLE_B, memory, error,
                            "hole_a and hole_b are the same hole; a ligament lies between two");
        if (l.ligament < 0)
            return fail_row(&request, i, L_LIGAMENT, memory, error,
                            "the ligament is negative; correct the cell (0 where the holes meet)");
        ligaments[i] = l;
    }
    files->ligament_count = t.rows;
    files->ligaments = ligaments;
    files->ligaments_file = written(request.file);
    return PP_OK;
}

/* ---- attribute checks ---- */

enum { C_HOLE, C_CHARACTERISTIC, C_VALUE, C_LOW, C_HIGH, C_RESULT, C_COLUMNS };

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

static pp_status read_checks(const pp_job *job, int threads, pp_memory *memory,
                             pp_hole_files *files, pp_error *error)
{
    pp_csv_request request = {.job = job,
                              .file = &job->holes.checks,
                              .what = "the list of checks",
                              .unit = job->holes.length_unit,
                              .columns = CHECK_COLUMNS,
                              .column_count = C_COLUMNS,
                              .lines = true};
    pp_csv_table t;
    PP_TRY(pp_csv_read(&request, threads, memory, &t, error));
    PP_TRY(need_rows(&request, &t, error));
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
        if (isnan(c.value) && c.result < 0)
            return fail_row(&request, i, C_RESULT, memory, error,
                            "neither a value nor a result; a check needs one of them");
        if (c.low > c.high)
            return fail_row(&request, i, C_LOW, memory, error, "low is above high; exchange them");
        checks[i] = c;
    }
    files->check_count = t.rows;
    files->checks = checks;
    files->checks_file = written(request.file);
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

static pp_status read_datum(const pp_job *job, int threads, pp_memory *memory, pp_hole_files *files,
                            pp_error *error)
{
    pp_csv_request request = {.job = job,
                              .file = &job->holes.datum_points,
                              .what = "the list of datum points",
                              .unit = job->holes.length_unit,
                              .columns = DATUM_COLUMNS,
                              .column_count = D_COLUMNS,
                              .plain_min = D_COLUMNS,
                              .plain_max = D_COLUMNS};
    pp_csv_table t;
    PP_TRY(pp_csv_read(&request, threads, memory, &t, error));
    PP_TRY(need_rows(&request, &t, error));
    pp_datum_point *points;
    PP_TAKE(points, &memory->keep, t.rows);
    for (size_t i = 0; i < t.rows; i++)
        points[i] = (pp_datum_point){
            t.column[D_NAME].text ? t.column[D_NAME].text[i] : "", t.column[D_NOMINAL_X].number[i],
            t.column[D_NOMINAL_Y].number[i], t.column[D_X].number[i], t.column[D_Y].number[i]};
    files->datum_count = t.rows;
    files->datum = points;
    return PP_OK;
}

/* ---- all of them ---- */

static pp_status read_others(const pp_job *job, int threads, pp_memory *memory,
                             pp_hole_files *files, pp_error *error)
{
    files->measured_given = job->holes.measured.path != NULL;
    if (files->measured_given) PP_TRY(read_measured(job, threads, memory, &files->measured, error));
    if (job->holes.ligaments.path) PP_TRY(read_ligaments(job, threads, memory, files, error));
    if (job->holes.checks.path) PP_TRY(read_checks(job, threads, memory, files, error));
    if (job->holes.datum_points.path) PP_TRY(read_datum(job, threads, memory, files, error));
    return PP_OK;
}

pp_status pp_holelist_read(const pp_job *job, int threads, pp_memory *memory, pp_hole_files *files,
                           pp_error *error)
{
    pp_hole_files f = {0};
    PP_TRY(pp_nominal_read(job, threads, memory, &f.nominal, error));
    pp_mark mark = pp_arena_mark(&memory->scratch); /* above the table of names */
    pp_status status = read_others(job, threads, memory, &f, error);
    pp_arena_release(&memory->scratch, mark);
    if (status == PP_OK) *files = f;
    return status;
}

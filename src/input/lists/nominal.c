/* The nominal hole list. */
#include <math.h>
#include <string.h>

#include "base/parallel.h"
#include "base/text.h"
#include "input/lists/list_parts.h"
#include "input/lists/outline.h"
#include "input/lists/spacing.h"

enum { N_HOLE, N_X, N_Y, N_KIND, N_DIAMETER, N_UNDER, N_OVER, N_SHIFT_X, N_DERIVED, N_COLUMNS };

static const pp_csv_word KINDS[] = {{"tube", PP_TUBE_HOLE}, {"other", PP_OTHER_HOLE}};

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
    [N_DERIVED] = {.names = {"derived"}, .type = PP_CSV_TEXT, .optional = true},
    [N_SHIFT_X] = {.names = {"shift_x"}, .type = PP_CSV_TEXT, .optional = true},
};

/* Sizes are of kind other only: those written beside tube holes are ignored. */
static pp_status keep_other_sizes(pp_row_check *check, pp_csv_table *t, pp_error *error)
{
    const int8_t *kind = t->column[N_KIND].code;
    for (int c = N_DIAMETER; c <= N_OVER; c++) {
        double *value = t->column[c].number;
        for (size_t i = 0; value && i < t->rows && !check->full; i++) {
            if (!kind || kind[i] == PP_TUBE_HOLE)
                value[i] = NAN;
            else if (c == N_DIAMETER && value[i] <= 0)
                PP_TRY(pp_check_note(check, i, (size_t)c,
                                     "the diameter is not above zero; correct the cell", error));
            else if (c == N_UNDER && value[i] < 0)
                PP_TRY(pp_check_note(check, i, (size_t)c,
                                     "the allowance under the diameter is negative; write it as a "
                                     "positive length",
                                     error));
        }
    }
    return PP_OK;
}

enum { HANDED_OVER_FROM = 65536 }; /* rows whose memory is worth keeping for what follows */

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
    if (t->rows < HANDED_OVER_FROM) {
        pp_arena_free(&u.centres_memory);
    } else {
        pp_arena_release(&u.centres_memory, (pp_mark){0});
        pp_arena_hand_over(&u.centres_memory, &memory->scratch);
    }
    *names = u.names;
    return status;
}

static pp_status check_places(pp_row_check *check, const pp_csv_table *t, pp_error *error)
{
    const double *x = t->column[N_X].number, *y = t->column[N_Y].number;
    const pp_job *job = check->request->job;
    if (!job) return PP_OK; /* whose list it is has no outline */
    for (size_t i = 0; i < t->rows && !check->full; i++) {
        pp_error far;
        if (pp_outline_near(job, x[i], y[i])) continue;
        pp_outline_fail(job, check->request->file->path, 0, 0, x[i], y[i], &far);
        PP_TRY(pp_check_note(check, i, N_X, far.message, error));
    }
    return PP_OK;
}

/* Holes judged by a list that was shifted for the machine's errors would look better than they are.
 */
static pp_status refuse_corrected(const pp_csv_request *request, const pp_csv_table *t,
                                  pp_memory *memory, pp_error *error)
{
    if (!t->column[N_SHIFT_X].text) return PP_OK;
    long line = 0, cell = 0;
    PP_TRY(pp_csv_find(request, 0, N_SHIFT_X, memory, &line, &cell, error));
    return pp_fail_at(error, PP_EINPUT, request->file->path, line, cell,
                      "has a column shift_x: it is a corrected list for the machine, and holes are "
                      "not judged by it; give it as [holes] commanded, and the drawing's list as "
                      "nominal");
}

/* Some place was taken from the measured holes: all of them may have been. */
static bool is_derived(const pp_csv_table *t)
{
    const char *const *derived = t->column[N_DERIVED].text;
    for (size_t i = 0; derived && i < t->rows; i++)
        if (derived[i][0] && !pp_same_word(derived[i], strlen(derived[i]), "no")) return true;
    return false;
}

static pp_status check(const pp_csv_request *request, pp_csv_table *t, pp_memory *memory,
                       pp_error *error)
{
    pp_row_check rows = {.request = request, .memory = memory};
    PP_TRY(keep_other_sizes(&rows, t, error));
    PP_TRY(check_places(&rows, t, error));
    return pp_check_end(&rows, error);
}

/* Where every row begins with #, holes are called so. */
static pp_status read_table(pp_csv_request *request, int threads, pp_memory *memory,
                            pp_csv_table *t, pp_error *error)
{
    PP_TRY(pp_csv_read(request, threads, memory, t, error));
    if (t->rows || !t->reading->commented_count) return PP_OK;
    *request->note = (pp_table_note){0};
    request->hash_rows = true;
    return pp_csv_read(request, threads, memory, t, error);
}

static pp_csv_request request_for(const pp_job_file *file, pp_length_unit unit, pp_table_note *note)
{
    return (pp_csv_request){.file = file,
                            .what = "the nominal hole list",
                            .unit = unit,
                            .columns = NOMINAL_COLUMNS,
                            .column_count = N_COLUMNS,
                            .plain_min = N_Y + 1,
                            .plain_max = N_Y + 1,
                            .note = note};
}

static pp_status read_list(pp_csv_request *request, int threads, pp_memory *memory,
                           pp_nominal *nominal, pp_error *error)
{
    pp_csv_table t;
    PP_TRY(read_table(request, threads, memory, &t, error));
    PP_TRY(pp_need_rows(request, &t, error));
    PP_TRY(refuse_corrected(request, &t, memory, error));
    PP_TRY(check(request, &t, memory, error));
    pp_names names;
    PP_TRY(check_unique(request, &t, threads, memory, &names, error));
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
                            .file = pp_file_written(request->file),
                            .derived = is_derived(&t),
                            .reading = t.reading,
                            .names = names};
    return PP_OK;
}

pp_status pp_nominal_read_noted(const pp_job *job, int threads, pp_memory *memory,
                                pp_table_note *note, pp_nominal *nominal, pp_error *error)
{
    pp_csv_request request = request_for(&job->holes.nominal, job->holes.length_unit, note);
    request.job = job;
    request.section = "holes";
    request.map = &job->holes.nominal_columns;
    return read_list(&request, threads, memory, nominal, error);
}

pp_status pp_nominal_read_named(const pp_list_named *list, int threads, pp_memory *memory,
                                pp_nominal *nominal, pp_error *error)
{
    pp_table_note note = {0};
    pp_csv_request request = request_for(list->file, list->unit, &note);
    request.named_in = list->named_in;
    return read_list(&request, threads, memory, nominal, error);
}

pp_status pp_nominal_read(const pp_job *job, int threads, pp_memory *memory, pp_nominal *nominal,
                          pp_error *error)
{
    pp_table_note note = {0};
    return pp_nominal_read_noted(job, threads, memory, &note, nominal, error);
}

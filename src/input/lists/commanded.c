/* The list a machine drilled to: where it was sent, hole by hole. */
#include "input/lists/commanded.h"

#include <math.h>

enum { K_HOLE, K_X, K_Y, K_NOMINAL_X, K_NOMINAL_Y, K_COLUMNS };

static const pp_csv_column COMMANDED_COLUMNS[K_COLUMNS] = {
    [K_HOLE] = {.names = {"hole", "id"}, .type = PP_CSV_TEXT, .needed = true},
    [K_X] = {.names = {"x"}, .type = PP_CSV_LENGTH, .needed = true},
    [K_Y] = {.names = {"y"}, .type = PP_CSV_LENGTH, .needed = true},
    [K_NOMINAL_X] = {.names = {"nominal_x"}, .type = PP_CSV_LENGTH, .optional = true},
    [K_NOMINAL_Y] = {.names = {"nominal_y"}, .type = PP_CSV_LENGTH, .optional = true},
};

/* mm: no machine is sent this far from the drawing on purpose. Another unit or another pattern is
 * further off, all but at the origin. Common practice, no source. */
static const double SHIFT_MOST = 5;
static const double SAME_PLACE = 2e-3; /* mm: of lists rounded to a thousandth */

/* A row against its nominal hole. */
static pp_status check_row(pp_row_check *check, const pp_csv_table *t, size_t row,
                           const pp_nominal *nominal, uint32_t hole, pp_error *error)
{
    const double *nx = t->column[K_NOMINAL_X].number, *ny = t->column[K_NOMINAL_Y].number;
    double x = nominal->x[hole], y = nominal->y[hole];
    bool other = (nx && fabs(nx[row] - x) > SAME_PLACE) || (ny && fabs(ny[row] - y) > SAME_PLACE);
    if (other)
        return pp_check_note(check, row, K_NOMINAL_X,
                             "its nominal place is not the one of this job's nominal list; the "
                             "list was made for another pattern, name the one it was drilled to",
                             error);
    double far = hypot(t->column[K_X].number[row] - x, t->column[K_Y].number[row] - y);
    if (far <= SHIFT_MOST) return PP_OK;
    return pp_check_note(check, row, K_X,
                         "more than 5 mm from its nominal place; is it a list of another pattern "
                         "or in another unit?",
                         error);
}

static pp_status place_rows(const pp_csv_request *request, const pp_csv_table *t, pp_memory *memory,
                            pp_nominal *nominal, pp_error *error)
{
    pp_row_check check = {.request = request, .memory = memory};
    double *x, *y;
    PP_TAKE(x, &memory->keep, nominal->count);
    PP_TAKE(y, &memory->keep, nominal->count);
    for (size_t i = 0; i < nominal->count; i++) x[i] = y[i] = NAN;
    for (size_t row = 0; row < t->rows && !check.full; row++) {
        uint32_t hole = pp_names_find(&nominal->names, t->column[K_HOLE].text[row]);
        if (hole == PP_NAME_NONE) {
            PP_TRY(pp_check_note(&check, row, K_HOLE,
                                 "no hole of the nominal list has this name; name the list the "
                                 "plate was drilled to",
                                 error));
            continue;
        }
        if (!isnan(x[hole]))
            PP_TRY(pp_check_note(&check, row, K_HOLE, "the hole stands twice; remove one", error));
        PP_TRY(check_row(&check, t, row, nominal, hole, error));
        x[hole] = t->column[K_X].number[row], y[hole] = t->column[K_Y].number[row];
    }
    PP_TRY(pp_check_end(&check, error));
    for (size_t i = 0; i < nominal->count; i++)
        if (isnan(x[i]))
            return pp_fail_at(error, PP_EINPUT, request->file->path, 0, 0,
                              "has no hole %.200s, which the nominal list has; name the whole list "
                              "that the machine drilled to",
                              nominal->name[i]);
    nominal->commanded_x = x, nominal->commanded_y = y;
    nominal->commanded_reading = t->reading;
    return PP_OK;
}

pp_status pp_commanded_read_noted(const pp_job *job, int threads, pp_memory *memory,
                                  pp_table_note *note, pp_nominal *nominal, pp_error *error)
{
    pp_csv_request request = {.job = job,
                              .file = &job->holes.commanded,
                              .what = "the commanded hole list",
                              .unit = job->holes.length_unit,
                              .section = "holes",
                              .columns = COMMANDED_COLUMNS,
                              .column_count = K_COLUMNS,
                              .note = note};
    pp_csv_table t;
    PP_TRY(pp_csv_read(&request, threads, memory, &t, error));
    PP_TRY(pp_need_rows(&request, &t, error));
    return place_rows(&request, &t, memory, nominal, error);
}

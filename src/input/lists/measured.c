/* The measured hole list. */
#include <math.h>
#include <string.h>

#include "input/lists/list_parts.h"

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
    M_SETUP,
    M_SESSION,
    M_SPINDLE,
    M_TOOL,
    M_TOOL_USED,
    M_GO,
    M_NO_GO,
    M_NO_GO_MAX,
    M_COLUMNS
};

static const pp_csv_word YES_NO[] = {{"yes", 1}, {"no", 0}, {"y", 1}, {"n", 0}, {"1", 1}, {"0", 0}};

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
    [M_SETUP] = {.names = {"setup"}, .type = PP_CSV_TEXT, .optional = true},
    [M_SESSION] = {.names = {"session"}, .type = PP_CSV_TEXT, .optional = true},
    [M_SPINDLE] = {.names = {"spindle"}, .type = PP_CSV_TEXT, .optional = true},
    [M_TOOL] = {.names = {"tool"}, .type = PP_CSV_TEXT, .optional = true},
    [M_TOOL_USED] = {.names = {"tool_used"}, .type = PP_CSV_NUMBER, .optional = true},
    [M_GO] = GAUGE_COLUMN("go"),
    [M_NO_GO] = GAUGE_COLUMN("no_go"),
    [M_NO_GO_MAX] = GAUGE_COLUMN("no_go_max"),
};

/* A gauge that goes in where a smaller one does not is a slip of the pen. */
static pp_status check_gauges(pp_row_check *check, const pp_csv_table *t, pp_error *error)
{
    static const size_t BY_SIZE[] = {M_GO, M_NO_GO, M_NO_GO_MAX};
    for (size_t i = 0; i < t->rows && !check->full; i++) {
        bool stopped = false;
        for (size_t k = 0; k < COUNT_OF(BY_SIZE); k++) {
            const int8_t *result = t->column[BY_SIZE[k]].code;
            if (!result) continue;
            if (stopped && result[i] == 1) {
                PP_TRY(pp_check_note(check, i, BY_SIZE[k],
                                     "the gauge goes in although a smaller one does not; correct "
                                     "the row",
                                     error));
                break;
            }
            stopped = stopped || result[i] == 0;
        }
    }
    return PP_OK;
}

static bool has_gauges(const pp_csv_table *t)
{
    return t->column[M_GO].code || t->column[M_NO_GO].code || t->column[M_NO_GO_MAX].code;
}

static bool is_number(const char *text)
{
    bool digit = false;
    for (; *text; text++) {
        digit = digit || (*text >= '0' && *text <= '9');
        if (!strchr("0123456789.,+- ", *text)) return false;
    }
    return digit;
}

/* A column nobody asked for that holds numbers in every row, and may be the diameters. */
static const char *perhaps_sizes(const pp_job *job, const pp_csv_table *t)
{
    for (size_t i = 0; i < t->spare_count; i++) {
        bool numbers = !pp_is_to_be_ignored(job, t->spare[i].header);
        for (size_t row = 0; numbers && row < t->rows; row++)
            numbers = is_number(t->spare[i].text[row]);
        if (numbers) return t->spare[i].header;
    }
    return NULL;
}

/* Places alone are judged as such, but not where sizes stand under a word that was not understood.
 */
static pp_status check_places_alone(const pp_row_check *check, const pp_csv_table *t,
                                    pp_error *error)
{
    const char *header = perhaps_sizes(check->request->job, t);
    if (!header) return PP_OK;
    return pp_fail_at(error, PP_EINPUT, check->request->file->path, 0, 0,
                      "the measured hole list has no column diameter, and no go and no_go in its "
                      "place; is it '%s'? write [holes] measured_columns = %s:diameter, or "
                      "ignore_columns = %s if only the places were measured",
                      header, header, header);
}

/* A hole needs a diameter above zero, or a gauge that was tried in it; or none in the list has any.
 */
static pp_status check_sizes(pp_row_check *check, const pp_csv_table *t, pp_error *error)
{
    const double *diameter = t->column[M_DIAMETER].number;
    const int8_t *go = t->column[M_GO].code, *no_go = t->column[M_NO_GO].code,
                 *no_go_max = t->column[M_NO_GO_MAX].code;
    if (!diameter && !has_gauges(t)) return check_places_alone(check, t, error);
    for (size_t i = 0; i < t->rows && !check->full; i++) {
        if (diameter && diameter[i] > 0) continue;
        bool gauged =
            (go && go[i] >= 0) || (no_go && no_go[i] >= 0) || (no_go_max && no_go_max[i] >= 0);
        if (diameter && diameter[i] <= 0)
            PP_TRY(pp_check_note(check, i, M_DIAMETER,
                                 "the diameter is not above zero; correct the cell", error));
        else if (!gauged)
            PP_TRY(pp_check_note(check, i,
                                 diameter ? M_DIAMETER
                                 : go     ? M_GO
                                          : M_NO_GO,
                                 "neither a diameter nor a gauge result (go, no_go); every row "
                                 "needs one",
                                 error));
    }
    return has_gauges(t) ? check_gauges(check, t, error) : PP_OK;
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
    if (!diameter && has_gauges(t)) {
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
                              .setup = t->column[M_SETUP].text,
                              .session = t->column[M_SESSION].text,
                              .spindle = t->column[M_SPINDLE].text,
                              .tool = t->column[M_TOOL].text,
                              .tool_used = t->column[M_TOOL_USED].number,
                              .go = t->column[M_GO].code,
                              .no_go = t->column[M_NO_GO].code,
                              .no_go_max = t->column[M_NO_GO_MAX].code,
                              .file = pp_file_written(request->file),
                              .reading = t->reading,
                              .line = t->line};
    return PP_OK;
}

/* Pass over what was measured in later rounds. */
static void drop_later_rounds(unsigned last, pp_csv_table *t)
{
    const uint32_t *round = t->column[M_ROUND].count;
    size_t kept = 0;
    if (!last || !round) return;
    for (size_t i = 0; i < t->rows; i++) {
        if (round[i] > last) continue;
        for (size_t c = 0; c < M_COLUMNS; c++) {
            pp_csv_values *v = &t->column[c];
            if (v->number) v->number[kept] = v->number[i];
            if (v->text) v->text[kept] = v->text[i];
            if (v->count) v->count[kept] = v->count[i];
            if (v->code) v->code[kept] = v->code[i];
        }
        for (size_t c = 0; c < t->spare_count; c++) t->spare[c].text[kept] = t->spare[c].text[i];
        t->line[kept++] = t->line[i];
    }
    t->rows = kept;
}

static pp_status keep_remarks(const pp_table_note *note, pp_memory *memory, pp_readings *readings,
                              pp_error *error)
{
    const char **remarks;
    PP_TAKE(remarks, &memory->keep, note->remark_count);
    memcpy(remarks, note->remarks, note->remark_count * sizeof *remarks);
    readings->remark_count = note->remark_count;
    readings->remarks = remarks;
    return PP_OK;
}

pp_status pp_measured_read_noted(const pp_job *job, const pp_job_file *file,
                                 const pp_nominal *nominal, int threads, pp_memory *memory,
                                 pp_table_note *note, pp_readings *readings, pp_error *error)
{
    pp_csv_column columns[M_COLUMNS];
    memcpy(columns, MEASURED_COLUMNS, sizeof columns);
    PP_TRY(pp_face_column_make(job, &memory->scratch, &columns[M_FACE], error));
    pp_csv_request request = {.job = job,
                              .file = file,
                              .what = "the measured hole list",
                              .unit = job->holes.length_unit,
                              .section = "holes",
                              .map = &job->holes.measured_columns,
                              .columns = columns,
                              .column_count = M_COLUMNS,
                              .plain_min = M_DIAMETER + 1,
                              .plain_max = M_DIAMETER + 1,
                              .spare = true,
                              .is_name = nominal ? pp_is_listed : NULL,
                              .is_name_context = nominal ? &nominal->names : NULL,
                              .lines = true,
                              .note = note};
    pp_csv_table t;
    PP_TRY(pp_csv_read(&request, threads, memory, &t, error));
    drop_later_rounds(job->holes.last_round, &t);
    PP_TRY(pp_need_rows(&request, &t, error));
    pp_row_check rows = {.request = &request, .memory = memory};
    PP_TRY(check_sizes(&rows, &t, error));
    pp_readings r;
    PP_TRY(fill_readings(&request, &t, memory, &r, error));
    PP_TRY(pp_ignored_check(job, &request, &t, &r, t.column[M_FACE].code != NULL, memory,
                            &r.averaged, error));
    PP_TRY(pp_check_end(&rows, error));
    if (nominal && r.name)
        PP_TRY(pp_near_names_check(&request, M_HOLE, nominal, &r, memory, error));
    PP_TRY(keep_remarks(note, memory, &r, error));
    *readings = r;
    return PP_OK;
}

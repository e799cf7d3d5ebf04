/* What to do with each cell of a row, once the header is known. */
#include <string.h>

#include "input/csv/csv_parts.h"

pp_status pp_csv_fail_unit(const pp_csv_request *request, const pp_csv_named *n, long line,
                           size_t cell, pp_error *error)
{
    return pp_fail_at(error, PP_EINPUT, request->file->path, line, (long)cell + 1,
                      "unknown unit '%.*s' of column %s; write %s",
                      (int)(n->unit_length < 20 ? n->unit_length : 20), n->unit_text,
                      request->columns[n->column].names[0], pp_unit_choices(PP_LENGTH));
}

static void classify_bytes(pp_csv_plan *plan)
{
    for (int c = 0; c < 256; c++)
        plan->class_of[c] = c >= 0x80 ? PP_CSV_HIGH : c < ' ' ? PP_CSV_STOP : PP_CSV_ORDINARY;
    plan->class_of['\t'] = PP_CSV_ORDINARY;
    plan->class_of['"'] = PP_CSV_STOP;
    plan->class_of[(unsigned char)plan->delimiter] = PP_CSV_STOP;
}

static void assign(pp_csv_plan *plan, size_t cell, size_t column, pp_length_unit unit)
{
    const pp_csv_column *c = &plan->columns[column];
    plan->ops[cell] = (pp_csv_op){(uint8_t)c->type, (uint8_t)unit, (uint8_t)column};
    plan->cell_of[column] = cell + 1;
    if (!c->optional && plan->needed < cell + 1) plan->needed = cell + 1;
}

static pp_unit_origin origin_of_unit(const pp_csv_request *request)
{
    if (!request->job) return PP_UNIT_ASSUMED;
    if (request->section && pp_job_key_line(request->job, request->section, "length_unit"))
        return PP_UNIT_OF_SECTION;
    return pp_job_key_line(request->job, "job", "units") ? PP_UNIT_OF_JOB : PP_UNIT_ASSUMED;
}

/* Take the cell as this column, and say so in the reading. */
static void use(pp_csv_plan *plan, pp_column_used *used, size_t cell, const pp_csv_named *named,
                const char *header)
{
    const pp_csv_request *request = plan->request;
    const pp_csv_column *column = &plan->columns[named->column];
    bool length = column->type == PP_CSV_LENGTH;
    pp_length_unit unit = !length ? PP_MM : named->unit_given ? named->unit : request->unit;
    assign(plan, cell, named->column, unit);
    used[plan->reading.used_count++] =
        (pp_column_used){.column = column->names[0],
                         .header = header,
                         .mapped = named->mapped,
                         .unit = unit,
                         .origin = !length             ? PP_UNIT_NONE
                                   : named->unit_given ? PP_UNIT_OF_HEADER
                                                       : origin_of_unit(request)};
}

/* A column nobody asked for: named in the reading, and kept where it is wanted. */
static void pass_over(pp_csv_plan *plan, size_t cell, const char *header, const char **ignored)
{
    if (!*header) return;
    ignored[plan->reading.ignored_count++] = header;
    if (!plan->request->spare || plan->column_count == PP_CSV_SLOTS ||
        plan->column_count - plan->spare_first == PP_CSV_SPARE_MAX)
        return;
    plan->columns[plan->column_count] = (pp_csv_column){
        .names = {header}, .type = PP_CSV_TEXT, .optional = true, .lines = true, .raw = true};
    assign(plan, cell, plan->column_count++, PP_MM);
}

/* A header cell as the reading keeps it: printable, whatever the file holds. */
static const char *keep_header(pp_arena *keep, const char *text, size_t length)
{
    char shown[PP_CSV_SHOWN_MAX];
    pp_csv_shown(text, length, shown);
    return pp_arena_text(keep, shown, strlen(shown));
}

/* "diameter (thou)" must not pass for a column nobody asked for. */
static pp_status refuse_strange_units(const pp_csv_plan *plan, const pp_csv_names *names,
                                      const pp_csv_record *record, pp_error *error)
{
    for (size_t i = 0; i < record->count; i++) {
        size_t length;
        pp_csv_named n;
        const char *text = pp_csv_cell_text(record, i, &length);
        if (pp_csv_name_read(names, text, length, &n) == PP_CSV_NAMES_STRANGE_UNIT &&
            plan->columns[n.column].type == PP_CSV_LENGTH && !plan->cell_of[n.column])
            return pp_csv_fail_unit(plan->request, &n, record->line, i, error);
    }
    return PP_OK;
}

pp_status pp_csv_plan_header(pp_csv_plan *plan, const pp_csv_names *names,
                             const pp_csv_record *record, pp_arena *keep, pp_error *error)
{
    const pp_csv_request *request = plan->request;
    pp_column_used *used;
    const char **ignored;
    PP_TAKE(used, keep, request->column_count);
    PP_TAKE(ignored, keep, record->count);
    plan->reading.used = plan->used = used;
    plan->reading.ignored = ignored;
    for (size_t i = 0; i < record->count; i++) {
        size_t length;
        pp_csv_named n;
        const char *text = pp_csv_cell_text(record, i, &length);
        pp_csv_naming naming = pp_csv_name_read(names, text, length, &n);
        const char *header = keep_header(keep, text, length);
        if (!header) return pp_fail_memory(error);
        if (naming != PP_CSV_NAMES_COLUMN) {
            pass_over(plan, i, header, ignored);
            continue;
        }
        if (plan->cell_of[n.column])
            return pp_fail_at(error, PP_EINPUT, request->file->path, record->line, (long)i + 1,
                              "columns %zu and %zu are both %s; rename or remove one of them",
                              plan->cell_of[n.column], i + 1, request->columns[n.column].names[0]);
        use(plan, used, i, &n, header);
    }
    return refuse_strange_units(plan, names, record, error);
}

pp_status pp_csv_plan_row(pp_csv_plan *plan, size_t filled, pp_arena *keep, pp_error *error)
{
    pp_column_used *used;
    PP_TAKE(used, keep, plan->request->plain_max);
    plan->reading.used = plan->used = used;
    for (size_t i = 0; i < filled && i < plan->request->plain_max; i++)
        use(plan, used, i, &(pp_csv_named){.column = i}, "");
    return PP_OK;
}

void pp_csv_plan_begin(const pp_csv_request *request, char delimiter, size_t cells,
                       pp_csv_plan *plan)
{
    *plan = (pp_csv_plan){.request = request, .delimiter = delimiter, .cells = cells};
    plan->column_count = plan->spare_first = request->column_count;
    memcpy(plan->columns, request->columns, request->column_count * sizeof *plan->columns);
    plan->comma = delimiter == ',' ? '.' : ',';
    plan->reading.what = request->what;
    plan->reading.delimiter = delimiter;
    classify_bytes(plan);
    for (size_t i = 0; i < PP_CSV_CELLS_MAX; i++) plan->ops[i].type = PP_CSV_SKIP;
}

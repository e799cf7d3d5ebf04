/* The list of holes that were drawn to be measured. */
#include "input/lists/list_parts.h"

static const pp_csv_column SAMPLE_COLUMNS[] = {
    {.names = {"hole", "id"}, .type = PP_CSV_TEXT, .needed = true}};

pp_status pp_sample_read_noted(const pp_job *job, const pp_names *names, int threads,
                               pp_memory *memory, pp_table_note *note, pp_hole_files *files,
                               pp_error *error)
{
    pp_csv_request request = {.job = job,
                              .file = &job->holes.sample_list,
                              .section = "holes",
                              .note = note,
                              .is_name = pp_is_listed,
                              .is_name_context = names,
                              .what = "the list of the sample",
                              .unit = job->holes.length_unit,
                              .columns = SAMPLE_COLUMNS,
                              .column_count = COUNT_OF(SAMPLE_COLUMNS)};
    pp_csv_table t;
    PP_TRY(pp_csv_read(&request, threads, memory, &t, error));
    PP_TRY(pp_need_rows(&request, &t, error));
    pp_row_check rows = {.request = &request, .memory = memory};
    uint32_t *holes;
    PP_TAKE(holes, &memory->keep, t.rows);
    for (size_t i = 0; i < t.rows && !rows.full; i++) {
        holes[i] = pp_names_find(names, t.column[0].text[i]);
        if (holes[i] == PP_NAME_NONE)
            PP_TRY(pp_check_note(&rows, i, 0,
                                 "the nominal list has no hole of that name; draw the sample from "
                                 "this nominal list",
                                 error));
    }
    PP_TRY(pp_check_end(&rows, error));
    files->sample_reading = t.reading;
    files->sample_count = t.rows;
    files->sample = holes;
    return PP_OK;
}

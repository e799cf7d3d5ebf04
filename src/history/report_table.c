#include "history/report_table.h"

#include <unistd.h>

#include "answer/paths.h"

pp_status pp_report_table_read(const char *folder, const char *file, const pp_csv_column *columns,
                               size_t count, int threads, pp_memory *memory, bool *there,
                               pp_csv_table *table, pp_error *error)
{
    pp_job job; /* of which the reader takes how numbers are written: as usual */
    const char *path = pp_path_join(folder, file, &memory->keep);
    if (!path) return pp_fail_memory(error);
    *there = access(path, F_OK) == 0;
    if (!*there) return PP_OK;
    PP_TRY(pp_job_blank(memory, &job, error));
    pp_job_file named = {.path = path, .written = path};
    pp_csv_request request = {.job = &job,
                              .file = &named,
                              .what = file,
                              .unit = PP_MM,
                              .columns = columns,
                              .column_count = count};
    return pp_csv_read(&request, threads, memory, table, error);
}

#include "history/report_table.h"

#include <unistd.h>

#include "answer/paths.h"

pp_status pp_report_table_read(const pp_report_table_request *request, pp_memory *memory,
                               bool *there, pp_csv_table *table, pp_error *error)
{
    const char *path = pp_path_join(request->folder, request->file, &memory->keep);
    if (!path) return pp_fail_memory(error);
    *there = access(path, F_OK) == 0;
    if (!*there) return PP_OK;
    pp_job_file named = {.path = path, .written = path};
    pp_csv_request csv = {.file = &named,
                          .what = request->file,
                          .unit = PP_MM,
                          .columns = request->columns,
                          .column_count = request->count};
    return pp_csv_read(&csv, request->threads, memory, table, error);
}

/* A CSV of a report folder, read back. */
#ifndef PP_HISTORY_REPORT_TABLE_H
#define PP_HISTORY_REPORT_TABLE_H

#include "input/csv/csv.h"

/* The table `file` ("holes.csv") of the report in `folder`; lengths are in mm, as reports have
 * them.
 *
 * given    columns[count]   that are looked for
 * out      *there           false, and nothing else, where the folder has no such table
 *          table            in memory->keep
 * errors   PP_EINPUT with line and column, a needed column that is missing; PP_EIO; PP_ENOMEM */
pp_status pp_report_table_read(const char *folder, const char *file, const pp_csv_column *columns,
                               size_t count, int threads, pp_memory *memory, bool *there,
                               pp_csv_table *table, pp_error *error);

#endif

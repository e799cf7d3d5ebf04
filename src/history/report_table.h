/* A CSV of a report folder, read back. */
#ifndef PP_HISTORY_REPORT_TABLE_H
#define PP_HISTORY_REPORT_TABLE_H

#include "input/csv/csv.h"

typedef struct pp_report_table_request {
    const char *folder;           /* of the report */
    const char *file;             /* "holes.csv" */
    const pp_csv_column *columns; /* that are looked for */
    size_t count;
    int threads;
} pp_report_table_request;

/* A table of a report; lengths are in mm, as reports have them.
 *
 * out      *there   false, and nothing else, where the folder has no such table
 *          table    in memory->keep
 * errors   PP_EINPUT with line and column, a needed column that is missing; PP_EIO: it is there and
 *          cannot be read; PP_ENOMEM */
pp_status pp_report_table_read(const pp_report_table_request *request, pp_memory *memory,
                               bool *there, pp_csv_table *table, pp_error *error);

#endif

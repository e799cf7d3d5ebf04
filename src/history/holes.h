/* The holes of a report folder: holes.csv, hole by hole or as moments. */
#ifndef PP_HISTORY_HOLES_H
#define PP_HISTORY_HOLES_H

#include <jansson.h>

#include "history/report.h"

/* One row a hole of the entry face that has a nominal place; mm; NaN where the file is silent. */
typedef struct pp_report_holes {
    size_t count;
    const char *const *name;
    const double *x, *y, *nominal_x, *nominal_y, *commanded_x, *commanded_y, *order;
} pp_report_holes;

/* Moments of the tube holes of both faces, from holes.csv beside results.json; a report without
 * the file has none. `root` tells which holes are of another kind or plugged.
 * errors   PP_EINPUT with line and column; PP_EIO: the table cannot be read; PP_ENOMEM */
pp_status pp_kept_holes_take(const char *folder, const json_t *root, int threads, pp_memory *memory,
                             pp_kept_report *report, pp_error *error);

/* The tube holes of the entry face of the report in `folder`, in memory->keep.
 * errors   as above; PP_EIO without the file */
pp_status pp_report_holes_read(const pp_kept_report *report, int threads, pp_memory *memory,
                               pp_report_holes *holes, pp_error *error);

#endif

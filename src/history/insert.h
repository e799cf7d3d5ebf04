/* The rows of one report. Inside a transaction of the caller's. */
#ifndef PP_HISTORY_INSERT_H
#define PP_HISTORY_INSERT_H

#include "history/report.h"
#include "history/store.h"

/* The plate's row, made where there is none yet; what the report knows of it and the row does not
 * is filled in.
 * errors   PP_EINPUT, PP_EIO as pp_history_step; PP_ENOMEM */
pp_status pp_insert_plate(pp_history *history, const pp_kept_report *report, long long *plate,
                          pp_error *error);

/* The report's row, a new one or (`row` > 0) in place of that row, and everything it holds.
 * errors   PP_EINPUT, PP_EIO as pp_history_step; PP_ENOMEM */
pp_status pp_insert_report(pp_history *history, const pp_kept_report *report, long long plate,
                           long long row, const char *now, pp_error *error);

#endif

/* What a command asks of the machine it runs on: dates, the terminal, signals, default places. */
#ifndef PP_CLI_SESSION_H
#define PP_CLI_SESSION_H

#include <stdbool.h>

#include "report/terminal/terminal.h"

/* The report's date: the job's, else SOURCE_DATE_EPOCH's, else today (UTC). */
const char *pp_session_date(const pp_job *job, char text[16]);

/* Width and colour of standard output: colour only on a terminal, and never with NO_COLOR. */
pp_terminal_options pp_session_terminal(void);

/* The folder of a job's report: NAME-report in `parent`, or beside the job file (parent NULL).
 * NULL when memory ran out. */
const char *pp_session_folder(const pp_job *job, const char *parent, pp_memory *memory);

/* From here on SIGINT, SIGTERM and SIGHUP only ask to stop: the report being written is given up
 * whole. A second one ends at once. */
void pp_session_catch_signals(void);
/* From here on they end the program at once again: nothing is half written. */
void pp_session_release_signals(void);
bool pp_session_stopped(void *unused);
/* After a signal the program ends by that same signal, as the shell expects; else returns status.
 */
int pp_session_end(int status);

#endif

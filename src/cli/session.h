/* What a command asks of the machine it runs on: dates, the terminal, signals, default places. */
#ifndef PP_CLI_SESSION_H
#define PP_CLI_SESSION_H

#include <poll.h>
#include <stdbool.h>

#include "report/terminal/terminal.h"
#include "verify/sign.h"

/* The report's date: the job's, else SOURCE_DATE_EPOCH's, else today (UTC). `job` may be NULL.
 * *from_epoch (may be NULL): it is SOURCE_DATE_EPOCH's. */
const char *pp_session_date(const pp_job *job, char text[16], bool *from_epoch);

/* Asks for passphrases at the terminal, without echo; where there is none, in the first line of
 * `file` (NULL: nobody can be asked). */
pp_passphrase pp_session_passphrase(const char *const *file);

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
/* poll() without end, which such a signal ends, too, whenever it comes; -1 then. */
int pp_session_poll(struct pollfd *files, nfds_t count);
/* After a signal the program ends by that same signal, as the shell expects; else returns status.
 */
int pp_session_end(int status);

#endif

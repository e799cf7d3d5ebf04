/* The child process of a run: begun, read from, gone. */
#ifndef PP_SERVE_CHILD_H
#define PP_SERVE_CHILD_H

#include "serve/runs.h"

/* Seconds of a clock that is not set back. */
double pp_child_clock(void);

/* Begin the run; false where no process can be had (said in run->said). */
bool pp_child_start(pp_child_run *run, const char *top);

/* Read what came; true when something did. */
bool pp_child_read(pp_child_run *run);

/* True when it has ended: everything it said is read then. */
bool pp_child_gone(pp_child_run *run);

#endif

/* What may be run, and with which words: everything that it reads or writes stands below the
 * folder. */
#ifndef PP_SERVE_ORDERS_H
#define PP_SERVE_ORDERS_H

#include <jansson.h>

#include "input/job/job.h"
#include "serve/server.h"

#define PP_HISTORY_ENDING ".history"

enum { PP_ORDER_PLATES_MAX = 200 }; /* that one order names */

/* The holes of a job measured so far, into NAME-live. */
pp_run_order pp_order_live(const char *job);

/* Check what is asked for and put the command line together.
 *
 * given   asked  {"job": the subject (checked to be proper), "kind", and of it
 *                  report      (or no kind) nothing more: a job, or a bundle's set
 *                  compared    "with": another plate's job (the one before), or "rounds": [1, 2]
 *                  correction  "from": jobs of the plates to learn from
 *                  history     "add": jobs of the plates to add, or nothing: its page}
 * out     order  words to be given away
 * errors  PP_EINPUT: no such kind, a report that is not there, something outside the folder ...;
 *         PP_EIO: the set of a bundle cannot be read; PP_ENOMEM */
pp_status pp_order_make(pp_server *server, const json_t *asked, pp_run_order *order,
                        pp_error *error);

#endif

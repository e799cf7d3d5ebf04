/* Ticking off the work list: what the shop has done of it, kept in NAME-ticks.json beside the job.
 * A tick is no measurement: it never changes a verdict, and a new result forgets it. */
#ifndef PP_SERVE_TICKS_H
#define PP_SERVE_TICKS_H

#include <jansson.h>

#include "plateproof/error.h"
#include "serve/server.h"

enum { PP_TICKS_ROWS_MAX = 2000 /* rows of the work list that are told */ };

/* `asked` is an object with "job" (checked to be proper).
 * *answer  {"rows": [as in results.json, and "done": seconds since 1970, or 0], "count": rows in
 *          all, "done": how many of them, "before": ticks of an older result, which no longer
 *          count}; no rows where there is no report or nothing to do
 * errors   PP_EINPUT: a file of that name that is none of ours; PP_EIO: it cannot be read;
 *          PP_ENOMEM */
pp_status pp_ticks_read(pp_server *server, const json_t *asked, json_t **answer, pp_error *error);

/* "hole", "extra", "todo", "done": tick the row, or take its tick away. The answer is that of
 * pp_ticks_read. errors  PP_EINPUT: it is not on the work list, too; PP_EIO: nothing was changed */
pp_status pp_ticks_set(pp_server *server, const json_t *asked, json_t **answer, pp_error *error);

#endif

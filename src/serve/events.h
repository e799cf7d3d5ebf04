/* Server-Sent Events (HTML standard, 9.2): every change of the runs, as the whole state of all, so
 * that a connection that was lost and comes back by itself has missed nothing. */
#ifndef PP_SERVE_EVENTS_H
#define PP_SERVE_EVENTS_H

#include "serve/request.h"

/* Answer with the stream; it ends when the browser goes or the server ends. */
enum MHD_Result pp_events_stream(pp_request *request);

#endif

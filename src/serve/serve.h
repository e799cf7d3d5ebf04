/* `plateproof serve`: a folder of plates in the browser of the person at this screen.
 *
 * HTTP/1.1 (RFC 9112) on 127.0.0.1 only; there is no option for anything else. A connection is
 * served by a thread of its own; the calling thread waits for signals. Every number shown comes
 * from the files that the other commands leave; nothing is kept but those. */
#ifndef PP_SERVE_SERVE_H
#define PP_SERVE_SERVE_H

#include <stdbool.h>

#include "plateproof/error.h"

typedef struct pp_serve_options {
    const char *folder;
    unsigned port;       /* 0: any free one */
    double idle_minutes; /* end when nobody has asked for so long; 0: never */
    /* An address with a token that works once: to print, or to open in a browser. Called at the
     * start, and again (`first` false) as soon as one was used. */
    void (*address)(void *context, const char *address, bool first);
    void *context;
} pp_serve_options;

/* Serve until SIGINT, SIGTERM or SIGHUP, or until nobody has asked for idle_minutes.
 *
 * out     *signal  the signal that ended it, 0 for idleness
 * errors  PP_EINPUT: `folder` is no folder, the port is taken; PP_EIO: the system gives no random
 *         numbers or no signals; PP_ENOMEM */
pp_status pp_serve(const pp_serve_options *options, int *signal, pp_error *error);

#endif

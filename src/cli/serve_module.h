/* The server, in a module of its own: nobody but `plateproof serve` waits for its libraries. */
#ifndef PP_CLI_SERVE_MODULE_H
#define PP_CLI_SERVE_MODULE_H

#include "serve/serve.h"

/* pp_serve, as serve/serve.h declares it. */
typedef pp_status (*pp_serve_function)(const pp_serve_options *options, int *signal,
                                       pp_error *error);

/* Load it from beside the program, or from the library folder it is installed with; it stays for
 * the life of the program.
 * errors  PP_EIO: not there, or a library that it stands on is missing */
pp_status pp_serve_load(pp_serve_function *serve, pp_error *error);

#endif

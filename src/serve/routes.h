/* Which address gives what. */
#ifndef PP_SERVE_ROUTES_H
#define PP_SERVE_ROUTES_H

#include "serve/request.h"

/* Answer a request that may be asked (pp_request_refusal) and is there as a whole. */
enum MHD_Result pp_route(pp_request *request);

#endif

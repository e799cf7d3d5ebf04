/* A sink that compresses (RFC 1952) what it is given into another one; without name and date, so
 * that the same text gives the same bytes wherever zlib is the same. */
#ifndef PP_REPORT_EXCHANGE_GZIP_H
#define PP_REPORT_EXCHANGE_GZIP_H

#include "base/sink.h"

typedef struct pp_gzip pp_gzip;

/* Begin. errors: PP_ENOMEM. To be ended, whatever happens, by pp_gzip_end. */
pp_status pp_gzip_begin(const pp_sink *to, pp_gzip **gzip, pp_error *error);
pp_sink pp_gzip_sink(pp_gzip *gzip);
/* Write what is left, if `so_far` is PP_OK, and free it. errors: `so_far`, those of the sink */
pp_status pp_gzip_end(pp_gzip *gzip, pp_status so_far, pp_error *error);

#endif

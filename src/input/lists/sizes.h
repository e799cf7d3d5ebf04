/* Does a measured list tell sizes? Places alone are an answer to where holes are, and to nothing
 * else. */
#ifndef PP_INPUT_LISTS_SIZES_H
#define PP_INPUT_LISTS_SIZES_H

#include "input/lists/holelist.h"

/* The list has diameters or plug gauges in some column. */
bool pp_has_sizes(const pp_readings *readings);

/* errors: PP_EINPUT where the list has none; `what` cannot do without ("the bundle") */
pp_status pp_need_sizes(const pp_readings *readings, const char *what, pp_error *error);

#endif

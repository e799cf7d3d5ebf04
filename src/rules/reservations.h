/* Reservations: what makes a section, or the whole, at best not proven whatever its values say,
 * because what was read does not prove it. They only ever lower `conforms` to `not proven`. */
#ifndef PP_RULES_RESERVATIONS_H
#define PP_RULES_RESERVATIONS_H

#include "rules/judging.h"

enum { PP_RESERVATIONS_MOST = 16 };

/* Find them all: every section is folded, the verdict of the whole is not yet. Lowers the sections,
 * lists the reservations in j->out. PP_ENOMEM */
pp_status pp_reserve(pp_judging *j, pp_error *error);

#endif

/* What a cause on the machine has to come to before it is worth a word: by the position limit. */
#ifndef PP_RULES_CAUSE_RULES_H
#define PP_RULES_CAUSE_RULES_H

#include "causes/diagnosis.h"

/* A quarter of the limit's radius matters; positions that keep within half of the limit, their
 * uncertainty (k = 2) included, make every cause information (common practice, no source).
 * position_limit: diametral, mm; NaN: none, all that is found matters and is information. */
pp_cause_weight pp_cause_weight_of(double position_limit, const pp_measures *measures);

#endif

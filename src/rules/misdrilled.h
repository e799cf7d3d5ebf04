/* What counts as misdrilled: two bores of one face with so little metal between them that one of
 * the two cannot be where it belongs. */
#ifndef PP_RULES_MISDRILLED_H
#define PP_RULES_MISDRILLED_H

#include "base/compare.h"
#include "rules/limits.h"

/* The ligament is below both half the nominal ligament and half of ligament_minimum (half the
 * nominal alone where no minimum is in force), or the bores overlap. `pitch`: the one in force. */
static inline bool pp_misdrilled(const pp_limits *limits, double pitch, double ligament)
{
    double nominal = isnan(limits->ligament_nominal) ? pitch - limits->hole_nominal.value
                                                     : limits->ligament_nominal;
    double half = 0.5 * fmin(nominal, limits->ligament_minimum.value); /* fmin ignores a NaN */
    return pp_less_than(ligament, 0) || pp_less_than(ligament, half);
}

#endif

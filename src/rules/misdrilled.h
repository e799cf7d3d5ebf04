/* What counts as misdrilled: two bores of one face with so little metal between them that one of
 * the two cannot be where it belongs. */
#ifndef PP_RULES_MISDRILLED_H
#define PP_RULES_MISDRILLED_H

#include "base/compare.h"
#include "rules/limits.h"

/* The least metal that does not make it so: half the nominal ligament or half of ligament_minimum,
 * the smaller (half the nominal alone where no minimum is in force). NaN: neither is known. */
static inline double pp_misdrilled_below(const pp_limits *limits)
{
    return 0.5 * fmin(limits->metal_nominal, limits->ligament_minimum.value); /* ignores a NaN */
}

/* The ligament is below that, or the bores overlap. */
static inline bool pp_misdrilled(const pp_limits *limits, double ligament)
{
    return pp_less_than(ligament, 0) || pp_less_than(ligament, pp_misdrilled_below(limits));
}

#endif

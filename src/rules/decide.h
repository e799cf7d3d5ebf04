/* A value against its limit under the job's decision rule: base/compare.h, with a guard band.
 *
 * Simple decision: the guard is 0, and
 * the plain value decides. Guarded decision (ISO 14253-1:2017, JCGM 106:2012): a value conforms
 * when it lies inside the limit by at least the guard band, does not conform when it lies outside
 * by more, and is not proven between. */
#ifndef PP_RULES_DECIDE_H
#define PP_RULES_DECIDE_H

#include "base/compare.h"
#include "rules/findings.h"

#define PP_GUARD 1.645 /* guard band in standard uncertainties: 5 % risk, one-sided, Gaussian */

/* Of a value under an upper limit, with a guard band on both sides of it: in, out, or not proven;
 * not judged without value or limit. */
static inline pp_verdict pp_decide_upper(double value, double limit, double guard)
{
    if (isnan(limit) || isnan(value)) return PP_NOT_JUDGED;
    if (pp_at_most(value, limit - guard)) return PP_CONFORMS;
    return pp_more_than(value, limit + guard) ? PP_DOES_NOT_CONFORM : PP_NOT_PROVEN;
}

/* The same above a lower limit. */
static inline pp_verdict pp_decide_lower(double value, double limit, double guard)
{
    return pp_decide_upper(-value, -limit, guard);
}

/* A value known to lie between two bounds, each with its own risk, against an upper limit. */
static inline pp_verdict pp_decide_between(double low, double high, double limit)
{
    if (isnan(limit) || isnan(low) || isnan(high)) return PP_NOT_JUDGED;
    if (pp_at_most(high, limit)) return PP_CONFORMS;
    return pp_more_than(low, limit) ? PP_DOES_NOT_CONFORM : PP_NOT_PROVEN;
}

/* The worst decides: does not conform, not proven, conforms, not judged. */
static inline pp_verdict pp_worse(pp_verdict a, pp_verdict b) { return a > b ? a : b; }

#endif

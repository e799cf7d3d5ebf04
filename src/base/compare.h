/* How a number is held against another one, everywhere in the program: a limit is inclusive, and
 * every comparison allows PP_ALLOWANCE, so that what equals the limit on paper is within it however
 * its last digits came about. This is the comparison alone; what it means for a plate is said by
 * src/rules, which is the only room that turns it into a verdict.
 *
 * Values and limits in mm (forces in N, stresses in MPa: the same number of them is as far below
 * what can be measured). NaN on either side: no comparison holds. */
#ifndef PP_BASE_COMPARE_H
#define PP_BASE_COMPARE_H

#include <math.h>
#include <stdbool.h>

#define PP_ALLOWANCE 1e-6

/* `value` is within an upper limit. */
static inline bool pp_at_most(double value, double limit) { return value <= limit + PP_ALLOWANCE; }

/* `value` is within a lower limit. */
static inline bool pp_at_least(double value, double limit) { return value >= limit - PP_ALLOWANCE; }

/* `value` is beyond an upper limit. */
static inline bool pp_more_than(double value, double limit) { return value > limit + PP_ALLOWANCE; }

/* `value` is beyond a lower limit. */
static inline bool pp_less_than(double value, double limit) { return value < limit - PP_ALLOWANCE; }

/* The two are one and the same length. */
static inline bool pp_equals(double a, double b) { return fabs(a - b) <= PP_ALLOWANCE; }

#endif

/* Arithmetic in doubled precision: a number is the unevaluated sum hi + lo, about 32 digits.
 * Dekker, Numerische Mathematik 18 (1971) 224; Ogita, Rump and Oishi, SIAM J. Sci. Comput. 26
 * (2005) 1955. Needs strict IEEE arithmetic (no contraction, no re-association).
 */
#ifndef PP_PLANES_DOUBLED_H
#define PP_PLANES_DOUBLED_H

#include <math.h>

typedef struct pp_doubled {
    double hi, lo;
} pp_doubled;

/* hi + lo = a + b exactly */
static inline pp_doubled pp_doubled_sum(double a, double b)
{
    double sum = a + b, part = sum - a;
    return (pp_doubled){sum, (a - (sum - part)) + (b - part)};
}

/* a + b. */
static inline pp_doubled pp_doubled_add(pp_doubled a, pp_doubled b)
{
    pp_doubled s = pp_doubled_sum(a.hi, b.hi), t = pp_doubled_sum(a.lo, b.lo);
    s = pp_doubled_sum(s.hi, s.lo + t.hi);
    return pp_doubled_sum(s.hi, s.lo + t.lo);
}

/* -a, exact. */
static inline pp_doubled pp_doubled_negate(pp_doubled a) { return (pp_doubled){-a.hi, -a.lo}; }

/* a b, by a fused multiply-add (Dekker). */
static inline pp_doubled pp_doubled_multiply(pp_doubled a, pp_doubled b)
{
    double product = a.hi * b.hi, rest = fma(a.hi, b.hi, -product);
    return pp_doubled_sum(product, rest + (a.hi * b.lo + a.lo * b.hi));
}

/* Rounded to one double. */
static inline double pp_doubled_value(pp_doubled a) { return a.hi + a.lo; }

typedef struct pp_doubled_vector {
    pp_doubled c[3];
} pp_doubled_vector;

/* to - from, exactly */
static inline pp_doubled_vector pp_doubled_between(const double from[3], const double to[3])
{
    pp_doubled_vector v;
    for (int k = 0; k < 3; k++) v.c[k] = pp_doubled_sum(to[k], -from[k]);
    return v;
}

/* a x b. */
static inline pp_doubled_vector pp_doubled_cross(pp_doubled_vector a, pp_doubled_vector b)
{
    pp_doubled_vector v;
    for (int k = 0; k < 3; k++) {
        int i = (k + 1) % 3, j = (k + 2) % 3;
        v.c[k] = pp_doubled_add(pp_doubled_multiply(a.c[i], b.c[j]),
                                pp_doubled_negate(pp_doubled_multiply(a.c[j], b.c[i])));
    }
    return v;
}

/* a . b. */
static inline pp_doubled pp_doubled_dot(pp_doubled_vector a, pp_doubled_vector b)
{
    pp_doubled sum = pp_doubled_multiply(a.c[0], b.c[0]);
    for (int k = 1; k < 3; k++) sum = pp_doubled_add(sum, pp_doubled_multiply(a.c[k], b.c[k]));
    return sum;
}

#endif

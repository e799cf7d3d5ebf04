/* Compensated sums (Neumaier, Z. Angew. Math. Mech. 54 (1974) 39, with Knuth's two-sum): the error
 * does not grow with the number of terms, so that the order of rows does not show in the digits
 * reported. Merge partial sums in part order. */
#ifndef PP_BASE_SUM_H
#define PP_BASE_SUM_H

typedef struct pp_sum {
    double high, low;
} pp_sum;

/* Add one term. */
static inline void pp_sum_add(pp_sum *sum, double term)
{
    double total = sum->high + term;
    double seen = total - sum->high;
    sum->low += (sum->high - (total - seen)) + (term - seen);
    sum->high = total;
}

/* Add the sum of a part. */
static inline void pp_sum_merge(pp_sum *sum, pp_sum part)
{
    pp_sum_add(sum, part.high);
    sum->low += part.low;
}

/* The sum so far, rounded once. */
static inline double pp_sum_value(pp_sum sum) { return sum.high + sum.low; }

#endif

#include "linalg/small.h"

#include "base/clones.h"

enum { WIDE = 4 }; /* doubles in a vector */

size_t pp_small_rows(size_t n) { return (n + WIDE - 1) / WIDE * WIDE; }

/* to[i] -= f * from[i] in whole vectors, from the one that holds `begin`. What stands above the
 * diagonal there is spoilt, and of no use yet. */
static inline void take_off(size_t begin, size_t rows, double f, const double *restrict from,
                            double *restrict to)
{
    for (size_t i = begin / WIDE * WIDE; i < rows; i += WIDE)
        for (size_t l = 0; l < WIDE; l++) to[i + l] -= f * from[i + l];
}

/* 1/D on the diagonal, L below it, L' above */
PP_VECTOR_CLONES bool pp_small_factor(size_t n, size_t positive, double *a)
{
    size_t ld = pp_small_rows(n);
    for (size_t j = 0; j < n; j++) {
        double *column = a + j * ld;
        if (!(j < positive ? column[j] > 0 : column[j] < 0)) return false;
        column[j] = 1 / column[j];
        for (size_t c = j + 1; c < n; c++)
            take_off(c, ld, column[c] * column[j], column, a + c * ld);
    }
    for (size_t j = 0; j < n; j++) {
        double *column = a + j * ld;
        for (size_t i = j + 1; i < n; i++) a[i * ld + j] = column[i] *= column[j];
    }
    return true;
}

/* By columns both ways: no sum that has to wait for itself */
PP_VECTOR_CLONES void pp_small_solve(size_t n, const double *factor, double *x)
{
    size_t ld = pp_small_rows(n);
    for (size_t j = 0; j < n; j++)
        for (size_t i = j + 1; i < n; i++) x[i] -= x[j] * factor[j * ld + i];
    for (size_t j = 0; j < n; j++) x[j] *= factor[j * ld + j];
    for (size_t j = n; j-- > 0;)
        for (size_t i = 0; i < j; i++) x[i] -= x[j] * factor[j * ld + i];
}

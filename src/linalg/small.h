/* Small symmetric systems, where a call of LAPACK costs more than its work. */
#ifndef PP_LINALG_SMALL_H
#define PP_LINALG_SMALL_H

#include <stdbool.h>
#include <stddef.h>

/* Leading dimension for n columns: whole vectors of four. */
size_t pp_small_rows(size_t n);

/* L D L' without pivoting of a symmetric quasi-definite matrix, [[A, B'], [B, -C]] with A of order
 * `positive` and C positive definite: it exists in any order (Vanderbei, SIAM J. Optim. 5 (1995)
 * 100), and with A first no growth is had from small entries of C. a[ld * n] with ld =
 * pp_small_rows(n), lower triangle given; the rest, too, is overwritten. False where a pivot has
 * the wrong sign or is nought: the matrix is none such, or as good as singular. */
bool pp_small_factor(size_t n, size_t positive, double *a);
/* x[n] in place */
void pp_small_solve(size_t n, const double *factor, double *x);

#endif

/* Linear algebra: the only wall to LAPACKE and OpenBLAS. Column-major, double precision.
 * Sizes that do not fit LAPACK's integers are refused with PP_ENUMERIC: by the functions that give
 * a status, and for the others by pp_sizes_fit, asked by whoever takes their arrays. Nothing here
 * allocates more than LAPACKE does for its own workspace. Thread-safe; run with one BLAS thread
 * (set in src/cli) for the same bits everywhere.
 */
#ifndef PP_LINALG_LINALG_H
#define PP_LINALG_LINALG_H

#include <stddef.h>

#include "plateproof/error.h"

/* Whether numbers of rows and columns and leading dimensions of up to `largest` fit.
 * errors: PP_ENUMERIC beyond the integers of the libraries (2^31 - 1) */
pp_status pp_sizes_fit(size_t largest, pp_error *error);

/* Cholesky of a symmetric positive definite band matrix (dpbtrf, lower): band[(kd + 1) * n],
 * band[j * (kd + 1) + k] = A[j + k][j]; overwritten by the factor. PP_ENUMERIC: not positive
 * definite. */
pp_status pp_band_factor(size_t n, size_t kd, double *band, pp_error *error);
/* Solve for `count` right-hand sides x[n * count] in place (dpbtrs).
 * errors   PP_ENUMERIC: sizes that do not fit, or LAPACK refuses; PP_ENOMEM */
pp_status pp_band_solve(size_t n, size_t kd, const double *factor, size_t count, double *x,
                        pp_error *error);
/* The same for right-hand sides side by side, x[i * stride + c] for c < count, in dense blocks.
 * errors   PP_ENUMERIC: sizes that do not fit */
pp_status pp_band_solve_beside(size_t n, size_t kd, const double *factor, size_t count, double *x,
                               size_t stride, pp_error *error);
/* Only the first half of it, L y = b, for right-hand sides that are nought above a row of their
 * own: first[count], ascending. y is nought there, too.
 * errors   PP_ENUMERIC: sizes that do not fit */
pp_status pp_band_forward_beside(size_t n, size_t kd, const double *factor, const size_t *first,
                                 size_t count, double *x, size_t stride, pp_error *error);
/* y += L x for vectors side by side, x and y [i * stride + c] for c < count. errors: PP_ENUMERIC:
 * sizes that do not fit */
pp_status pp_band_lower_multiply_beside(size_t n, size_t kd, const double *factor, size_t count,
                                        const double *x, double *y, size_t stride, pp_error *error);
/* The inverse Z of the matrix factored, within nb >= kd of its diagonal:
 * near[j * (nb + 1) + k] = Z[j + k][j]. From the last columns back, K the rows of L below the
 * columns J, I those of Z (Takahashi, Fagan and Chin 1973):
 *     Z_IJ = -Z_IK L_KJ L_JJ^-1,   Z_JJ = (L_JJ L_JJ')^-1 - Z_JK L_KJ L_JJ^-1.
 * room[pp_band_invert_room(kd, nb)] is workspace. */
void pp_band_invert_near(size_t n, size_t kd, const double *factor, size_t nb, double *near,
                         double *room);
/* Doubles of workspace that it needs. */
size_t pp_band_invert_room(size_t kd, size_t nb);
/* log of the determinant of the matrix factored. */
double pp_band_log_determinant(size_t n, size_t kd, const double *factor);
/* Reciprocal condition number in the 1-norm, as dpbcon estimates it (dlacn2), but by dpbtrs: its
 * careful scaling costs as much as two factors; `norm` of the matrix before factoring.
 * errors   PP_ENUMERIC: sizes that do not fit, or LAPACK refuses; PP_ENOMEM */
pp_status pp_band_condition(size_t n, size_t kd, const double *factor, double norm,
                            double *reciprocal, pp_error *error);
/* 1-norm of a symmetric band matrix (lower).
 * errors   PP_ENOMEM */
pp_status pp_band_norm(size_t n, size_t kd, const double *band, double *norm, pp_error *error);
/* y = A x for the symmetric band matrix (dsbmv, lower). */
void pp_band_multiply(size_t n, size_t kd, const double *band, const double *x, double *y);

/* Dense: C = alpha op(A) op(B) + beta C, ld given. transpose: 0 or 1. */
void pp_matrix_multiply(int transpose_a, int transpose_b, size_t m, size_t n, size_t k,
                        double alpha, const double *a, size_t lda, const double *b, size_t ldb,
                        double beta, double *c, size_t ldc);
/* y = alpha op(A) x + beta y, A m x n. */
void pp_matrix_vector(int transpose, size_t m, size_t n, double alpha, const double *a, size_t lda,
                      const double *x, double beta, double *y);
/* Dense Cholesky (dpotrf, lower) and solve. errors: PP_ENUMERIC: not positive definite, or sizes
 * that do not fit; PP_ENOMEM */
pp_status pp_cholesky_factor(size_t n, double *a, size_t lda, pp_error *error);
pp_status pp_cholesky_solve(size_t n, const double *factor, size_t lda, size_t count, double *x,
                            size_t ldx, pp_error *error);
/* Dense LU with pivoting (dgetrf, dgetrs); pivots[n]. PP_ENUMERIC: singular. */
pp_status pp_lu_factor(size_t n, double *a, size_t lda, int *pivots, pp_error *error);
pp_status pp_lu_solve(size_t n, const double *factor, size_t lda, const int *pivots, size_t count,
                      double *x, size_t ldx, pp_error *error);
/* SVD of a small a[n * n] (overwritten): singular values s[n] descending, right vectors as columns
 * of v[n * n].
 * errors   PP_ENUMERIC: more columns than its workspace has, or no convergence; PP_ENOMEM */
pp_status pp_svd_right(size_t n, double *a, double *s, double *v, pp_error *error);

/* BLAS threads are process-wide: call once from the program, never from the library. */
void pp_blas_single_thread(void);

#endif

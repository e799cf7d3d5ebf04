#include "linalg/linalg.h"

#include <cblas.h>
#include <lapacke.h>
#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <sys/mman.h>

void openblas_set_num_threads(int count);
/* OpenBLAS starts its threads when it is loaded, and for a tenth of a second they look for work
 * without sleeping. Not in every build of it. */
extern int blas_thread_shutdown_(void) __attribute__((weak));

pp_status pp_sizes_fit(size_t largest, pp_error *error)
{
    if (largest <= INT_MAX) return PP_OK;
    return pp_fail(error, PP_ENUMERIC,
                   "a matrix is too large for the linear algebra library; use "
                   "fewer elements or points");
}

static size_t larger(size_t a, size_t b) { return a > b ? a : b; }

/* Sizes, and the leading dimension of a band of kd (one more than it). */
static pp_status fit(size_t n, size_t kd, size_t count, pp_error *error)
{
    if (kd == SIZE_MAX) return pp_sizes_fit(kd, error);
    return pp_sizes_fit(larger(larger(n, kd + 1), count), error);
}

/* OpenBLAS maps a buffer of 128 MiB a thread when it first needs one and tries for ever where there
 * is no room for it (a limit on the address space): look before the first calls of a stage. */
static pp_status find_room(pp_error *error)
{
    const size_t bytes = (size_t)128 << 20;
    void *place = mmap(NULL, bytes, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
    if (place == MAP_FAILED) return pp_fail_memory(error);
    munmap(place, bytes);
    return PP_OK;
}

/* LAPACK's info: 0 ok, > 0 the matrix is at fault, < 0 an argument (NaN among the data) or memory
 */
static pp_status outcome(lapack_int info, const char *what, pp_error *error)
{
    if (info == 0) return PP_OK;
    if (info == LAPACK_WORK_MEMORY_ERROR || info == LAPACK_TRANSPOSE_MEMORY_ERROR)
        return pp_fail_memory(error);
    return pp_fail(error, PP_ENUMERIC,
                   "%s failed (code %d); the data leave the problem undetermined", what, (int)info);
}

pp_status pp_band_factor(size_t n, size_t kd, double *band, pp_error *error)
{
    PP_TRY(fit(n, kd, 1, error));
    PP_TRY(find_room(error));
    return outcome(LAPACKE_dpbtrf_work(LAPACK_COL_MAJOR, 'L', (lapack_int)n, (lapack_int)kd, band,
                                       (lapack_int)(kd + 1)),
                   "factoring the stiffness", error);
}

pp_status pp_band_solve(size_t n, size_t kd, const double *factor, size_t count, double *x,
                        pp_error *error)
{
    PP_TRY(fit(n, kd, count, error));
    return outcome(LAPACKE_dpbtrs_work(LAPACK_COL_MAJOR, 'L', (lapack_int)n, (lapack_int)kd,
                                       (lapack_int)count, factor, (lapack_int)(kd + 1), x,
                                       (lapack_int)n),
                   "solving for the plate", error);
}

double pp_band_log_determinant(size_t n, size_t kd, const double *factor)
{
    double sum = 0;
    for (size_t j = 0; j < n; j++) sum += log(factor[j * (kd + 1)]);
    return 2 * sum;
}

pp_status pp_band_condition(size_t n, size_t kd, const double *factor, double norm,
                            double *reciprocal, pp_error *error)
{
    PP_TRY(fit(n, kd, 2, error));
    double *v = malloc(2 * n * sizeof *v), norm_of_inverse = 0;
    lapack_int *sign = malloc(n * sizeof *sign), kase = 0, save[3];
    pp_status status = v && sign ? PP_OK : pp_fail_memory(error);
    while (status == PP_OK) {
        LAPACKE_dlacn2_work((lapack_int)n, v, v + n, sign, &norm_of_inverse, &kase, save);
        if (kase == 0) break;
        status = pp_band_solve(n, kd, factor, 1, v + n, error);
    }
    free(v), free(sign);
    *reciprocal = 1 / norm_of_inverse / norm;
    return status;
}

pp_status pp_band_norm(size_t n, size_t kd, const double *band, double *norm, pp_error *error)
{
    double largest = 0, *left = calloc(n, sizeof *left); /* sums left of the diagonal */
    if (!left) return pp_fail_memory(error);
    for (size_t j = 0; j < n; j++) {
        const double *column = band + j * (kd + 1);
        size_t below = j + kd < n ? kd : n - 1 - j;
        double sum = left[j] + fabs(column[0]);
        for (size_t k = 1; k <= below; k++) {
            sum += fabs(column[k]);
            left[j + k] += fabs(column[k]);
        }
        if (sum > largest) largest = sum;
    }
    free(left);
    *norm = largest;
    return PP_OK;
}

void pp_band_multiply(size_t n, size_t kd, const double *band, const double *x, double *y)
{
    cblas_dsbmv(CblasColMajor, CblasLower, (int)n, (int)kd, 1.0, band, (int)(kd + 1), x, 1, 0.0, y,
                1);
}

void pp_matrix_multiply(int transpose_a, int transpose_b, size_t m, size_t n, size_t k,
                        double alpha, const double *a, size_t lda, const double *b, size_t ldb,
                        double beta, double *c, size_t ldc)
{
    cblas_dgemm(CblasColMajor, transpose_a ? CblasTrans : CblasNoTrans,
                transpose_b ? CblasTrans : CblasNoTrans, (int)m, (int)n, (int)k, alpha, a, (int)lda,
                b, (int)ldb, beta, c, (int)ldc);
}

void pp_matrix_vector(int transpose, size_t m, size_t n, double alpha, const double *a, size_t lda,
                      const double *x, double beta, double *y)
{
    cblas_dgemv(CblasColMajor, transpose ? CblasTrans : CblasNoTrans, (int)m, (int)n, alpha, a,
                (int)lda, x, 1, beta, y, 1);
}

pp_status pp_cholesky_factor(size_t n, double *a, size_t lda, pp_error *error)
{
    PP_TRY(fit(n, lda, 1, error));
    return outcome(LAPACKE_dpotrf_work(LAPACK_COL_MAJOR, 'L', (lapack_int)n, a, (lapack_int)lda),
                   "factoring a matrix", error);
}

pp_status pp_cholesky_solve(size_t n, const double *factor, size_t lda, size_t count, double *x,
                            size_t ldx, pp_error *error)
{
    PP_TRY(fit(lda, ldx, count, error));
    return outcome(LAPACKE_dpotrs_work(LAPACK_COL_MAJOR, 'L', (lapack_int)n, (lapack_int)count,
                                       factor, (lapack_int)lda, x, (lapack_int)ldx),
                   "solving a system", error);
}

pp_status pp_lu_factor(size_t n, double *a, size_t lda, int *pivots, pp_error *error)
{
    PP_TRY(fit(n, lda, 1, error));
    return outcome(LAPACKE_dgetrf_work(LAPACK_COL_MAJOR, (lapack_int)n, (lapack_int)n, a,
                                       (lapack_int)lda, pivots),
                   "factoring a matrix", error);
}

pp_status pp_lu_solve(size_t n, const double *factor, size_t lda, const int *pivots, size_t count,
                      double *x, size_t ldx, pp_error *error)
{
    PP_TRY(fit(lda, ldx, count, error));
    return outcome(LAPACKE_dgetrs_work(LAPACK_COL_MAJOR, 'N', (lapack_int)n, (lapack_int)count,
                                       factor, (lapack_int)lda, pivots, x, (lapack_int)ldx),
                   "solving a system", error);
}

pp_status pp_svd_right(size_t n, double *a, double *s, double *v, pp_error *error)
{
    enum { SIZE_LIMIT = 16 };
    double vt[SIZE_LIMIT * SIZE_LIMIT], superdiagonal[SIZE_LIMIT], u[1];
    if (n > SIZE_LIMIT)
        return pp_fail(error, PP_ENUMERIC, "a singular value decomposition of more than %d columns",
                       SIZE_LIMIT);
    PP_TRY(find_room(error));
    PP_TRY(outcome(LAPACKE_dgesvd(LAPACK_COL_MAJOR, 'N', 'A', (lapack_int)n, (lapack_int)n, a,
                                  (lapack_int)n, s, u, 1, vt, (lapack_int)n, superdiagonal),
                   "a singular value decomposition", error));
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++) v[j * n + i] = vt[i * n + j];
    return PP_OK;
}

void pp_blas_single_thread(void)
{
    openblas_set_num_threads(1);
    if (blas_thread_shutdown_) blas_thread_shutdown_();
}

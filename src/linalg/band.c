/* Band factors in dense blocks: LAPACK's own band routines take one right-hand side at a time.
 *
 * A lower band with kd below the diagonal, read with a leading dimension of kd instead of kd + 1,
 * shows any w <= kd + 1 columns as a dense matrix: a triangle, below it rows that are whole, below
 * these a corner of which only the upper triangle belongs to the band.
 */
#include "linalg/linalg.h"

#include <cblas.h>
#include <string.h>

enum { WIDTH = 48 };

typedef struct panel {
    size_t first, width; /* columns */
    const double *base;  /* the triangle */
    int ld;
    size_t whole, corner;     /* rows below the triangle, and below these */
    double at[WIDTH * WIDTH]; /* the corner, zeros filled in */
} panel;

static size_t smaller(size_t a, size_t b) { return a < b ? a : b; }

static size_t panel_width(size_t kd) { return kd < 1 ? 1 : smaller(kd, WIDTH); }

static void open_panel(size_t n, size_t kd, const double *factor, size_t first, panel *p)
{
    p->first = first;
    p->width = smaller(panel_width(kd), n - first);
    p->base = factor + first * (kd + 1);
    p->ld = kd < 1 ? 1 : (int)kd;
    size_t below = n - first - p->width;
    p->whole = smaller(kd + 1 - p->width, below);
    p->corner = smaller(p->width - 1, below - p->whole);
    for (size_t c = 0; c < p->width; c++)
        for (size_t q = 0; q < p->corner; q++)
            p->at[c * WIDTH + q] = q < c ? p->base[c * kd + kd + 1 + q] : 0;
}

/* c += alpha a op(b) */
static void add_product(CBLAS_TRANSPOSE op, size_t m, size_t n, size_t k, double alpha,
                        const double *a, size_t lda, const double *b, int ldb, double *c,
                        size_t ldc)
{
    if (m == 0 || n == 0 || k == 0) return;
    cblas_dgemm(CblasColMajor, CblasNoTrans, op, (int)m, (int)n, (int)k, alpha, a, (int)lda, b, ldb,
                1, c, (int)ldc);
}

/* x = x op(triangle)^-1 */
static void divide(CBLAS_TRANSPOSE op, size_t m, const panel *p, double *x, size_t ldx)
{
    cblas_dtrsm(CblasColMajor, CblasRight, CblasLower, op, CblasNonUnit, (int)m, (int)p->width, 1,
                p->base, p->ld, x, (int)ldx);
}

/* One panel of L y = b for the first `count` right-hand sides */
static void forward(const panel *p, size_t count, double *x, size_t stride)
{
    double *here = x + p->first * stride, *below = here + p->width * stride;
    divide(CblasTrans, count, p, here, stride);
    add_product(CblasTrans, count, p->whole, p->width, -1, here, stride, p->base + p->width, p->ld,
                below, stride);
    add_product(CblasTrans, count, p->corner, p->width, -1, here, stride, p->at, WIDTH,
                below + p->whole * stride, stride);
}

static pp_status beside_fits(size_t n, size_t kd, size_t count, size_t stride, pp_error *error)
{
    PP_TRY(pp_sizes_fit(n > kd ? n : kd, error));
    return pp_sizes_fit(stride > count ? stride : count, error);
}

pp_status pp_band_forward_beside(size_t n, size_t kd, const double *factor, const size_t *first,
                                 size_t count, double *x, size_t stride, pp_error *error)
{
    PP_TRY(beside_fits(n, kd, count, stride, error));
    size_t width = panel_width(kd), begun = 0;
    panel p;
    for (size_t from = 0; from < n && count > 0; from += width) {
        while (begun < count && first[begun] < from + width) begun++;
        if (begun == 0) continue;
        open_panel(n, kd, factor, from, &p);
        forward(&p, begun, x, stride);
    }
    return PP_OK;
}

pp_status pp_band_lower_multiply_beside(size_t n, size_t kd, const double *factor, size_t count,
                                        const double *x, double *y, size_t stride, pp_error *error)
{
    PP_TRY(beside_fits(n, kd, count, stride, error));
    size_t width = panel_width(kd);
    double triangle[WIDTH * WIDTH] = {0};
    panel p;
    for (size_t first = 0; first < n; first += width) {
        open_panel(n, kd, factor, first, &p);
        for (size_t c = 0; c < p.width; c++)
            for (size_t q = c; q < p.width; q++)
                triangle[c * WIDTH + q] = p.base[c * (size_t)p.ld + q];
        const double *from = x + first * stride;
        double *here = y + first * stride, *below = here + p.width * stride;
        add_product(CblasTrans, count, p.width, p.width, 1, from, stride, triangle, WIDTH, here,
                    stride);
        add_product(CblasTrans, count, p.whole, p.width, 1, from, stride, p.base + p.width, p.ld,
                    below, stride);
        add_product(CblasTrans, count, p.corner, p.width, 1, from, stride, p.at, WIDTH,
                    below + p.whole * stride, stride);
    }
    return PP_OK;
}

pp_status pp_band_solve_beside(size_t n, size_t kd, const double *factor, size_t count, double *x,
                               size_t stride, pp_error *error)
{
    if (n == 0 || count == 0) return PP_OK;
    PP_TRY(beside_fits(n, kd, count, stride, error));
    size_t width = panel_width(kd);
    panel p;
    for (size_t first = 0; first < n; first += width) { /* L y = b */
        open_panel(n, kd, factor, first, &p);
        forward(&p, count, x, stride);
    }
    for (size_t first = (n - 1) / width * width;; first -= width) { /* L' x = y */
        open_panel(n, kd, factor, first, &p);
        double *here = x + first * stride, *below = here + p.width * stride;
        add_product(CblasNoTrans, count, p.width, p.whole, -1, below, stride, p.base + p.width,
                    p.ld, here, stride);
        add_product(CblasNoTrans, count, p.width, p.corner, -1, below + p.whole * stride, stride,
                    p.at, WIDTH, here, stride);
        divide(CblasNoTrans, count, &p, here, stride);
        if (first == 0) return PP_OK;
    }
}

/* The rows below the triangle, L_KJ, as a dense matrix of its own. */
static void copy_below(const panel *p, double *g, size_t ldg)
{
    for (size_t c = 0; c < p->width; c++) {
        memcpy(g + c * ldg, p->base + c * (size_t)p->ld + p->width, p->whole * sizeof *g);
        memcpy(g + c * ldg + p->whole, p->at + c * WIDTH, p->corner * sizeof *g);
    }
}

/* The inverse of L_JJ L_JJ' into z[WIDTH * WIDTH] */
static void invert_triangle(const panel *p, double *z)
{
    memset(z, 0, WIDTH * WIDTH * sizeof *z);
    for (size_t c = 0; c < p->width; c++) z[c * WIDTH + c] = 1;
    divide(CblasTrans, p->width, p, z, WIDTH);
    divide(CblasNoTrans, p->width, p, z, WIDTH);
}

size_t pp_band_invert_room(size_t kd, size_t nb) { return (kd + nb + 1) * panel_width(kd); }

/* z, and t for the rows below it, into the band. */
static void store(const panel *p, size_t rows, const double *z, const double *t, size_t nb,
                  double *near)
{
    for (size_t c = 0; c < p->width; c++) {
        double *column = near + (p->first + c) * (nb + 1);
        size_t inside = smaller(p->width - c, nb + 1), low = smaller(nb + 1 - inside, rows);
        memcpy(column, z + c * WIDTH + c, inside * sizeof *z);
        memcpy(column + inside, t + c * nb, low * sizeof *t);
        memset(column + inside + low, 0, (nb + 1 - inside - low) * sizeof *t);
    }
}

void pp_band_invert_near(size_t n, size_t kd, const double *factor, size_t nb, double *near,
                         double *room)
{
    size_t width = panel_width(kd);
    double *g = room, *t = room + kd * width, z[WIDTH * WIDTH];
    panel p;
    for (size_t first = n; first > 0;) {
        first = (first - 1) / width * width;
        open_panel(n, kd, factor, first, &p);
        const double *beyond = near + (first + p.width) * (nb + 1); /* read as dense like a panel */
        size_t k = p.whole + p.corner; /* none: a diagonal matrix, or its end */
        size_t rows = k == 0 ? 0 : smaller(nb, n - first - p.width);
        invert_triangle(&p, z);
        if (k > 0) {
            copy_below(&p, g, kd);
            divide(CblasNoTrans, k, &p, g, kd);
            cblas_dsymm(CblasColMajor, CblasLeft, CblasLower, (int)k, (int)p.width, -1, beyond,
                        (int)nb, g, (int)kd, 0, t, (int)nb);
            pp_matrix_multiply(0, 0, rows - k, p.width, k, -1, beyond + k, nb, g, kd, 0, t + k, nb);
            pp_matrix_multiply(1, 0, p.width, p.width, k, -1, t, nb, g, kd, 1, z, WIDTH);
        }
        store(&p, rows, z, t, nb, near);
    }
}

/* Robust regression of a plane vector field on a few known fields.
 *
 *     value_i = sum over j of beta_j a_ij + error_i,   value, a and error vectors (x, y)
 *
 * with one weight per item from the length of its whole residual, so that a hole drilled in the
 * wrong place loses both coordinates at once.
 *
 * Start    least sum of residual lengths (spatial median), by iteratively reweighted least squares.
 * Scale    per axis the median absolute residual, then one common factor that makes the median
 *          scaled length that of two unit normals (sqrt(2 ln 2)), times sqrt(2n / (2n - p)).
 * Fit      Tukey's biweight on the scaled length d, c = 5.123 (95 % efficiency in the plane):
 *          weight (1 - u)^2, u = (d/c)^2, 0 beyond; the scale stays fixed.
 * Errors   covariance = mean psi^2 / (mean psi')^2 (A'A)^-1 K^2, psi' averaged over the radial
 *          direction, (1 - u)(1 - 5u), and the tangential one, (1 - u)^2;
 *          K = 1 + p/(2n) var psi' / (mean psi')^2, Huber's small-sample factor.
 *
 * Sources: Huber & Ronchetti, Robust Statistics, 2nd ed. 2009, ch. 7; Maronna, Martin & Yohai,
 * Robust Statistics, 2006, ch. 4 and 6; Beaton & Tukey, Technometrics 16 (1974) 147.
 */
#ifndef PP_CAUSES_ROBUST_H
#define PP_CAUSES_ROBUST_H

#include <stdbool.h>
#include <stdint.h>

#include "base/memory.h"

enum { PP_ROBUST_TERMS_MAX = 64 };
#define PP_ROBUST_TUKEY_C 5.123
#define PP_ROBUST_MISFIT 0.05      /* an item of less weight is no part of the pattern */
#define PP_ROBUST_SCALE_FLOOR 1e-6 /* mm: below any instrument's resolution */

typedef struct pp_robust_row {
    double a[2][PP_ROBUST_TERMS_MAX]; /* of x and of y, by term */
    double value[2];
} pp_robust_row;

/* Writes row `item`; of a[axis] only the terms with has[axis][term]. Called from several threads.
 */
typedef void (*pp_robust_fill)(const void *context, size_t item, pp_robust_row *row);

/* Writes rows first .. first + count - 1 one behind the other, each without the terms an axis has
 * not: a of x, a of y, value of x, value of y. */
typedef void (*pp_robust_fill_rows)(const void *context, size_t first, size_t count, double *rows);

typedef struct pp_robust_problem {
    size_t count;
    int terms; /* <= PP_ROBUST_TERMS_MAX */
    bool has[2][PP_ROBUST_TERMS_MAX];
    pp_robust_fill fill;
    pp_robust_fill_rows fill_rows; /* the same rows, faster; NULL: by fill */
    const void *context;
    const bool *left_out; /* [count]: takes no part at all; NULL: everybody does */
    int threads;
} pp_robust_problem;

typedef struct pp_robust_fit {
    double beta[PP_ROBUST_TERMS_MAX];
    double covariance[PP_ROBUST_TERMS_MAX * PP_ROBUST_TERMS_MAX]; /* [terms * terms] */
    double inverse[PP_ROBUST_TERMS_MAX * PP_ROBUST_TERMS_MAX];    /* (A'A)^-1, rows scaled */
    double slope;                                                 /* mean psi' */
    double small;                                                 /* K */
    double scale[2];                                              /* of one coordinate, x and y */
    size_t count;                                                 /* items that took part */
    size_t kept; /* of these, with a weight of at least PP_ROBUST_MISFIT */
    double df;   /* 2 kept - terms */
    /* of each term's variance: df, or of a sandwich (Satterthwaite) how many holes it rests on */
    double term_df[PP_ROBUST_TERMS_MAX];
    double *weight;      /* [count], the caller's; 0 where left out */
    double *residual[2]; /* [count], the caller's; mm */
} pp_robust_fit;

/* Fit from scratch, or, with `from_beta`, from fit->beta as it stands.
 *
 * in/out   fit      weight and residual set by the caller to arrays of `count`; the rest is written
 * scratch  temporaries, released
 * errors   PP_ENUMERIC when the terms cannot be told apart (screen them first) or fewer than
 *          terms + 1 coordinates take part; PP_ENOMEM
 */
pp_status pp_robust_solve(const pp_robust_problem *problem, bool from_beta, pp_arena *scratch,
                          pp_robust_fit *fit, pp_error *error);

/* Middle value (mean of the two middle ones) of v[count], which is put in another order; NaN of
 * nothing. */
double pp_median(double *v, size_t count);

/* Makes the median absolute deviation of a normal its standard deviation. */
#define PP_MAD_TO_SIGMA 1.482602218505602

#endif

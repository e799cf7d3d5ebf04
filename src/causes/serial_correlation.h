/* Errors that follow from hole to hole along the drilling order: a slow wander of the machine that
 * no term describes. Left alone it makes every test overconfident: at a correlation of 0.5 more
 * than half of all sound plates would raise an alarm.
 *
 * Where the lag-1 correlation of the residuals is significant, rows are whitened as an
 * autoregression of order 1 asks,
 *
 *     row'_k = (row_k - f row_prev) / sqrt(1 - f^2),  f = rho^gap
 *
 * `prev` being the hole drilled last before k that is part of the pattern, `gap` holes earlier;
 * then the fit is repeated, three rounds. What correlation is left after that goes into the
 * covariance (Newey & West, Econometrica 55 (1987) 703).
 */
#ifndef PP_CAUSES_SERIAL_CORRELATION_H
#define PP_CAUSES_SERIAL_CORRELATION_H

#include "causes/robust.h"

/* Significant: |correlation| sqrt(2 pairs) beyond this (two-sided 0.1 %). */
#define PP_SERIAL_SIGNIFICANT 3.3
#define PP_SERIAL_ROUNDS 3

typedef struct pp_serial {
    double correlation;                     /* lag 1 of the residuals of the plain fit */
    double pairs;                           /* of neighbours it comes from */
    double rho;                             /* used for whitening; 0: none was needed */
    bool newey_west;                        /* the covariance allows for what was left */
    double plain_size[PP_ROBUST_TERMS_MAX]; /* 1 / diagonal of (A'A)^-1, plain rows: the squared
                                               size of each term beside all others */
} pp_serial;

/* Solve `problem`, items in drilling order, allowing for serial correlation.
 *
 * uneven   the scatter of the items differs in a way the fit does not model: where no correlation
 *          is left, the covariance is the sandwich HC3, one cluster per item (MacKinnon and White,
 *          J. Econometrics 29 (1985) 305), term_df its degrees of freedom (F. Satterthwaite,
 *          Biometrics Bulletin 2 (1946) 110)
 * out      fit        beta, covariance, df as tests need them; weight and residual of the plain
 *                     rows (as pp_robust_solve leaves them), so that misfits are named once
 * errors   as pp_robust_solve
 */
pp_status pp_serial_solve(const pp_robust_problem *problem, bool uneven, pp_arena *scratch,
                          pp_robust_fit *fit, pp_serial *serial, pp_error *error);

#endif

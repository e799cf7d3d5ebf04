/* How smooth a surface through noisy heights should be: restricted maximum likelihood (REML).
 *
 * The surface minimises sum weight (phi.w - z)^2 + mu w'K w, with K the bending energy. Seen as
 * random, w has the covariance of 1/(lambda K) and the heights an error sigma, mu = lambda sigma^2.
 * With P(mu) = z'z - w'b, the minimum reached, and L = log det(A + mu K), n - 3 the rank of K and N
 * the number of heights, minus twice the restricted log-likelihood is, up to constants,
 *   sigma known:   P / sigma^2 + L - (n - 3) log mu
 *   sigma unknown: (N - 3) log P + L - (n - 3) log mu,  sigma^2 = P / (N - 3).
 * Only a Cholesky factor is needed for each mu. The degrees of freedom of the fit,
 * tr (A + mu K)^-1 A = n - dL/d(log mu), come from two neighbouring factors.
 * With a guide the scan is made on its few unknowns, and the problem itself is looked at where that
 * has its least value, either side, and at one small mu, with which detail that the guide cannot
 * follow would show. From there a polynomial through the trials leads to its own least value. Where
 * more unknowns pay at the small mu, where a stated sigma is refuted, or where the two disagree by
 * more than a decade, all is scanned as without a guide.
 * Source: Wahba, Annals of Statistics 13 (1985); Wood, J. R. Statist. Soc. B 73 (2011).
 */
#ifndef PP_FLATNESS_SMOOTHING_H
#define PP_FLATNESS_SMOOTHING_H

#include <stdbool.h>

#include "base/memory.h"

typedef struct pp_smoothing_problem {
    size_t n, half_bandwidth;
    const double *normal;    /* A, lower band */
    const double *stiffness; /* K, lower band; positive diagonal */
    const double *load;      /* b [n] */
    double zz;               /* sum of weight z^2 */
    double weight;           /* N, sum of weights */
    double unit;             /* mu of about equal say of heights and stiffness: N L^4 / area */
    double sigma;            /* known standard deviation of a height; NaN: unknown */
    bool sigma_trusted;      /* false: the residuals may refute it */
    double near;             /* a mu to look near first; NaN: none */
    /* the same heights on fewer unknowns (coarse_system.h), to see where to look; NULL: none */
    const struct pp_smoothing_problem *guide;
    int threads;
    double *factor; /* room for the band factor of A + mu K with the mu chosen; NULL: not wanted */
} pp_smoothing_problem;

typedef struct pp_smoothing {
    double mu;
    double noise; /* sqrt(P / (N - 3)); NaN for N <= 3 */
    double degrees_of_freedom;
    double condition;
    bool sigma_refuted; /* noise > 1.5 sigma: chosen as if sigma were unknown */
} pp_smoothing;

/* Choose mu and solve: solution[n]. PP_ENUMERIC when the heights do not determine a surface. */
pp_status pp_smoothing_solve(const pp_smoothing_problem *problem, pp_memory *memory,
                             double *solution, pp_smoothing *result, pp_error *error);

#endif

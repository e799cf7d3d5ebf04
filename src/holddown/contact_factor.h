/* Principal submatrices of one matrix, solved again and again for sets that differ little.
 *
 * The matrix is a contact base's: with the sign of the rows of its `active` first places turned it
 * is symmetric, and positive or negative definite in each of the two parts.
 *
 * The set solved last is kept factored: a small one by L D L' of the symmetric matrix, a larger one
 * by LU. Of the larger a set that differs from it in a few indices is solved by
 * bordering: indices added become extra unknowns, indices dropped are held at zero by a multiplier
 * each. Which sets were solved before decides how a set is solved, and with it the last bits: start
 * afresh (begin) wherever the result must not depend on the past.
 */
#ifndef PP_HOLDDOWN_CONTACT_FACTOR_H
#define PP_HOLDDOWN_CONTACT_FACTOR_H

#include <stdbool.h>
#include <stdint.h>

#include "base/memory.h"

enum { PP_BORDER_MAX = 32 }; /* indices added and dropped before the set is factored anew */

typedef struct pp_contact_factor {
    size_t room;     /* m: rows of the full matrix */
    size_t count;    /* of the set factored; 0: none */
    uint32_t *list;  /* [m] that set, ascending */
    uint32_t *place; /* [m] of each of the set asked for: its place there, or count + its number
                        among those added */
    bool small;      /* it is factored as a small one */
    double *lu;      /* [m * pp_small_rows(m)] */
    int *pivots;     /* [m] */
    double *border;  /* [m * (PP_BORDER_MAX + 2)] */
} pp_contact_factor;

/* Arrays for sets of up to m places, nothing factored. errors: PP_ENOMEM */
pp_status pp_contact_factor_take(size_t m, pp_arena *arena, pp_contact_factor *factor,
                                 pp_error *error);

/* Forget what was factored: the matrix has changed, or the past must not matter. */
void pp_contact_factor_begin(pp_contact_factor *factor);

typedef struct pp_contact_matrix {
    const double *p; /* [m * m] */
    size_t active;   /* of its places, the first */
} pp_contact_matrix;

/* x[count_rhs][k] with P_CC x = rhs_C for the set C = list[k] (ascending); count_rhs 1 or 2;
 * rhs[c][k] is given in x. errors: PP_ENUMERIC singular */
pp_status pp_contact_factor_solve(pp_contact_factor *factor, const pp_contact_matrix *matrix,
                                  size_t k, const uint32_t *list, size_t count_rhs, double *x,
                                  pp_error *error);

#endif

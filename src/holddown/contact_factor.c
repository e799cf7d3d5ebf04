#include "holddown/contact_factor.h"

#include <stdbool.h>
#include <string.h>

#include "linalg/linalg.h"

enum {
    BORDER_FROM = 64, /* smaller sets are factored anew: that is as quick */
    BORDER_SHARE = 8  /* at most a share of 1/8 of the set is bordered */
};

pp_status pp_contact_factor_take(size_t m, pp_arena *arena, pp_contact_factor *factor,
                                 pp_error *error)
{
    pp_contact_factor f = {.room = m};
    if (m && m > SIZE_MAX / sizeof(double) / m) return pp_fail_memory(error);
    PP_TAKE(f.list, arena, m);
    PP_TAKE(f.lu, arena, m * m);
    PP_TAKE(f.pivots, arena, m);
    PP_TAKE(f.border, arena, m * (PP_BORDER_MAX + 2));
    *factor = f;
    return PP_OK;
}

void pp_contact_factor_begin(pp_contact_factor *factor) { factor->count = 0; }

static pp_status factor_set(pp_contact_factor *f, const double *p, size_t k, const uint32_t *list,
                            pp_error *error)
{
    pp_contact_factor_begin(f);
    for (size_t j = 0; j < k; j++) {
        const double *column = p + list[j] * f->room;
        for (size_t i = 0; i < k; i++) f->lu[j * k + i] = column[list[i]];
    }
    PP_TRY(pp_lu_factor(k, f->lu, k, f->pivots, error));
    memcpy(f->list, list, k * sizeof *list);
    f->count = k;
    return PP_OK;
}

/* What was added to the factored set and what was dropped from it (its places there); false when it
 * is too much to border. Both lists are ascending. */
typedef struct change {
    size_t added, dropped;
    uint32_t add[PP_BORDER_MAX], drop[PP_BORDER_MAX];
} change;

static bool find_change(const pp_contact_factor *f, size_t k, const uint32_t *list, change *c)
{
    size_t most = k < BORDER_FROM ? 0 : k / BORDER_SHARE, i = 0, j = 0;
    if (most > PP_BORDER_MAX) most = PP_BORDER_MAX;
    c->added = c->dropped = 0;
    while (i < f->count || j < k) {
        if (i < f->count && j < k && f->list[i] == list[j]) {
            i++, j++;
            continue;
        }
        if (c->added + c->dropped == most) return false;
        if (j == k || (i < f->count && f->list[i] < list[j]))
            c->drop[c->dropped++] = (uint32_t)i++;
        else
            c->add[c->added++] = list[j++];
    }
    return true;
}

/* With the factored set R, C = R + added - dropped and W = P_RR^-1 [P_R,added, E_dropped]:
 *
 *     x_R = P_RR^-1 rhs_R - W u,   u = (x_added, multipliers of x_dropped = 0)
 *     ([P_added,added 0] - P_added,R W) u = rhs_added - P_added,R P_RR^-1 rhs_R
 *     E_dropped' W u                      = E_dropped' P_RR^-1 rhs_R
 */
static pp_status solve_bordered(pp_contact_factor *f, const double *p, size_t k,
                                const uint32_t *list, const change *c, size_t count_rhs, double *x,
                                pp_error *error)
{
    size_t m = f->room, n = f->count, b = c->added + c->dropped;
    double small[PP_BORDER_MAX * PP_BORDER_MAX], u[2 * PP_BORDER_MAX];
    int pivots[PP_BORDER_MAX];
    double *w = f->border, *z = w + b * n;
    memset(z, 0, count_rhs * n * sizeof *z);
    for (size_t r = 0; r < count_rhs; r++) /* rhs where R and C agree, by merging the lists */
        for (size_t i = 0, j = 0, a = 0; j < k; j++) {
            if (a < c->added && c->add[a] == list[j]) {
                u[r * b + a++] = x[r * k + j];
                continue;
            }
            while (f->list[i] != list[j]) i++;
            z[r * n + i] = x[r * k + j];
        }
    memset(w + c->added * n, 0, c->dropped * n * sizeof *w);
    for (size_t a = 0; a < c->added; a++)
        for (size_t i = 0; i < n; i++) w[a * n + i] = p[c->add[a] * m + f->list[i]];
    for (size_t d = 0; d < c->dropped; d++) w[(c->added + d) * n + c->drop[d]] = 1;
    PP_TRY(pp_lu_solve(n, f->lu, n, f->pivots, b + count_rhs, w, n, error));

    for (size_t l = 0; l < b; l++) {
        for (size_t a = 0; a < c->added; a++) {
            double sum = l < c->added ? p[c->add[l] * m + c->add[a]] : 0;
            for (size_t i = 0; i < n; i++) sum -= p[f->list[i] * m + c->add[a]] * w[l * n + i];
            small[l * b + a] = sum;
        }
        for (size_t d = 0; d < c->dropped; d++) small[l * b + c->added + d] = w[l * n + c->drop[d]];
    }
    for (size_t r = 0; r < count_rhs; r++) {
        for (size_t a = 0; a < c->added; a++)
            for (size_t i = 0; i < n; i++)
                u[r * b + a] -= p[f->list[i] * m + c->add[a]] * z[r * n + i];
        for (size_t d = 0; d < c->dropped; d++) u[r * b + c->added + d] = z[r * n + c->drop[d]];
    }
    PP_TRY(pp_lu_factor(b, small, b, pivots, error));
    PP_TRY(pp_lu_solve(b, small, b, pivots, count_rhs, u, b, error));

    pp_matrix_multiply(0, 0, n, count_rhs, b, -1, w, n, u, b, 1, z, n);
    for (size_t r = 0; r < count_rhs; r++)
        for (size_t i = 0, j = 0, a = 0; j < k; j++) {
            if (a < c->added && c->add[a] == list[j]) {
                x[r * k + j] = u[r * b + a++];
                continue;
            }
            while (f->list[i] != list[j]) i++;
            x[r * k + j] = z[r * n + i];
        }
    return PP_OK;
}

pp_status pp_contact_factor_solve(pp_contact_factor *factor, const double *p, size_t k,
                                  const uint32_t *list, size_t count_rhs, double *x,
                                  pp_error *error)
{
    change c;
    if (k == 0) return PP_OK;
    if (find_change(factor, k, list, &c) && c.added + c.dropped > 0)
        return solve_bordered(factor, p, k, list, &c, count_rhs, x, error);
    bool same = factor->count == k && memcmp(factor->list, list, k * sizeof *list) == 0;
    if (!same) PP_TRY(factor_set(factor, p, k, list, error));
    return pp_lu_solve(k, factor->lu, k, factor->pivots, count_rhs, x, k, error);
}

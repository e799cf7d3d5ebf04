#include "holddown/contact_factor.h"

#include <stdbool.h>
#include <string.h>

#include "linalg/linalg.h"
#include "linalg/small.h"

enum {
    BORDER_FROM = 64, /* smaller sets are factored anew, as small ones: that is as quick */
    BORDER_SHARE = 8  /* at most a share of 1/8 of the set is bordered */
};

pp_status pp_contact_factor_take(size_t m, pp_arena *arena, pp_contact_factor *factor,
                                 pp_error *error)
{
    pp_contact_factor f = {.room = m};
    if (m && m > SIZE_MAX / sizeof(double) / m) return pp_fail_memory(error);
    PP_TAKE(f.list, arena, m);
    PP_TAKE(f.place, arena, m);
    PP_TAKE(f.lu, arena, m * pp_small_rows(m));
    PP_TAKE(f.pivots, arena, m);
    PP_TAKE(f.border, arena, m * (PP_BORDER_MAX + 2));
    *factor = f;
    return PP_OK;
}

void pp_contact_factor_begin(pp_contact_factor *factor) { factor->count = 0; }

static size_t count_active(const pp_contact_matrix *matrix, size_t k, const uint32_t *list)
{
    size_t a = 0;
    while (a < k && list[a] < matrix->active) a++;
    return a;
}

/* The others before the active ones: their part is the better to begin with. False where it cannot
 * be factored so. */
static bool factor_small(pp_contact_factor *f, const pp_contact_matrix *matrix, size_t k,
                         const uint32_t *list)
{
    size_t a = count_active(matrix, k, list), others = k - a, ld = pp_small_rows(k);
    const uint32_t *other = list + a;
    for (size_t j = 0; j < others; j++) {
        const double *column = matrix->p + other[j] * f->room;
        double *to = f->lu + j * ld;
        for (size_t i = j; i < others; i++) to[i] = column[other[i]];
        for (size_t i = 0; i < a; i++) to[others + i] = -column[list[i]];
    }
    for (size_t j = 0; j < a; j++) {
        const double *column = matrix->p + list[j] * f->room;
        double *to = f->lu + (others + j) * ld + others;
        for (size_t i = j; i < a; i++) to[i] = -column[list[i]];
    }
    return pp_small_factor(k, others, f->lu);
}

static void solve_small(const pp_contact_factor *f, const pp_contact_matrix *matrix, double *x)
{
    size_t k = f->count, a = count_active(matrix, k, f->list), others = k - a;
    double y[BORDER_FROM];
    for (size_t i = 0; i < a; i++) y[others + i] = -x[i];
    for (size_t i = 0; i < others; i++) y[i] = x[a + i];
    pp_small_solve(k, f->lu, y);
    for (size_t i = 0; i < a; i++) x[i] = y[others + i];
    for (size_t i = 0; i < others; i++) x[a + i] = y[i];
}

static pp_status factor_set(pp_contact_factor *f, const pp_contact_matrix *matrix, size_t k,
                            const uint32_t *list, pp_error *error)
{
    const double *p = matrix->p;
    pp_contact_factor_begin(f);
    f->small = k < BORDER_FROM && factor_small(f, matrix, k, list);
    for (size_t j = 0; j < k && !f->small; j++) {
        const double *column = p + list[j] * f->room;
        for (size_t i = 0; i < k; i++) f->lu[j * k + i] = column[list[i]];
    }
    if (!f->small) PP_TRY(pp_lu_factor(k, f->lu, k, f->pivots, error));
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

static bool find_change(pp_contact_factor *f, size_t k, const uint32_t *list, change *c)
{
    size_t most = k < BORDER_FROM || f->small ? 0 : k / BORDER_SHARE, i = 0, j = 0;
    if (most > PP_BORDER_MAX) most = PP_BORDER_MAX;
    c->added = c->dropped = 0;
    while (i < f->count || j < k) {
        if (i < f->count && j < k && f->list[i] == list[j]) {
            f->place[j++] = (uint32_t)i++;
            continue;
        }
        if (c->added + c->dropped == most) return false;
        if (j == k || (i < f->count && f->list[i] < list[j])) {
            c->drop[c->dropped++] = (uint32_t)i++;
        } else {
            f->place[j] = (uint32_t)(f->count + c->added);
            c->add[c->added++] = list[j++];
        }
    }
    return true;
}

typedef struct bordering {
    pp_contact_factor *f;
    const double *p;
    const change *c;
    size_t k, rhs; /* places of the set asked for, right-hand sides */
    size_t n, b;   /* places of R, order of the border */
    double *w, *z; /* W[n * b]; P_RR^-1 rhs_R, then x_R [n * rhs] */
    double small[PP_BORDER_MAX * PP_BORDER_MAX], u[2 * PP_BORDER_MAX];
} bordering;

/* x of the set C, by right-hand side, to its places in R (into z) and in the border (into u), or
 * back from there: f->place[j] below n is a place of R, from n on one of those added. */
static void part_rhs(bordering *s, const double *x)
{
    memset(s->z, 0, s->rhs * s->n * sizeof *s->z);
    for (size_t r = 0; r < s->rhs; r++)
        for (size_t j = 0; j < s->k; j++) {
            size_t at = s->f->place[j];
            *(at < s->n ? &s->z[r * s->n + at] : &s->u[r * s->b + at - s->n]) = x[r * s->k + j];
        }
}

static void join_solution(const bordering *s, double *x)
{
    for (size_t r = 0; r < s->rhs; r++)
        for (size_t j = 0; j < s->k; j++) {
            size_t at = s->f->place[j];
            x[r * s->k + j] = at < s->n ? s->z[r * s->n + at] : s->u[r * s->b + at - s->n];
        }
}

/* [P_R,added, E_dropped], of which W is made */
static void fill_border(bordering *s)
{
    const change *c = s->c;
    memset(s->w + c->added * s->n, 0, c->dropped * s->n * sizeof *s->w);
    for (size_t a = 0; a < c->added; a++)
        for (size_t i = 0; i < s->n; i++)
            s->w[a * s->n + i] = s->p[c->add[a] * s->f->room + s->f->list[i]];
    for (size_t d = 0; d < c->dropped; d++) s->w[(c->added + d) * s->n + c->drop[d]] = 1;
}

/* [[P_added,added 0] - P_added,R W;  E_dropped' W] */
static void fill_small(bordering *s)
{
    const change *c = s->c;
    size_t m = s->f->room, n = s->n, b = s->b;
    for (size_t l = 0; l < b; l++) {
        for (size_t a = 0; a < c->added; a++) {
            double sum = l < c->added ? s->p[c->add[l] * m + c->add[a]] : 0;
            for (size_t i = 0; i < n; i++)
                sum -= s->p[s->f->list[i] * m + c->add[a]] * s->w[l * n + i];
            s->small[l * b + a] = sum;
        }
        for (size_t d = 0; d < c->dropped; d++)
            s->small[l * b + c->added + d] = s->w[l * n + c->drop[d]];
    }
}

/* rhs_added - P_added,R z;  E_dropped' z */
static void fill_small_rhs(bordering *s)
{
    const change *c = s->c;
    size_t m = s->f->room, n = s->n, b = s->b;
    for (size_t r = 0; r < s->rhs; r++) {
        for (size_t a = 0; a < c->added; a++)
            for (size_t i = 0; i < n; i++)
                s->u[r * b + a] -= s->p[s->f->list[i] * m + c->add[a]] * s->z[r * n + i];
        for (size_t d = 0; d < c->dropped; d++)
            s->u[r * b + c->added + d] = s->z[r * n + c->drop[d]];
    }
}

/* With the factored set R, C = R + added - dropped and W = P_RR^-1 [P_R,added, E_dropped]:
 *
 *     x_R = P_RR^-1 rhs_R - W u,   u = (x_added, multipliers of x_dropped = 0)
 *     ([P_added,added 0] - P_added,R W) u = rhs_added - P_added,R P_RR^-1 rhs_R
 *     E_dropped' W u                      = E_dropped' P_RR^-1 rhs_R
 */
static pp_status solve_bordered(pp_contact_factor *f, const double *p, size_t k, const change *c,
                                size_t count_rhs, double *x, pp_error *error)
{
    bordering s = {.f = f,
                   .p = p,
                   .c = c,
                   .k = k,
                   .rhs = count_rhs,
                   .n = f->count,
                   .b = c->added + c->dropped,
                   .w = f->border};
    size_t n = s.n, b = s.b;
    int pivots[PP_BORDER_MAX];
    s.z = s.w + b * n;
    part_rhs(&s, x);
    fill_border(&s);
    PP_TRY(pp_lu_solve(n, f->lu, n, f->pivots, b + count_rhs, s.w, n, error));
    fill_small(&s);
    fill_small_rhs(&s);
    PP_TRY(pp_lu_factor(b, s.small, b, pivots, error));
    PP_TRY(pp_lu_solve(b, s.small, b, pivots, count_rhs, s.u, b, error));
    pp_matrix_multiply(0, 0, n, count_rhs, b, -1, s.w, n, s.u, b, 1, s.z, n);
    join_solution(&s, x);
    return PP_OK;
}

pp_status pp_contact_factor_solve(pp_contact_factor *factor, const pp_contact_matrix *matrix,
                                  size_t k, const uint32_t *list, size_t count_rhs, double *x,
                                  pp_error *error)
{
    change c;
    if (k == 0) return PP_OK;
    if (find_change(factor, k, list, &c) && c.added + c.dropped > 0)
        return solve_bordered(factor, matrix->p, k, &c, count_rhs, x, error);
    bool same = factor->count == k && memcmp(factor->list, list, k * sizeof *list) == 0;
    if (!same) PP_TRY(factor_set(factor, matrix, k, list, error));
    for (size_t r = 0; factor->small && r < count_rhs; r++) solve_small(factor, matrix, x + r * k);
    if (factor->small) return PP_OK;
    return pp_lu_solve(k, factor->lu, k, factor->pivots, count_rhs, x, k, error);
}

/* The base of a contact problem: what is made once for the points that touch. */
#include <math.h>
#include <string.h>

#include "holddown/contact.h"
#include "linalg/linalg.h"

pp_status pp_contact_base_take(size_t m, size_t rigid, pp_arena *arena, pp_contact_base *base,
                               pp_error *error)
{
    pp_contact_base b = {.count = m, .rigid = rigid};
    PP_TRY(pp_sizes_fit(m, error));
    if (m && m > SIZE_MAX / sizeof(double) / m) return pp_fail_memory(error);
    PP_TAKE(b.order, arena, m);
    PP_TAKE(b.p, arena, m * m);
    PP_TAKE(b.v, arena, m);
    PP_TAKE(b.zv, arena, m * rigid);
    PP_TAKE(b.q, arena, rigid * rigid);
    PP_TAKE(b.motion, arena, rigid);
    *base = b;
    return PP_OK;
}

size_t pp_contact_base_work(size_t m, size_t active, size_t rigid)
{
    size_t n = active + rigid, rest = m - active;
    return 2 * n * n + rest * active + rest * rigid + active * rigid + m;
}

static double compliance(const pp_contact_points *points, size_t i, size_t j)
{
    return points->g ? points->g[j * points->count + i] : points->entry(points->context, i, j);
}

/* inverse[n * n] of [[G_AA, s R_A], [s R_A', 0]]; s makes both parts the same size */
static pp_status invert_touching(const pp_contact_points *points, const pp_contact_base *base,
                                 double scale, double *matrix, double *inverse, int *pivots,
                                 pp_error *error)
{
    size_t m = points->count, a = base->active, n = a + base->rigid;
    memset(matrix, 0, n * n * sizeof *matrix);
    memset(inverse, 0, n * n * sizeof *inverse);
    for (size_t j = 0; j < a; j++) {
        for (size_t i = 0; i < a; i++)
            matrix[j * n + i] = compliance(points, base->order[i], base->order[j]);
        for (size_t k = 0; k < base->rigid; k++) {
            double value = scale * points->r[k * m + base->order[j]];
            matrix[j * n + a + k] = matrix[(a + k) * n + j] = value;
        }
    }
    for (size_t j = 0; j < n; j++) inverse[j * n + j] = 1;
    PP_TRY(pp_lu_factor(n, matrix, n, pivots, error));
    PP_TRY(pp_lu_solve(n, matrix, n, pivots, n, inverse, n, error));
    for (size_t j = 0; j < n; j++)
        for (size_t i = 0; i < j; i++)
            inverse[j * n + i] = inverse[i * n + j] =
                0.5 * (inverse[j * n + i] + inverse[i * n + j]);
    return PP_OK;
}

static void number_places(const bool *touching, pp_contact_base *base)
{
    size_t place = 0;
    for (int part = 0; part < 2; part++) {
        for (size_t i = 0; i < base->count; i++)
            if (touching[i] == (part == 0)) base->order[place++] = (uint32_t)i;
        if (part == 0) base->active = place;
    }
}

/* The workspace of pp_contact_base_make, and the blocks it works on: A the a touching places, I the
 * `rest` others. */
typedef struct base_blocks {
    size_t a, rest, n; /* n = a + rigid */
    double *matrix;    /* [n * n] */
    double *inverse; /* [n * n]: S in [0..a, 0..a], and Z, Q times the scale: [[S, Z], [Z', -Q]] */
    double *g_ia;    /* [rest * a] */
    double *r_i;     /* [rest * rigid] */
    double *z;       /* Z[a * rigid] */
    double *gap;     /* [m] in places */
} base_blocks;

static base_blocks lay_out(const pp_contact_base *base, double *work)
{
    base_blocks b = {.a = base->active, .rest = base->count - base->active, .matrix = work};
    b.n = b.a + base->rigid;
    b.inverse = b.matrix + b.n * b.n;
    b.g_ia = b.inverse + b.n * b.n;
    b.r_i = b.g_ia + b.rest * b.a;
    b.z = b.r_i + b.rest * base->rigid;
    b.gap = b.z + b.a * base->rigid;
    return b;
}

/* Z and Q without the scale, R_I, G_IA, and the gaps in places */
static void gather_blocks(const pp_contact_points *points, const double *gap, double scale,
                          const base_blocks *b, pp_contact_base *base)
{
    size_t m = points->count, a = b->a, rigid = base->rigid;
    for (size_t k = 0; k < rigid; k++) {
        for (size_t i = 0; i < a; i++)
            b->z[k * a + i] = base->zv[k * m + i] = scale * b->inverse[(a + k) * b->n + i];
        for (size_t l = 0; l < rigid; l++)
            base->q[l * rigid + k] = -scale * scale * b->inverse[(a + l) * b->n + a + k];
        for (size_t i = 0; i < b->rest; i++)
            b->r_i[k * b->rest + i] = points->r[k * m + base->order[a + i]];
    }
    for (size_t j = 0; j < a; j++)
        for (size_t i = 0; i < b->rest; i++)
            b->g_ia[j * b->rest + i] = compliance(points, base->order[a + i], base->order[j]);
    for (size_t i = 0; i < m; i++) b->gap[i] = gap[base->order[i]];
}

/* P in its four blocks, and V */
static void fill_matrix(const pp_contact_points *points, double eps, const base_blocks *b,
                        pp_contact_base *base)
{
    size_t m = points->count, a = b->a, rest = b->rest, rigid = base->rigid;
    double *p = base->p, *p_ia = p + a, *p_ai = p + a * m, *p_ii = p + a * m + a;
    for (size_t j = 0; j < a; j++) { /* P_AA = S + eps */
        memcpy(p + j * m, b->inverse + j * b->n, a * sizeof *p);
        p[j * m + j] += eps;
    }
    if (!rest) return;
    double *v = base->zv + a;
    /* V = G_IA Z - R_I Q */
    pp_matrix_multiply(0, 0, rest, rigid, a, 1, b->g_ia, rest, b->z, a, 0, v, m);
    pp_matrix_multiply(0, 0, rest, rigid, rigid, -1, b->r_i, rest, base->q, rigid, 1, v, m);
    /* P_IA = T' = G_IA S + R_I Z' */
    pp_matrix_multiply(0, 0, rest, a, a, 1, b->g_ia, rest, b->inverse, b->n, 0, p_ia, m);
    pp_matrix_multiply(0, 1, rest, a, rigid, 1, b->r_i, rest, b->z, a, 1, p_ia, m);
    /* P_AI = -T, P_II = G_II - G_IA T - R_I V' */
    for (size_t j = 0; j < rest; j++) {
        for (size_t i = 0; i < a; i++) p_ai[j * m + i] = -p_ia[i * m + j];
        for (size_t i = 0; i < rest; i++)
            p_ii[j * m + i] = compliance(points, base->order[a + i], base->order[a + j]);
    }
    pp_matrix_multiply(0, 0, rest, rest, a, 1, b->g_ia, rest, p_ai, m, 1, p_ii, m);
    pp_matrix_multiply(0, 1, rest, rest, rigid, -1, b->r_i, rest, v, m, 1, p_ii, m);
}

/* r_A = -S gap_A + Z load;  motion = -Z' gap_A - Q load;  y_I = gap_I + T'(-gap_A) + V load */
static void fill_rest_state(const double *load, const double *gap, pp_contact_base *base)
{
    size_t m = base->count, a = base->active, rigid = base->rigid;
    for (size_t i = 0; i < m; i++) {
        base->v[i] = i < a ? base->eps * gap[i] : gap[i];
        for (size_t k = 0; k < rigid; k++) base->v[i] += base->zv[k * m + i] * load[k];
    }
    pp_matrix_vector(0, m, a, -1, base->p, m, gap, 1, base->v);
    for (size_t k = 0; k < rigid; k++) {
        base->motion[k] = 0;
        for (size_t i = 0; i < a; i++) base->motion[k] -= base->zv[k * m + i] * gap[i];
        for (size_t l = 0; l < rigid; l++) base->motion[k] -= base->q[l * rigid + k] * load[l];
    }
}

pp_status pp_contact_base_make(const pp_contact_points *points, const pp_contact_start *start,
                               double *work, int *pivots, pp_contact_base *base, pp_error *error)
{
    base->g = NULL;
    number_places(start->touching, base);
    if (base->active < base->rigid)
        return pp_fail(error, PP_ENUMERIC,
                       "fewer than 3 supports touch the plate; give more supports");
    base_blocks b = lay_out(base, work);
    double scale = 0;
    for (size_t i = 0; i < b.a; i++)
        scale = fmax(scale, compliance(points, base->order[i], base->order[i]));
    PP_TRY(invert_touching(points, base, scale, b.matrix, b.inverse, pivots, error));
    gather_blocks(points, start->gap, scale, &b, base);
    fill_matrix(points, start->eps, &b, base);
    base->eps = start->eps;
    fill_rest_state(start->load, b.gap, base);
    base->g = points->g;
    return PP_OK;
}

bool pp_contact_base_serves(const pp_contact_base *made, const pp_contact_points *points,
                            const pp_contact_start *start)
{
    if (!made->g || made->g != points->g || made->eps != start->eps) return false;
    for (size_t j = 0; j < made->count; j++)
        if (start->touching[made->order[j]] != (j < made->active)) return false;
    return true;
}

void pp_contact_base_move(const pp_contact_base *made, const pp_contact_start *start, double *work,
                          pp_contact_base *base)
{
    size_t m = made->count, rigid = made->rigid;
    if (base != made) {
        memcpy(base->order, made->order, m * sizeof *base->order);
        memcpy(base->p, made->p, m * m * sizeof *base->p);
        memcpy(base->zv, made->zv, m * rigid * sizeof *base->zv);
        memcpy(base->q, made->q, rigid * rigid * sizeof *base->q);
        base->active = made->active;
        base->eps = made->eps;
        base->g = made->g;
    }
    for (size_t i = 0; i < m; i++) work[i] = start->gap[base->order[i]];
    fill_rest_state(start->load, work, base);
}

/* d_A = S g_A + Z r;  d_I = -g_I + T' g_A + V r;  motion = Z' g_A - Q r */
void pp_contact_columns(const pp_contact_base *base, size_t count, const double *g, const double *r,
                        double *d, double *motion, double *work)
{
    size_t m = base->count, a = base->active, rigid = base->rigid;
    double *g_a = work;
    for (size_t c = 0; c < count; c++) {
        const double *from = g + c * m;
        double *to = d + c * m;
        for (size_t i = 0; i < a; i++) {
            g_a[c * a + i] = from[base->order[i]];
            to[i] = -base->eps * from[base->order[i]];
        }
        for (size_t i = a; i < m; i++) to[i] = -from[base->order[i]];
    }
    pp_matrix_multiply(0, 0, m, count, a, 1, base->p, m, g_a, a, 1, d, m);
    pp_matrix_multiply(0, 0, m, count, rigid, 1, base->zv, m, r, rigid, 1, d, m);
    pp_matrix_multiply(1, 0, rigid, count, a, 1, base->zv, m, g_a, a, 0, motion, rigid);
    pp_matrix_multiply(0, 0, rigid, count, rigid, -1, base->q, rigid, r, rigid, 1, motion, rigid);
}

/* P_AA is symmetric, and P_IA = -P_AI': both are read along a column. */
double pp_contact_column_at(const pp_contact_base *base, size_t place, const double *g_a, double g,
                            const double *r)
{
    const double *p = base->p + place * base->count;
    double rigid = 0, sum[4] = {0}; /* sums that do not wait for each other */
    size_t a = base->active, i = 0;
    for (size_t k = 0; k < base->rigid; k++) rigid += base->zv[k * base->count + place] * r[k];
    for (; i + 4 <= a; i += 4)
        for (size_t l = 0; l < 4; l++) sum[l] += p[i + l] * g_a[i + l];
    for (; i < a; i++) sum[0] += p[i] * g_a[i];
    double touching = (sum[0] + sum[1]) + (sum[2] + sum[3]);
    return rigid + (place < a ? touching - base->eps * g : -touching - g);
}

double pp_contact_flexibility(const pp_contact_base *base, double direct, const double *g_probe,
                              const double *r_probe, const double *d, const double *motion)
{
    double e = -direct;
    for (size_t i = 0; i < base->active; i++) e += g_probe[base->order[i]] * d[i];
    for (size_t k = 0; k < base->rigid; k++) e += r_probe[k] * motion[k];
    return e;
}

bool pp_contact_base_rests(const pp_contact_base *base, double slack)
{
    for (size_t j = 0; j < base->count; j++)
        if (base->v[j] < -slack * (j < base->active ? base->tiny_force : base->tiny_gap))
            return false;
    return true;
}

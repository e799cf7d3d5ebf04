#include "correction/field.h"

#include <math.h>
#include <string.h>

#include "base/stats.h"

static const double LEVEL = 0.01;
static const double INDEPENDENT = 1e-6; /* of a column's length that must be left */
enum { RIGID = 3, ROOM = 64 };

static double dot(const double *a, const double *b, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) sum += a[i] * b[i];
    return sum;
}

static void take_out(double *from, const double *unit, size_t n)
{
    double part = dot(from, unit, n);
    for (size_t i = 0; i < n; i++) from[i] -= part * unit[i];
}

typedef struct basis {
    size_t n; /* 2 count */
    double *column[ROOM + RIGID];
    size_t count;
} basis;

/* Make `column` orthogonal to all there are, twice, and keep it if anything is left. */
static bool add_column(basis *b, double *column)
{
    double before = sqrt(dot(column, column, b->n));
    for (int pass = 0; pass < 2; pass++)
        for (size_t k = 0; k < b->count; k++) take_out(column, b->column[k], b->n);
    double length = sqrt(dot(column, column, b->n));
    if (!(length > INDEPENDENT * before)) return false;
    for (size_t i = 0; i < b->n; i++) column[i] /= length;
    b->column[b->count++] = column;
    return true;
}

static pp_status add_rigid(basis *b, const double *x, const double *y, size_t count,
                           pp_arena *arena, pp_error *error)
{
    for (int k = 0; k < RIGID; k++) {
        double *c;
        PP_TAKE_ZERO(c, arena, b->n);
        for (size_t i = 0; i < count; i++) {
            c[i] = k == 0 ? 1 : k == 2 ? -y[i] : 0;
            c[count + i] = k == 1 ? 1 : k == 2 ? x[i] : 0;
        }
        add_column(b, c);
    }
    return PP_OK;
}

/* x^(degree - k) y^k along x, and along y. */
static pp_status add_degree(basis *b, const double *x, const double *y, size_t count, int degree,
                            pp_arena *arena, pp_error *error)
{
    for (int k = 0; k <= degree; k++)
        for (int axis = 0; axis < 2; axis++) {
            double *c;
            PP_TAKE_ZERO(c, arena, b->n);
            for (size_t i = 0; i < count; i++)
                c[axis ? count + i : i] = pow(x[i], degree - k) * pow(y[i], k);
            add_column(b, c);
        }
    return PP_OK;
}

/* Places in units of the farthest from their middle: powers keep their digits. */
static pp_status scale_places(const double *x, const double *y, size_t count, pp_arena *arena,
                              double **u, double **v, pp_error *error)
{
    double cx = 0, cy = 0, far = 0;
    PP_TAKE(*u, arena, count);
    PP_TAKE(*v, arena, count);
    for (size_t i = 0; i < count; i++) cx += x[i] / (double)count, cy += y[i] / (double)count;
    for (size_t i = 0; i < count; i++) far = fmax(far, hypot(x[i] - cx, y[i] - cy));
    for (size_t i = 0; i < count; i++) {
        (*u)[i] = far > 0 ? (x[i] - cx) / far : 0;
        (*v)[i] = far > 0 ? (y[i] - cy) / far : 0;
    }
    return PP_OK;
}

static pp_status take_residuals(const double *const *residual, const basis *b, size_t skip,
                                pp_arena *arena, pp_field_data *d, pp_error *error)
{
    PP_TAKE(d->coefficient, arena, d->plates);
    PP_TAKE(d->left, arena, d->plates);
    for (size_t p = 0; p < d->plates; p++) {
        PP_TAKE(d->coefficient[p], arena, d->columns);
        PP_TAKE(d->left[p], arena, b->n);
        memcpy(d->left[p], residual[p], b->n * sizeof *d->left[p]);
        for (size_t k = 0; k < b->count; k++) {
            if (k >= skip) d->coefficient[p][k - skip] = dot(residual[p], b->column[k], b->n);
            take_out(d->left[p], b->column[k], b->n);
        }
    }
    return PP_OK;
}

pp_status pp_field_prepare(const pp_field_request *request, pp_arena *arena, pp_field_data *data,
                           pp_error *error)
{
    size_t count = request->count;
    pp_field_data d = {.count = count, .plates = request->plates};
    basis b = {.n = 2 * count};
    double *u, *v;
    PP_TRY(scale_places(request->x, request->y, count, arena, &u, &v, error));
    PP_TRY(add_rigid(&b, u, v, count, arena, error));
    for (size_t k = 0; k < request->fixed_count; k++) {
        double *c;
        PP_TAKE(c, arena, b.n);
        memcpy(c, request->fixed[k], b.n * sizeof *c);
        add_column(&b, c);
    }
    size_t skip = b.count;
    for (int degree = PP_FIELD_DEGREE_MIN; degree <= PP_FIELD_DEGREE_MAX; degree++) {
        d.first[degree - PP_FIELD_DEGREE_MIN] = b.count - skip;
        PP_TRY(add_degree(&b, u, v, count, degree, arena, error));
    }
    d.columns = b.count - skip;
    d.first[PP_FIELD_GROUPS - 1] = d.first[PP_FIELD_GROUPS] = d.columns;
    PP_TAKE(d.column, arena, d.columns);
    for (size_t k = 0; k < d.columns; k++) d.column[k] = b.column[skip + k];
    PP_TRY(take_residuals(request->residual, &b, skip, arena, &d, error));
    *data = d;
    return PP_OK;
}

/* ---- what repeats ---- */

typedef struct tally {
    double n, between, within; /* coefficients; sums of squared means, of variances */
} tally;

/* One coefficient over the plates that count; returns its mean. */
static double add_coefficient(double *const *of_plate, size_t at, size_t plates, size_t without,
                              tally *t)
{
    double n = 0, mean = 0, square = 0;
    for (size_t p = 0; p < plates; p++)
        if (p != without) n++, mean += of_plate[p][at];
    mean /= n;
    for (size_t p = 0; p < plates; p++)
        if (p != without) square += (of_plate[p][at] - mean) * (of_plate[p][at] - mean);
    t->n++, t->between += mean * mean, t->within += square / (n - 1);
    return mean;
}

static void weigh(const tally *t, double plates, pp_field_group *g)
{
    double k = t->n, df = k * (plates - 1);
    g->coefficients = (size_t)k;
    g->weight = 0, g->p = 1;
    if (!(t->within > 0) || k < 1) return;
    double f = plates * t->between / t->within;
    g->p = pp_fisher_upper(f, k, df);
    if (g->p <= LEVEL) g->weight = fmax(0, 1 - (k - 2) / k * df / (df + 2) / f);
}

static void add_weighted(const pp_field_data *d, size_t without, int group, double weight,
                         double *field)
{
    tally unused = {0};
    size_t n = 2 * d->count;
    if (group == PP_FIELD_GROUPS - 1) {
        for (size_t i = 0; i < n; i++)
            field[i] += weight * add_coefficient(d->left, i, d->plates, without, &unused);
        return;
    }
    for (size_t k = d->first[group]; k < d->first[group + 1]; k++) {
        double mean = weight * add_coefficient(d->coefficient, k, d->plates, without, &unused);
        for (size_t i = 0; i < n; i++) field[i] += mean * d->column[k][i];
    }
}

void pp_field_learn(const pp_field_data *d, size_t without, pp_field_group groups[PP_FIELD_GROUPS],
                    double *field)
{
    static const char *const NAMES[PP_FIELD_GROUPS] = {"degree 2", "degree 3", "degree 4",
                                                       "degree 5", "degree 6", "single holes"};
    size_t n = 2 * d->count, plates = d->plates - (without < d->plates);
    memset(field, 0, n * sizeof *field);
    for (int g = 0; g < PP_FIELD_GROUPS; g++) {
        tally t = {0};
        if (g == PP_FIELD_GROUPS - 1)
            for (size_t i = 0; i < n; i++) add_coefficient(d->left, i, d->plates, without, &t);
        else
            for (size_t k = d->first[g]; k < d->first[g + 1]; k++)
                add_coefficient(d->coefficient, k, d->plates, without, &t);
        groups[g] = (pp_field_group){.name = NAMES[g]};
        weigh(&t, (double)plates, &groups[g]);
        if (groups[g].weight > 0) add_weighted(d, without, g, groups[g].weight, field);
    }
}

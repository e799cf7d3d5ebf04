#include "causes/serial_correlation.h"

#include <math.h>
#include <string.h>

#include "base/parallel.h"

/* Mean squared length of scaled, weighted residuals is 1.4 for normal errors; hardly anything where
 * the scale is at its floor: rounding, whose correlation means nothing. */
static const double LEAST_SQUARE = 0.02;
static const double RHO_MOST = 0.95; /* beyond it a wander is not told from a drift */

enum { NO_ITEM = -1 };

/* --- correlation -------------------------------------------------------------------------- */

enum { PARTS = 64 };

typedef struct lag_sums {
    double product, pairs, square, items;
} lag_sums;

typedef struct lag_pass {
    const pp_robust_fit *fit;
    size_t count;
    const bool *left_out;
    lag_sums part[PARTS];
} lag_pass;

/* A scaled, weighted residual; false where the hole is no part of the pattern. */
static bool weighted(const lag_pass *p, const double inverse[2], size_t i, double r[2])
{
    const pp_robust_fit *f = p->fit;
    for (int axis = 0; axis < 2; axis++)
        r[axis] = f->weight[i] * f->residual[axis][i] * inverse[axis];
    return f->weight[i] >= PP_ROBUST_MISFIT && !(p->left_out && p->left_out[i]);
}

static pp_status lag_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    lag_pass *p = context;
    lag_sums s = {0};
    const double inverse[2] = {1 / p->fit->scale[0], 1 / p->fit->scale[1]};
    size_t i = pp_part_begin(p->count, PARTS, part), end = pp_part_begin(p->count, PARTS, part + 1);
    double last[2] = {0, 0};
    bool before = i > 0 && i < end && weighted(p, inverse, i - 1, last);
    for (; i < end; i++) {
        double r[2];
        bool here = weighted(p, inverse, i, r);
        if (here) s.square += r[0] * r[0] + r[1] * r[1], s.items++;
        if (here && before) s.product += r[0] * last[0] + r[1] * last[1], s.pairs++;
        before = here, last[0] = r[0], last[1] = r[1];
    }
    p->part[part] = s;
    return PP_OK;
}

/* Lag-1 correlation of the scaled, weighted residuals, over neighbours in the order that both are
 * part of the pattern; x and y together. */
static pp_status lag_1(const pp_robust_problem *problem, const pp_robust_fit *f,
                       const bool *left_out, double *correlation, double *pairs, pp_error *error)
{
    lag_pass p = {.fit = f, .count = problem->count, .left_out = left_out};
    PP_TRY(pp_parallel(problem->threads, PARTS, lag_part, &p, error));
    lag_sums s = {0};
    for (size_t k = 0; k < PARTS; k++) {
        s.product += p.part[k].product, s.pairs += p.part[k].pairs;
        s.square += p.part[k].square, s.items += p.part[k].items;
    }
    *pairs = s.pairs;
    bool told = s.square > LEAST_SQUARE * s.items && s.pairs > 0;
    *correlation = told ? s.product / s.pairs / (s.square / s.items) : 0;
    return PP_OK;
}

static bool significant(double correlation, double pairs)
{
    return fabs(correlation) * sqrt(2 * pairs) > PP_SERIAL_SIGNIFICANT;
}

/* The estimate from residuals is too small: p fitted terms take their share of the wander. For an
 * autoregression about a fitted mean the bias is -(1 + 3 rho)/n (Kendall, Biometrika 41 (1954)
 * 403); each further smooth term of an axis adds about as much as the mean did, (1 + rho)/n. */
static double unbias(double correlation, double pairs, int terms)
{
    double per_axis = 0.5 * terms;
    double rho = correlation + (per_axis + (per_axis + 2) * correlation) / pairs;
    return fmax(-RHO_MOST, fmin(RHO_MOST, rho));
}

/* --- whitening ---------------------------------------------------------------------------- */

typedef struct whitened {
    const pp_robust_problem *plain;
    double rho;
    const int32_t *gap; /* [count]: holes back to the one before; NO_ITEM: there is none */
} whitened;

static void fill_whitened(const void *context, size_t item, pp_robust_row *row)
{
    const whitened *w = context;
    w->plain->fill(w->plain->context, item, row);
    if (w->gap[item] == NO_ITEM) return;
    pp_robust_row before;
    w->plain->fill(w->plain->context, item - (size_t)w->gap[item], &before);
    double f = w->gap[item] == 1 ? w->rho : pow(w->rho, w->gap[item]);
    double scale = 1 / sqrt(1 - f * f);
    for (int axis = 0; axis < 2; axis++) {
        for (int j = 0; j < w->plain->terms; j++)
            if (w->plain->has[axis][j])
                row->a[axis][j] = scale * (row->a[axis][j] - f * before.a[axis][j]);
        row->value[axis] = scale * (row->value[axis] - f * before.value[axis]);
    }
}

static void find_gaps(size_t count, const bool *left_out, int32_t *gap)
{
    size_t last = 0;
    bool any = false;
    for (size_t i = 0; i < count; i++) {
        gap[i] = NO_ITEM;
        if (left_out[i]) continue;
        if (any && i - last < INT32_MAX) gap[i] = (int32_t)(i - last);
        last = i, any = true;
    }
}

/* --- Newey and West ----------------------------------------------------------------------- */

/* Mean leverage of an item's two coordinates: half the trace of A_i (A'A)^-1 A_i'. */
static double leverage(const pp_robust_problem *p, const pp_robust_fit *f, const pp_robust_row *row)
{
    double sum = 0;
    for (int axis = 0; axis < 2; axis++) {
        double square = 0;
        for (int j = 0; j < p->terms; j++) {
            if (!p->has[axis][j]) continue;
            double product = 0;
            for (int k = 0; k < p->terms; k++)
                if (p->has[axis][k]) product += f->inverse[j * p->terms + k] * row->a[axis][k];
            square += row->a[axis][j] * product;
        }
        sum += square / (f->scale[axis] * f->scale[axis]);
    }
    return 0.5 * sum;
}

/* Scores s_i = A_i' psi_i of every item into scores[count * terms]; `jackknifed` divided by what
 * the item leaves of its own residual. */
static void find_scores(const pp_robust_problem *p, const pp_robust_fit *f, bool jackknifed,
                        double *scores)
{
    static const double LEVERAGE_MOST = 0.9; /* a lone hole of a label */
    for (size_t i = 0; i < p->count; i++) {
        double *s = &scores[i * (size_t)p->terms];
        memset(s, 0, (size_t)p->terms * sizeof *s);
        if (f->weight[i] == 0) continue;
        pp_robust_row row;
        p->fill(p->context, i, &row);
        double left = jackknifed ? 1 - fmin(leverage(p, f, &row), LEVERAGE_MOST) : 1;
        for (int axis = 0; axis < 2; axis++) {
            double psi =
                1 / left * f->weight[i] * f->residual[axis][i] / (f->scale[axis] * f->scale[axis]);
            for (int j = 0; j < p->terms; j++)
                if (p->has[axis][j]) s[j] += psi * row.a[axis][j];
        }
    }
}

/* Long-run covariance of the scores, Bartlett weights. */
static void long_run(size_t count, int p, const double *scores, size_t lags, double *sum)
{
    memset(sum, 0, (size_t)(p * p) * sizeof *sum);
    for (size_t lag = 0; lag <= lags; lag++) {
        double share = (lag == 0 ? 0.5 : 1) * (1 - (double)lag / (double)(lags + 1));
        for (size_t i = lag; i < count; i++) {
            const double *s = &scores[i * (size_t)p], *t = &scores[(i - lag) * (size_t)p];
            for (int j = 0; j < p; j++)
                for (int k = 0; k < p; k++) sum[j * p + k] += share * (s[j] * t[k] + t[j] * s[k]);
        }
    }
}

/* A variance that is a sum of squares, one a hole, of which few carry it: its degrees of freedom
 * after Satterthwaite, (sum q_i)^2 / sum q_i^2, q_i what hole i adds for errors of one scale. */
static void find_freedom(const pp_robust_problem *p, pp_robust_fit *f)
{
    double sum[PP_ROBUST_TERMS_MAX] = {0}, squares[PP_ROBUST_TERMS_MAX] = {0};
    for (size_t i = 0; i < p->count; i++) {
        if (f->weight[i] < PP_ROBUST_MISFIT) continue;
        pp_robust_row row;
        p->fill(p->context, i, &row);
        for (int j = 0; j < p->terms; j++) {
            double q = 0;
            for (int axis = 0; axis < 2; axis++) {
                double weight = 0;
                for (int k = 0; k < p->terms; k++)
                    if (p->has[axis][k]) weight += f->inverse[j * p->terms + k] * row.a[axis][k];
                q += weight * weight / (f->scale[axis] * f->scale[axis]);
            }
            sum[j] += q, squares[j] += q * q;
        }
    }
    for (int j = 0; j < p->terms; j++)
        f->term_df[j] = squares[j] > 0 ? fmin(sum[j] * sum[j] / squares[j], f->df) : f->df;
}

/* covariance = (m A'A)^-1 S (m A'A)^-1, with the small-sample factors of the plain one; S the
 * long-run covariance of the scores (Newey and West) or, without lags, HC3. */
static pp_status sandwich(const pp_robust_problem *problem, bool lagged, pp_arena *scratch,
                          pp_robust_fit *f, pp_error *error)
{
    int p = problem->terms;
    double *scores;
    PP_TAKE(scores, scratch, problem->count * (size_t)p);
    find_scores(problem, f, !lagged, scores);
    if (!lagged) find_freedom(problem, f);
    double middle[PP_ROBUST_TERMS_MAX * PP_ROBUST_TERMS_MAX];
    double half[PP_ROBUST_TERMS_MAX * PP_ROBUST_TERMS_MAX];
    size_t lags = lagged ? (size_t)floor(4 * pow((double)f->count / 100, 2.0 / 9)) : 0;
    long_run(problem->count, p, scores, lags, middle);
    double coordinates = 2 * (double)f->count;
    double factor = f->small * f->small / (f->slope * f->slope) *
                    (lagged ? coordinates / (coordinates - p) : 1 - p / coordinates);
    for (int i = 0; i < p; i++)
        for (int j = 0; j < p; j++) {
            half[i * p + j] = 0;
            for (int k = 0; k < p; k++)
                half[i * p + j] += f->inverse[i * p + k] * middle[k * p + j];
        }
    for (int i = 0; i < p; i++)
        for (int j = 0; j < p; j++) {
            double sum = 0;
            for (int k = 0; k < p; k++) sum += half[i * p + k] * f->inverse[k * p + j];
            f->covariance[i * p + j] = factor * sum;
        }
    return PP_OK;
}

/* --- the whole ---------------------------------------------------------------------------- */

typedef struct plain_side { /* what the plain rows say, kept while whitened ones are solved */
    double *weight, *residual[2];
    bool *left_out;
    int32_t *gap;
} plain_side;

static pp_status take_side(size_t count, pp_arena *scratch, plain_side *s, pp_error *error)
{
    PP_TAKE(s->weight, scratch, count);
    PP_TAKE(s->residual[0], scratch, count);
    PP_TAKE(s->residual[1], scratch, count);
    PP_TAKE(s->left_out, scratch, count);
    PP_TAKE(s->gap, scratch, count);
    return PP_OK;
}

static void find_residuals(const pp_robust_problem *p, const double *beta, double *residual[2])
{
    for (size_t i = 0; i < p->count; i++) {
        pp_robust_row row;
        p->fill(p->context, i, &row);
        for (int axis = 0; axis < 2; axis++) {
            residual[axis][i] = row.value[axis];
            for (int j = 0; j < p->terms; j++)
                if (p->has[axis][j]) residual[axis][i] -= beta[j] * row.a[axis][j];
        }
    }
}

static pp_status solve_whitened(const pp_robust_problem *problem, bool uneven, pp_arena *scratch,
                                pp_robust_fit *fit, pp_serial *serial, pp_error *error)
{
    plain_side side = {0};
    size_t count = problem->count;
    PP_TRY(take_side(count, scratch, &side, error));
    for (size_t i = 0; i < count; i++)
        side.left_out[i] = fit->weight[i] < PP_ROBUST_MISFIT; /* also who took no part before */
    find_gaps(count, side.left_out, side.gap);
    whitened context = {problem, 0, side.gap};
    pp_robust_problem white = *problem;
    white.fill = fill_whitened;
    white.fill_rows = NULL;
    white.context = &context;
    white.left_out = side.left_out;
    pp_robust_fit inner = *fit; /* whitened rows have weights and residuals of their own */
    inner.weight = side.weight;
    inner.residual[0] = side.residual[0], inner.residual[1] = side.residual[1];
    double rho = serial->correlation, pairs = serial->pairs;
    for (int round = 0; round < PP_SERIAL_ROUNDS; round++) {
        context.rho = serial->rho = unbias(rho, pairs, problem->terms);
        PP_TRY(pp_robust_solve(&white, true, scratch, &inner, error));
        find_residuals(problem, inner.beta, fit->residual);
        PP_TRY(lag_1(problem, fit, side.left_out, &rho, &pairs, error));
    }
    PP_TRY(lag_1(problem, &inner, side.left_out, &rho, &pairs, error));
    serial->newey_west = significant(rho, pairs);
    if (serial->newey_west || uneven)
        PP_TRY(sandwich(&white, serial->newey_west, scratch, &inner, error));
    double scale[2] = {fit->scale[0], fit->scale[1]};
    inner.weight = fit->weight;
    inner.residual[0] = fit->residual[0], inner.residual[1] = fit->residual[1];
    *fit = inner;
    fit->scale[0] = scale[0], fit->scale[1] = scale[1];
    return PP_OK;
}

pp_status pp_serial_solve(const pp_robust_problem *problem, bool uneven, pp_arena *scratch,
                          pp_robust_fit *fit, pp_serial *serial, pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    *serial = (pp_serial){0};
    PP_TRY(pp_robust_solve(problem, false, scratch, fit, error));
    PP_TRY(lag_1(problem, fit, problem->left_out, &serial->correlation, &serial->pairs, error));
    for (int j = 0; j < problem->terms; j++)
        serial->plain_size[j] = 1 / fit->inverse[j * problem->terms + j];
    pp_status status = PP_OK;
    if (significant(serial->correlation, serial->pairs))
        status = solve_whitened(problem, uneven, scratch, fit, serial, error);
    else if (uneven)
        status = sandwich(problem, false, scratch, fit, error);
    pp_arena_release(scratch, mark);
    return status;
}

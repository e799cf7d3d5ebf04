#include "flatness/smoothing.h"

#include <math.h>
#include <string.h>

#include "base/parallel.h"
#include "linalg/linalg.h"

enum {
    WORKERS_MAX = 8, /* each holds a band of its own */
    COARSE = 21,     /* log10(mu / unit) = -9, -8.5 .. 1 */
    DEEPER = 4,      /* -11 .. -9.5: hardly any noise */
    DEEPEST = 4,     /* -13 .. -11.5: and so many points that stiffness has almost no say */
    AROUND = 5,      /* near a known mu: -0.5, -0.25 .. 0.5 about it */
    FINE = 6,        /* between the neighbours of the best */
    BATCH = 4,       /* made side by side */
    CURVE_MOST = 8,  /* trials about the least value */
    NEWTON_STEPS = 20,
    TRIALS_MAX = COARSE + DEEPER + DEEPEST + FINE
};
static const double coarse_first = -9, coarse_step = 0.5, deeper_first = -11, deepest_first = -13,
                    around_step = 0.25;
static const double rich_survey = 1e4;    /* heights from which the deepest scan is made */
static const double tie = 1e-3;           /* of minus twice the log-likelihood: no evidence */
static const double preferred = -6;       /* log10(mu / unit) among ties: next to interpolation */
static const double df_step = 0.1;        /* decades either side for dL/d(log mu) */
static const double refuting_ratio = 1.5; /* noise over the sigma stated */
static const double sum_floor = 1e-18;    /* mm2 per height: below any instrument and above 0 */
static const double sum_slack = 1e-11;    /* of z'z: round-off of P, generously */
static const double detail_exponent = -8; /* lets through waves of two of the guide's cells */
static const double detail_margin = 1;    /* decades above that it is asked for */
static const double settled = 1e-4;       /* of minus twice the log-likelihood, to the least */
static const double guide_reach = 1;      /* decades from the guide's least value */
static const double slack = 1e-3;         /* round-off of L, generously */

typedef struct trial {
    double exponent; /* log10(mu / unit) */
    double minimum;  /* P */
    double log_determinant;
    bool made;
    bool valid; /* the factorisation went through */
} trial;

typedef struct search {
    const pp_smoothing_problem *problem;
    size_t workers;
    double *band[WORKERS_MAX], *solution[WORKERS_MAX];
    size_t count;
    trial trials[TRIALS_MAX]; /* ascending exponents */
} search;

static double mu_of(const search *s, double exponent)
{
    return s->problem->unit * pow(10, exponent);
}

static void form(const pp_smoothing_problem *p, double mu, double *band)
{
    size_t values = p->n * (p->half_bandwidth + 1);
    for (size_t k = 0; k < values; k++) band[k] = p->normal[k] + mu * p->stiffness[k];
}

/* Factor A + mu K, as formed, and solve; a matrix that is not definite is a trial that fails. */
static pp_status factor_and_solve(const pp_smoothing_problem *p, double *band, double *w,
                                  trial *out, pp_error *error)
{
    memcpy(w, p->load, p->n * sizeof *w);
    pp_status status = pp_band_factor(p->n, p->half_bandwidth, band, error);
    if (status == PP_OK) status = pp_band_solve(p->n, p->half_bandwidth, band, 1, w, error);
    out->made = true;
    out->valid = status == PP_OK;
    if (status == PP_ENUMERIC) return PP_OK;
    PP_TRY(status);
    out->log_determinant = pp_band_log_determinant(p->n, p->half_bandwidth, band);
    double fitted = 0;
    for (size_t k = 0; k < p->n; k++) fitted += w[k] * p->load[k];
    out->minimum = fmax(p->zz - fitted, sum_floor * p->weight);
    return PP_OK;
}

typedef struct batch {
    const search *s;
    trial *trials[BATCH];
} batch;

static pp_status make_part(void *context, size_t part, int worker, pp_error *error)
{
    const batch *b = context;
    const search *s = b->s;
    form(s->problem, mu_of(s, b->trials[part]->exponent), s->band[worker]);
    return factor_and_solve(s->problem, s->band[worker], s->solution[worker], b->trials[part],
                            error);
}

/* Merge equally spaced exponents, trials yet to be made, into the ascending list. */
static void list(search *s, double first, double step, size_t count)
{
    trial merged[TRIALS_MAX];
    size_t a = 0, b = 0, total = 0;
    while (a < s->count || b < count) {
        double fresh = first + step * (double)b;
        bool old = b == count || (a < s->count && s->trials[a].exponent < fresh);
        merged[total++] = old ? s->trials[a++] : (trial){.exponent = fresh};
        b += !old;
    }
    memcpy(s->trials, merged, total * sizeof *merged);
    s->count = total;
}

/* Minus twice the restricted log-likelihood. */
static double criterion(const search *s, const trial *t, double sigma)
{
    const pp_smoothing_problem *p = s->problem;
    if (!t->valid) return INFINITY;
    double roughness =
        t->log_determinant - ((double)p->n - 3) * (log(p->unit) + t->exponent * log(10));
    return roughness +
           (isnan(sigma) ? fmax(p->weight - 3, 0) * log(t->minimum) : t->minimum / (sigma * sigma));
}

/* The trial made next to k, below (-1) or above (+1); NULL: none. */
static const trial *made_beside(const search *s, size_t k, int sense)
{
    for (size_t j = k + (size_t)sense; j < s->count; j += (size_t)sense) /* 0 - 1 wraps */
        if (s->trials[j].made) return &s->trials[j];
    return NULL;
}

/* L convex in log mu lies above the line through the two trials next to k on one side, extended. */
static double determinant_from(const search *s, size_t k, int sense)
{
    const trial *near = made_beside(s, k, sense);
    if (!near) return -INFINITY;
    const trial *far = made_beside(s, (size_t)(near - s->trials), sense);
    double slope = sense < 0 ? 0 : (double)s->problem->n * log(10); /* the limits of dL/d(log mu) */
    if (far && far->valid)
        slope = (far->log_determinant - near->log_determinant) / (far->exponent - near->exponent);
    return near->log_determinant + slope * (s->trials[k].exponent - near->exponent);
}

/* P rises and is concave in mu: it lies above the chord of the trials next to k. */
static double minimum_at_least(const search *s, size_t k)
{
    const trial *below = made_beside(s, k, -1), *above = made_beside(s, k, 1);
    double least = below ? below->minimum : 0;
    if (above) {
        double from = below ? mu_of(s, below->exponent) : 0;
        double share =
            (mu_of(s, s->trials[k].exponent) - from) / (mu_of(s, above->exponent) - from);
        least += share * (above->minimum - least);
    }
    const pp_smoothing_problem *p = s->problem;
    return fmax(least - sum_slack * p->zz, sum_floor * p->weight);
}

/* What the criterion of a trial not made is at least. */
static double criterion_at_least(const search *s, size_t k, double sigma)
{
    const trial *below = made_beside(s, k, -1), *above = made_beside(s, k, 1);
    if ((below && !below->valid) || (above && !above->valid)) return -INFINITY;
    trial bound = {.exponent = s->trials[k].exponent, .valid = true};
    bound.log_determinant = fmax(determinant_from(s, k, -1), determinant_from(s, k, 1)) - slack;
    bound.minimum = minimum_at_least(s, k);
    return criterion(s, &bound, sigma);
}

/* The least criterion; of several that the data cannot tell apart, the one preferred. */
static size_t best_trial(const search *s, double sigma, double margin)
{
    double least = INFINITY;
    for (size_t k = 0; k < s->count; k++) least = fmin(least, criterion(s, &s->trials[k], sigma));
    size_t best = 0;
    double off = INFINITY;
    for (size_t k = 0; k < s->count; k++) {
        if (!(criterion(s, &s->trials[k], sigma) <= least + margin)) continue;
        double distance = fabs(s->trials[k].exponent - preferred);
        if (distance < off) best = k, off = distance;
    }
    return best;
}

/* The trials not made that may yet be the best, or stand next to it. */
static size_t open_trials(const search *s, double sigma, double margin, size_t open[TRIALS_MAX])
{
    size_t best = best_trial(s, sigma, margin), count = 0;
    double least = INFINITY;
    for (size_t k = 0; k < s->count; k++) least = fmin(least, criterion(s, &s->trials[k], sigma));
    for (size_t k = 0; k < s->count; k++) {
        if (s->trials[k].made) continue;
        bool beside = k + 1 == best || k == best + 1;
        if (beside || criterion_at_least(s, k, sigma) <= least + margin) open[count++] = k;
    }
    return count;
}

/* Make as many trials as tell the best from all the others: the same as if all were made. */
static pp_status settle(search *s, double sigma, double margin, pp_error *error)
{
    size_t open[TRIALS_MAX], count;
    while ((count = open_trials(s, sigma, margin, open)) > 0) {
        batch b = {.s = s};
        size_t parts = (count + 1) / 2 < BATCH ? (count + 1) / 2 : BATCH;
        for (size_t k = 0; k < parts; k++)
            b.trials[k] = &s->trials[open[(2 * k + 1) * count / (2 * parts)]];
        PP_TRY(pp_parallel((int)s->workers, parts, make_part, &b, error));
    }
    return PP_OK;
}

/* Lowest point of the parabola through the best trial and its neighbours. */
static double parabola_vertex(const search *s, size_t best, double sigma)
{
    double x = s->trials[best].exponent;
    if (best == 0 || best + 1 == s->count) return x;
    double left = x - s->trials[best - 1].exponent, right = s->trials[best + 1].exponent - x;
    double middle = criterion(s, &s->trials[best], sigma);
    double rise_left = criterion(s, &s->trials[best - 1], sigma) - middle;
    double rise_right = criterion(s, &s->trials[best + 1], sigma) - middle;
    double bend = rise_left / left + rise_right / right;
    if (!(bend > 0) || !isfinite(bend)) return x;
    double step = (rise_left / left * right - rise_right / right * left) / (2 * bend);
    return x + fmax(-left / 2, fmin(right / 2, step));
}

/* Whether the trials either side of this one are no worse than it by more than a tie. */
static bool flat_about(const search *s, size_t at, double sigma)
{
    double limit = criterion(s, &s->trials[at], sigma) + tie;
    return criterion(s, &s->trials[at - 1], sigma) <= limit &&
           criterion(s, &s->trials[at + 1], sigma) <= limit;
}

/* A sharper look between the neighbours of the best, unless the data do not ask for one. */
static pp_status choose(search *s, double sigma, double *exponent, pp_error *error)
{
    size_t best = best_trial(s, sigma, tie);
    *exponent = s->trials[best].exponent;
    if (best == 0 || best + 1 == s->count || flat_about(s, best, sigma)) return PP_OK;
    if (s->count == AROUND) { /* these are close enough as they are */
        *exponent = parabola_vertex(s, best, sigma);
        return PP_OK;
    }
    double low = s->trials[best - 1].exponent, high = s->trials[best + 1].exponent;
    double step = (high - low) / (FINE + 2);
    search fine = *s;
    fine.count = 3;
    memcpy(fine.trials, &s->trials[best - 1], 3 * sizeof(trial));
    list(&fine, low + step, step, FINE / 2);
    list(&fine, *exponent + step, step, FINE / 2);
    PP_TRY(settle(&fine, sigma, 0, error));
    *exponent = parabola_vertex(&fine, best_trial(&fine, sigma, 0), sigma);
    return PP_OK;
}

static bool at_low_end(const search *s, double sigma) { return best_trial(s, sigma, tie) == 0; }

static pp_status scan_all(search *s, double sigma, pp_error *error)
{
    s->count = 0;
    list(s, coarse_first, coarse_step, COARSE);
    PP_TRY(settle(s, sigma, tie, error));
    if (!at_low_end(s, sigma)) return PP_OK;
    list(s, deeper_first, coarse_step, DEEPER);
    PP_TRY(settle(s, sigma, tie, error));
    if (!at_low_end(s, sigma) || s->problem->weight < rich_survey) return PP_OK;
    list(s, deepest_first, coarse_step, DEEPEST);
    return settle(s, sigma, tie, error);
}

/* The trials to choose from: about the mu given if the best is among them, else all. */
static pp_status make_trials(search *s, double sigma, pp_error *error)
{
    const pp_smoothing_problem *p = s->problem;
    if (!isnan(p->near)) {
        double middle = log10(p->near / p->unit);
        list(s, middle - around_step * (AROUND / 2), around_step, AROUND);
        PP_TRY(settle(s, sigma, tie, error));
        size_t best = best_trial(s, sigma, tie);
        if (best > 0 && best + 1 < s->count) return PP_OK;
    }
    return scan_all(s, sigma, error);
}

static double noise_of(const pp_smoothing_problem *p, const trial *t)
{
    return p->weight > 3.5 ? sqrt(t->minimum / (p->weight - 3)) : NAN;
}

/* ---- the last fit ---- */

/* A fit, trials either side of it, and one at a small mu that looks for detail. */
enum { MIDDLE, BELOW, ABOVE, DETAIL, LAST };
typedef struct last_trials {
    const search *s;
    trial at[LAST];
    double *solution; /* of the first */
} last_trials;

static pp_status last_part(void *context, size_t part, int worker, pp_error *error)
{
    last_trials *l = context;
    const pp_smoothing_problem *p = l->s->problem;
    double *band = l->s->band[worker], *w = l->s->solution[worker];
    if (part == MIDDLE && p->factor) band = p->factor;
    form(p, mu_of(l->s, l->at[part].exponent), band);
    PP_TRY(factor_and_solve(p, band, w, &l->at[part], error));
    if (part == MIDDLE) memcpy(l->solution, w, p->n * sizeof *w);
    return PP_OK;
}

/* `parts`: with or without the last. */
static pp_status make_last(last_trials *l, double exponent, size_t parts, pp_error *error)
{
    l->at[MIDDLE] = (trial){.exponent = exponent};
    l->at[BELOW] = (trial){.exponent = exponent - df_step};
    l->at[ABOVE] = (trial){.exponent = exponent + df_step};
    if (parts > DETAIL) l->at[DETAIL] = (trial){.exponent = detail_exponent};
    return pp_parallel((int)l->s->workers, parts, last_part, l, error);
}

/* Trials next to each other, as one polynomial through them all. */
typedef struct curve {
    size_t count;
    double x[CURVE_MOST], criterion[CURVE_MOST], log_determinant[CURVE_MOST];
} curve;

static void add_trial(const search *s, const trial *t, double sigma, curve *c)
{
    c->x[c->count] = t->exponent;
    c->criterion[c->count] = criterion(s, t, sigma);
    c->log_determinant[c->count++] = t->log_determinant;
}

/* d <- value and derivatives at x of Newton's polynomial through y[count] */
static void interpolate(const curve *c, const double *y, double x, double d[3])
{
    double table[CURVE_MOST];
    memcpy(table, y, c->count * sizeof *y);
    for (size_t order = 1; order < c->count; order++)
        for (size_t k = c->count - 1; k >= order; k--)
            table[k] = (table[k] - table[k - 1]) / (c->x[k] - c->x[k - order]);
    d[0] = d[1] = d[2] = 0;
    for (size_t k = c->count; k-- > 0;) {
        double from = x - c->x[k];
        d[2] = d[2] * from + 2 * d[1];
        d[1] = d[1] * from + d[0];
        d[0] = d[0] * from + table[k];
    }
}

/* Lowest point of the curve next to its last trial; NaN: none. *gain: how much lower. */
static double lowest(const curve *c, double *gain)
{
    double d[3], at = c->x[c->count - 1];
    for (int step = 0; step < NEWTON_STEPS; step++) {
        interpolate(c, c->criterion, at, d);
        if (!(d[2] > 0)) return NAN;
        at -= fmax(-guide_reach, fmin(guide_reach, d[1] / d[2]));
    }
    interpolate(c, c->criterion, at, d);
    *gain = c->criterion[c->count - 1] - d[0];
    return at;
}

static pp_status conclude(const last_trials *l, const curve *c, pp_smoothing *result,
                          pp_error *error)
{
    const pp_smoothing_problem *p = l->s->problem;
    double d[3], norm = NAN, reciprocal = NAN, mu = mu_of(l->s, l->at[MIDDLE].exponent);
    interpolate(c, c->log_determinant, l->at[MIDDLE].exponent, d);
    if (p->factor) {
        form(p, mu, l->s->band[0]);
        PP_TRY(pp_band_norm(p->n, p->half_bandwidth, l->s->band[0], &norm, error));
        PP_TRY(pp_band_condition(p->n, p->half_bandwidth, p->factor, norm, &reciprocal, error));
    }
    *result = (pp_smoothing){.mu = mu,
                             .noise = noise_of(p, &l->at[MIDDLE]),
                             .degrees_of_freedom = (double)p->n - d[1] / log(10),
                             .condition = 1 / reciprocal};
    return PP_OK;
}

static pp_status finish(last_trials *l, double exponent, pp_smoothing *result, pp_error *error)
{
    curve c = {0};
    PP_TRY(make_last(l, exponent, DETAIL, error));
    for (int k = MIDDLE; k < DETAIL; k++) {
        if (!l->at[k].valid)
            return pp_fail(error, PP_ENUMERIC,
                           "the survey points do not determine a surface; survey more of the "
                           "plate");
        add_trial(l->s, &l->at[k], NAN, &c);
    }
    return conclude(l, &c, result, error);
}

static bool refutes(const search *s, double sigma)
{
    const pp_smoothing_problem *p = s->problem;
    return !isnan(sigma) && !p->sigma_trusted &&
           noise_of(p, &s->trials[best_trial(s, sigma, tie)]) > refuting_ratio * sigma;
}

/* ---- by a guide ---- */

/* Where the guide has its least value; NaN: nothing to go by. *excess: how much more its trial for
 * detail has than that; -INFINITY: a mu so small lets all detail through. */
static pp_status ask_guide(const search *s, double *exponent, double *excess, pp_error *error)
{
    const pp_smoothing_problem *p = s->problem;
    search coarse = *s;
    coarse.problem = p->guide;
    *exponent = NAN, *excess = -INFINITY;
    PP_TRY(scan_all(&coarse, p->sigma, error));
    if (refutes(&coarse, p->sigma) || at_low_end(&coarse, p->sigma)) return PP_OK;
    double found;
    PP_TRY(choose(&coarse, p->sigma, &found, error));
    if (found > detail_exponent + detail_margin) {
        trial at[2] = {{.exponent = found}, {.exponent = detail_exponent}};
        for (int k = 0; k < 2; k++) {
            form(p->guide, mu_of(&coarse, at[k].exponent), s->band[0]);
            PP_TRY(factor_and_solve(p->guide, s->band[0], s->solution[0], &at[k], error));
            if (!at[k].valid) return PP_OK;
        }
        *excess = criterion(&coarse, &at[1], p->sigma) - criterion(&coarse, &at[0], p->sigma);
    }
    *exponent = found;
    return PP_OK;
}

/* Whether the trials speak against the guide. */
static bool disagrees(const last_trials *l, size_t parts, double coarse_excess)
{
    const search *s = l->s;
    const pp_smoothing_problem *p = s->problem;
    for (size_t k = 0; k < parts; k++)
        if (!l->at[k].valid) return true;
    double middle = criterion(s, &l->at[MIDDLE], p->sigma);
    if (parts > DETAIL &&
        !(criterion(s, &l->at[DETAIL], p->sigma) - middle > fmax(0, coarse_excess)))
        return true;
    return !isnan(p->sigma) && !p->sigma_trusted &&
           noise_of(p, &l->at[MIDDLE]) > refuting_ratio * p->sigma;
}

/* From the guide's least value to that of the problem itself, a fit a step; *done: false where it
 * is to be scanned for after all. */
static pp_status descend(last_trials *l, double start, pp_smoothing *result, bool *done,
                         pp_error *error)
{
    const search *s = l->s;
    const double sigma = s->problem->sigma;
    curve c = {0};
    double gain;
    add_trial(s, &l->at[BELOW], sigma, &c);
    add_trial(s, &l->at[ABOVE], sigma, &c);
    add_trial(s, &l->at[MIDDLE], sigma, &c);
    /* the data do not ask for a sharper look */
    bool flat = fmax(c.criterion[0], c.criterion[1]) <= c.criterion[2] + tie;
    for (;;) {
        double exponent = lowest(&c, &gain);
        *done = flat || (gain <= settled && fabs(exponent - start) <= guide_reach);
        if (*done) return conclude(l, &c, result, error);
        if (!(fabs(exponent - start) <= guide_reach) || c.count == CURVE_MOST) return PP_OK;
        l->at[MIDDLE] = (trial){.exponent = exponent};
        PP_TRY(last_part(l, MIDDLE, 0, error));
        if (!l->at[MIDDLE].valid) return PP_OK;
        add_trial(s, &l->at[MIDDLE], sigma, &c);
    }
}

static pp_status follow_guide(last_trials *l, pp_smoothing *result, bool *done, pp_error *error)
{
    const pp_smoothing_problem *p = l->s->problem;
    double start, excess;
    *done = false;
    if (!p->guide || !isnan(p->near)) return PP_OK;
    PP_TRY(ask_guide(l->s, &start, &excess, error));
    if (isnan(start)) return PP_OK;
    size_t parts = excess > -INFINITY ? LAST : DETAIL;
    PP_TRY(make_last(l, start, parts, error));
    return disagrees(l, parts, excess) ? PP_OK : descend(l, start, result, done, error);
}

pp_status pp_smoothing_solve(const pp_smoothing_problem *problem, pp_memory *memory,
                             double *solution, pp_smoothing *result, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    search s = {.problem = problem};
    size_t wanted = problem->threads > WORKERS_MAX ? WORKERS_MAX : (size_t)problem->threads;
    s.workers = wanted < 1 ? 1 : wanted;
    for (size_t k = 0; k < s.workers; k++) {
        PP_TAKE(s.band[k], &memory->scratch, problem->n * (problem->half_bandwidth + 1));
        PP_TAKE(s.solution[k], &memory->scratch, problem->n);
    }
    double sigma = problem->sigma, exponent;
    last_trials last = {.s = &s, .solution = solution};
    bool done, refuted;
    pp_smoothing r = {0};
    PP_TRY(follow_guide(&last, &r, &done, error));
    if (!done) {
        PP_TRY(make_trials(&s, sigma, error));
        refuted = refutes(&s, sigma);
        if (refuted) {
            sigma = NAN;
            PP_TRY(scan_all(&s, sigma, error));
        }
        PP_TRY(choose(&s, sigma, &exponent, error));
        PP_TRY(finish(&last, exponent, &r, error));
        r.sigma_refuted = refuted;
    }
    *result = r;
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

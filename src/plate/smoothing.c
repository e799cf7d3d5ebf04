#include "plate/smoothing.h"

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

typedef struct trial {
    double exponent; /* log10(mu / unit) */
    double minimum;  /* P */
    double log_determinant;
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

/* Factor A + mu K and solve, in a workspace; a matrix that is not definite is a trial that fails.
 */
static pp_status try_mu(const search *s, double mu, double *band, double *w, trial *out,
                        pp_error *error)
{
    const pp_smoothing_problem *p = s->problem;
    size_t values = p->n * (p->half_bandwidth + 1);
    for (size_t k = 0; k < values; k++) band[k] = p->normal[k] + mu * p->stiffness[k];
    memcpy(w, p->load, p->n * sizeof *w);
    pp_status status = pp_band_factor(p->n, p->half_bandwidth, band, error);
    if (status == PP_OK) status = pp_band_solve(p->n, p->half_bandwidth, band, 1, w, error);
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
    search *s;
    trial *trials;
    bool own_space; /* workspace by part, so that the factors stay */
} batch;

static pp_status try_part(void *context, size_t part, int worker, pp_error *error)
{
    batch *b = context;
    size_t space = b->own_space ? part : (size_t)worker;
    trial *t = &b->trials[part];
    return try_mu(b->s, mu_of(b->s, t->exponent), b->s->band[space], b->s->solution[space], t,
                  error);
}

static pp_status try_all(search *s, trial *trials, size_t count, bool own_space, pp_error *error)
{
    batch b = {s, trials, own_space};
    return pp_parallel((int)s->workers, count, try_part, &b, error);
}

/* Try equally spaced exponents and merge them into the ascending list. */
static pp_status scan(search *s, double first, double step, size_t count, pp_error *error)
{
    trial fresh[TRIALS_MAX], merged[TRIALS_MAX];
    for (size_t k = 0; k < count; k++) fresh[k] = (trial){.exponent = first + step * (double)k};
    PP_TRY(try_all(s, fresh, count, false, error));
    size_t a = 0, b = 0, total = 0;
    while (a < s->count || b < count) {
        bool old = b == count || (a < s->count && s->trials[a].exponent < fresh[b].exponent);
        merged[total++] = old ? s->trials[a++] : fresh[b++];
    }
    memcpy(s->trials, merged, total * sizeof *merged);
    s->count = total;
    return PP_OK;
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
    PP_TRY(scan(&fine, low + step, step, FINE / 2, error));
    PP_TRY(scan(&fine, *exponent + step, step, FINE / 2, error));
    *exponent = parabola_vertex(&fine, best_trial(&fine, sigma, 0), sigma);
    return PP_OK;
}

static bool at_low_end(const search *s)
{
    return best_trial(s, s->problem->sigma, tie) == 0 || best_trial(s, NAN, tie) == 0;
}

static pp_status scan_all(search *s, pp_error *error)
{
    s->count = 0;
    PP_TRY(scan(s, coarse_first, coarse_step, COARSE, error));
    if (at_low_end(s)) PP_TRY(scan(s, deeper_first, coarse_step, DEEPER, error));
    if (at_low_end(s) && s->problem->weight >= rich_survey)
        PP_TRY(scan(s, deepest_first, coarse_step, DEEPEST, error));
    return PP_OK;
}

static bool at_an_end(const search *s, double sigma)
{
    size_t best = best_trial(s, sigma, tie);
    return best == 0 || best + 1 == s->count;
}

/* The trials to choose from: about the mu given if the best is among them, else all. */
static pp_status make_trials(search *s, pp_error *error)
{
    const pp_smoothing_problem *p = s->problem;
    if (!isnan(p->near)) {
        double middle = log10(p->near / p->unit);
        PP_TRY(scan(s, middle - around_step * (AROUND / 2), around_step, AROUND, error));
        if (!at_an_end(s, p->sigma)) return PP_OK;
    }
    return scan_all(s, error);
}

static double noise_of(const pp_smoothing_problem *p, const trial *t)
{
    return p->weight > 3.5 ? sqrt(t->minimum / (p->weight - 3)) : NAN;
}

static pp_status finish(search *s, double exponent, double *solution, pp_smoothing *result,
                        pp_error *error)
{
    const pp_smoothing_problem *p = s->problem;
    trial last[3] = {
        {.exponent = exponent}, {.exponent = exponent - df_step}, {.exponent = exponent + df_step}};
    PP_TRY(try_all(s, last, 3, true, error));
    if (!last[0].valid || !last[1].valid || !last[2].valid)
        return pp_fail(error, PP_ENUMERIC,
                       "the survey points do not determine a surface; survey more of the plate");
    pp_smoothing r = {.mu = mu_of(s, exponent), .noise = noise_of(p, &last[0])};
    double slope = (last[2].log_determinant - last[1].log_determinant) / (2 * df_step * log(10));
    r.degrees_of_freedom = (double)p->n - slope;
    memcpy(solution, s->solution[0], p->n * sizeof *solution);

    double *whole = s->band[1]; /* no longer needed */
    size_t values = p->n * (p->half_bandwidth + 1);
    for (size_t k = 0; k < values; k++) whole[k] = p->normal[k] + r.mu * p->stiffness[k];
    double norm = pp_band_norm(p->n, p->half_bandwidth, whole), reciprocal;
    PP_TRY(pp_band_condition(p->n, p->half_bandwidth, s->band[0], norm, &reciprocal, error));
    r.condition = 1 / reciprocal;
    *result = r;
    return PP_OK;
}

pp_status pp_smoothing_solve(const pp_smoothing_problem *problem, pp_memory *memory,
                             double *solution, pp_smoothing *result, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    search s = {.problem = problem};
    size_t wanted = problem->threads > WORKERS_MAX ? WORKERS_MAX : (size_t)problem->threads;
    s.workers = wanted < 1 ? 1 : wanted;
    for (size_t k = 0; k < s.workers || k < 3; k++) {
        PP_TAKE(s.band[k], &memory->scratch, problem->n * (problem->half_bandwidth + 1));
        PP_TAKE(s.solution[k], &memory->scratch, problem->n);
    }
    PP_TRY(make_trials(&s, error));
    double sigma = problem->sigma;
    bool refuted =
        !isnan(sigma) && !problem->sigma_trusted &&
        noise_of(problem, &s.trials[best_trial(&s, sigma, tie)]) > refuting_ratio * sigma;
    if (refuted && at_an_end(&s, NAN) && s.count == AROUND) PP_TRY(scan_all(&s, error));
    double exponent;
    PP_TRY(choose(&s, refuted ? NAN : sigma, &exponent, error));
    pp_smoothing r = {0};
    PP_TRY(finish(&s, exponent, solution, &r, error));
    r.sigma_refuted = refuted;
    *result = r;
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

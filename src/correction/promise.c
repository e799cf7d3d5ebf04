/* The promise: draws of the next plate, as it would be and as it will be corrected. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#include "base/constants.h"
#include "base/random.h"
#include "base/stats.h"
#include "correction/parts.h"

enum { DRAWS = 4000, SHARE_DRAWS = 200, SHARE_HOLES = 48 };
static const uint64_t SEED = 20;
static const double SPREAD_EXPLAINED = 0.05;
static const double LOW = 0.05, HIGH = 0.95;

static double student(uint64_t *state, size_t df)
{
    double square = 0;
    for (size_t i = 0; i < df; i++) {
        double z = pp_random_normal(state);
        square += z * z;
    }
    return pp_random_normal(state) / sqrt(square / (double)df);
}

/* ---- what is left beside the terms ---- */

typedef struct rest { /* mean square, log-normal from plate to plate */
    double mean_log, spread;
    size_t df;         /* 0: normal */
    double misdrilled; /* share of the holes */
} rest;

static rest rest_of(const pp_correction *o)
{
    double n = (double)o->plate_count, square = 0, sampling = 0, holes = 0, bad = 0;
    rest r = {0};
    for (size_t p = 0; p < o->plate_count; p++) {
        const pp_drilled_plate *plate = &o->plates[p];
        r.mean_log += log(plate->rest) / n;
        sampling += plate->rest_variance / (plate->rest * plate->rest) / n;
        holes += (double)plate->count, bad += (double)(plate->count - plate->good_count);
    }
    for (size_t p = 0; p < o->plate_count; p++) {
        double left = log(o->plates[p].rest) - r.mean_log;
        square += left * left;
    }
    bool explained = pp_chi2_upper(square / sampling, n - 1) > SPREAD_EXPLAINED;
    /* heavy tails hide in the sampling variance of a few plates: never below what is seen */
    double seen = square / (n - 1);
    r.spread = sqrt((explained ? fmax(sampling, seen) : seen) * (1 + 1 / n));
    r.df = explained && sampling >= seen ? 0 : o->plate_count - 1;
    r.misdrilled = bad / holes;
    return r;
}

/* ---- draws ---- */

typedef struct draws {
    double *before, *after;         /* [DRAWS] rms */
    double *out_before, *out_after; /* [SHARE_DRAWS] */
} draws;

/* The mean square of the fields of terms y: y' G y. */
static void gram(const pp_correcting *w, double g[PP_STATIC_TERMS][PP_STATIC_TERMS])
{
    for (int a = 0; a < PP_STATIC_TERMS; a++)
        for (int b = 0; b < PP_STATIC_TERMS; b++) {
            double sum = 0;
            for (size_t i = 0; i < w->count; i++)
                sum += w->ax[a][i] * w->ax[b][i] + w->ay[a][i] * w->ay[b][i];
            g[a][b] = sum / (double)w->count;
        }
}

static double square_of(double g[PP_STATIC_TERMS][PP_STATIC_TERMS], const double *y)
{
    double sum = 0;
    for (int a = 0; a < PP_STATIC_TERMS; a++)
        for (int b = 0; b < PP_STATIC_TERMS; b++) sum += y[a] * g[a][b] * y[b];
    return sum;
}

/* Shift and turn are out of the fields, and the plain terms leave nothing of theirs in the rest:
 * squares add up. */
static double rms_with(double g[PP_STATIC_TERMS][PP_STATIC_TERMS], const double *y, double r)
{
    return sqrt(fmax(0, square_of(g, y) + r));
}

/* ---- the terms of the next plate ---- */

typedef struct ahead {
    double middle, error; /* of the prediction */
    size_t df;            /* 0: not drawn */
} ahead;

/* By the plain terms of the plates, which hold the scatter of single holes, too; their spread at
 * least what that scatter does. */
static ahead look_ahead(const pp_correcting *w, int k)
{
    const pp_correction *o = w->out;
    const pp_learned_term *t = &o->terms[k];
    double n = (double)o->plate_count, between = 0, within = 0, gauge = o->series[k].gauge;
    ahead a = {0};
    if (t->state == PP_TERM_UNTESTED) return a;
    if (t->state == PP_TERM_DRIFTS)
        return (ahead){t->line_value, t->line_error, o->plate_count - 2};
    double value[PP_CORRECTION_PLATES_MAX];
    for (size_t p = 0; p < o->plate_count; p++) {
        const pp_drilled_plate *plate = &o->plates[p];
        double to = pp_static_is_bow(k) ? pow(w->radius / plate->radius, 2) : 1;
        value[p] = to * plate->plain[k];
        a.middle += value[p] / n, within += pow(to * plate->plain_error[k], 2) / n;
    }
    for (size_t p = 0; p < o->plate_count; p++) between += pow(value[p] - a.middle, 2) / (n - 1);
    a.error = sqrt(fmax(between, within) * (1 + 1 / n) + gauge * gauge);
    a.df = o->plate_count - 1;
    return a;
}

static void draw_terms(const ahead next[PP_STATIC_TERMS], uint64_t *state, double *y)
{
    for (int k = 0; k < PP_STATIC_TERMS; k++)
        y[k] = next[k].df ? next[k].middle + student(state, next[k].df) * next[k].error : 0;
}

/* P(e <= radius), e Rice distributed: off by `offset2` (squared), variance v along each axis. The
 * noncentral chi-square with two degrees of freedom as a Poisson mixture of central ones. */
static double within(double radius, double offset2, double v)
{
    enum { TERMS_MAX = 2000 };
    double q = 0.5 * offset2 / v, z = 0.5 * radius * radius / v;
    if (q > 600) return sqrt(offset2) <= radius; /* far off: no hole in doubt */
    double poisson = exp(-q), step = exp(-z), central = 1 - step, sum = 0, mass = 0;
    for (int j = 0; j < TERMS_MAX && mass < 1 - 1e-12; j++) {
        sum += poisson * central, mass += poisson;
        poisson *= q / (j + 1), step *= z / (j + 1);
        central = fmax(0, central - step);
    }
    return fmin(1, sum);
}

/* Share of the holes beyond the limit where each lies off by the terms and scatters by R. chance: a
 * normal deviate, the luck of the count; the same before and after, or luck would pass for gain. */
static double share_out(const pp_correcting *w, const double *y, double r, double misdrilled,
                        double chance)
{
    size_t step = w->count / SHARE_HOLES + 1;
    double sum = 0, n = 0, radius = 0.5 * w->options->limit;
    for (size_t i = 0; i < w->count; i += step, n++) {
        double mx = 0, my = 0;
        for (int k = 0; k < PP_STATIC_TERMS; k++)
            mx += y[k] * w->ax[k][i], my += y[k] * w->ay[k][i];
        sum += 1 - within(radius, mx * mx + my * my, 0.5 * r);
    }
    double share = fmin(1, fmax(0, sum / n) + misdrilled);
    double counted = share + chance * sqrt(share * (1 - share) / (double)w->count);
    return fmin(1, fmax(0, counted));
}

static void draw(const pp_correcting *w, draws *d)
{
    const pp_correction *o = w->out;
    double g[PP_STATIC_TERMS][PP_STATIC_TERMS], mean_rest = 0;
    ahead next[PP_STATIC_TERMS];
    rest left = rest_of(o);
    uint64_t state = SEED;
    gram(w, g);
    for (int k = 0; k < PP_STATIC_TERMS; k++) next[k] = look_ahead(w, k);
    for (size_t p = 0; p < o->plate_count; p++)
        mean_rest += o->plates[p].rest / (double)o->plate_count;
    /* of a field F scaled by f: 2 f F'B - f^2 F'F, and F is shrunk until F'B is F'F */
    double part = o->factor * (2 - o->factor) * w->field_cut / mean_rest;
    double cut = o->field_used ? fmin(0.95, fmax(0, part)) : 0;
    for (int i = 0; i < DRAWS; i++) {
        double y[PP_STATIC_TERMS], then[PP_STATIC_TERMS];
        draw_terms(next, &state, y);
        double far = left.df ? student(&state, left.df) : pp_random_normal(&state);
        double r = exp(left.mean_log + left.spread * far), less = r * (1 - cut);
        for (int k = 0; k < PP_STATIC_TERMS; k++) then[k] = y[k] - pp_correct_applied(w, k);
        d->before[i] = rms_with(g, y, r);
        d->after[i] = rms_with(g, then, less);
        if (i >= SHARE_DRAWS || isnan(w->options->limit)) continue;
        double chance = pp_random_normal(&state);
        d->out_before[i] = share_out(w, y, r, left.misdrilled, chance);
        d->out_after[i] = share_out(w, then, less, left.misdrilled, chance);
    }
}

static int by_size(const void *left, const void *right)
{
    double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

static pp_range3 range_of(double *v, size_t count)
{
    qsort(v, count, sizeof *v, by_size);
    double last = (double)(count - 1);
    return (pp_range3){v[(size_t)(0.5 * last)], v[(size_t)(LOW * last)], v[(size_t)(HIGH * last)]};
}

pp_status pp_correct_promise(pp_correcting *w, pp_error *error)
{
    pp_promise *p = &w->out->promise;
    pp_arena *scratch = &w->memory->scratch;
    pp_mark mark = pp_arena_mark(scratch);
    draws d = {0};
    size_t better = 0;
    PP_TAKE(d.before, scratch, DRAWS);
    PP_TAKE(d.after, scratch, DRAWS);
    PP_TAKE(d.out_before, scratch, SHARE_DRAWS);
    PP_TAKE(d.out_after, scratch, SHARE_DRAWS);
    draw(w, &d);
    for (int i = 0; i < DRAWS; i++) better += d.after[i] < d.before[i];
    p->probability_better = (double)better / DRAWS;
    p->rms_before = range_of(d.before, DRAWS), p->rms_after = range_of(d.after, DRAWS);
    p->out_before = p->out_after = (pp_range3){NAN, NAN, NAN};
    if (!isnan(w->options->limit)) {
        p->out_before = range_of(d.out_before, SHARE_DRAWS);
        p->out_after = range_of(d.out_after, SHARE_DRAWS);
    }
    w->out->promised = true;
    pp_arena_release(scratch, mark);
    return PP_OK;
}

#include "correction/terms.h"

#include <math.h>
#include <string.h>

#include "base/quantiles.h"
#include "base/stats.h"

static const double GATE = 0.75;     /* least probability that the next plate gets better */
static const double ONE_PLATE = 0.5; /* of what one plate shows: as likely as not it repeats */
static const double ONE_PLATE_T = 4; /* its t squared, at least; judgement */
static const double DRIFT_LEVEL = 0.05, LAST_LEVEL = 0.01;
enum { PLATES_FOR_PROMISE = 3, PLATES_FOR_DRIFT = 4 };

const char *pp_correction_state_words(pp_correction_state state)
{
    static const char *const WORDS[] = {"corrected",
                                        "does not repeat",
                                        "drifts from plate to plate",
                                        "last plate differs",
                                        "within the gauge's uncertainty",
                                        "temperature of drilling not known",
                                        "not from one plate",
                                        "too small for so few plates",
                                        "not found",
                                        "not tested"};
    return WORDS[state];
}

typedef struct spread {
    double n, mean, between2, within2, v; /* v: variance of one plate, the larger of both */
} spread;

static spread spread_of(const double *value, const double *standard_error, size_t plates)
{
    spread s = {.n = (double)plates};
    for (size_t p = 0; p < plates; p++) {
        s.mean += value[p] / s.n;
        s.within2 += standard_error[p] * standard_error[p] / s.n;
    }
    for (size_t p = 0; p < plates; p++) s.between2 += (value[p] - s.mean) * (value[p] - s.mean);
    s.between2 = plates > 1 ? s.between2 / (s.n - 1) : 0;
    s.v = fmax(s.between2, s.within2);
    return s;
}

static double shrink(double mean, double variance)
{
    return mean == 0 ? 0 : fmax(0, 1 - variance / (mean * mean)) * mean;
}

double pp_term_shrink(const double *value, const double *standard_error, size_t plates,
                      double gauge)
{
    spread s = spread_of(value, standard_error, plates);
    double variance = s.v / s.n + gauge * gauge;
    return plates == 1 ? ONE_PLATE * shrink(s.mean, variance) : shrink(s.mean, variance);
}

/* P(T > -t) of Student. */
static double student_below(double t, double df)
{
    double tail = 0.5 * pp_student_two_sided(t, df);
    return t < 0 ? tail : 1 - tail;
}

/* P(|y - c| < |y|) of the next plate's y. */
static double probability_better(const spread *s, double c, double gauge)
{
    double root = sqrt(s->v * (1 + 1 / s->n) + gauge * gauge);
    if (!(root > 0)) return 1;
    return student_below((fabs(s->mean) - 0.5 * fabs(c)) / root, s->n - 1);
}

static bool all_found(const pp_term_series *t)
{
    for (size_t p = 0; p < t->plates; p++)
        if (!t->found[p] || t->value[p] * t->value[0] <= 0) return false;
    return true;
}

/* One or two plates tell nothing of repeating: only what is clear on both, and matters. */
static pp_correction_state judge_few(const pp_term_series *t, const spread *s)
{
    if (t->is_bow && t->plates < 2) return PP_TERM_NOT_FROM_ONE;
    if (t->is_scale && !t->temperatures) return PP_TERM_TEMPERATURE_UNKNOWN;
    if (!all_found(t)) return PP_TERM_NEVER_FOUND;
    if (t->plates == 1 && !(s->mean * s->mean > ONE_PLATE_T * s->within2))
        return PP_TERM_NEVER_FOUND;
    return fabs(s->mean) * t->reach < t->least ? PP_TERM_TOO_SMALL : PP_TERM_CORRECTED;
}

static void learn(const pp_term_series *t, pp_learned_term *l)
{
    *l = (pp_learned_term){.mean = NAN,
                           .between = NAN,
                           .within = NAN,
                           .variance = NAN,
                           .probability_better = NAN,
                           .state = PP_TERM_UNTESTED,
                           .line_value = NAN,
                           .line_error = NAN};
    for (size_t p = 0; p < t->plates; p++)
        if (isnan(t->value[p])) return;
    spread s = spread_of(t->value, t->standard_error, t->plates);
    l->mean = s.mean, l->variance = s.v;
    l->between = t->plates > 1 ? sqrt(s.between2) : NAN, l->within = sqrt(s.within2);
    double c = pp_term_shrink(t->value, t->standard_error, t->plates, t->gauge);
    if (t->plates > 1) l->probability_better = probability_better(&s, c, t->gauge);
    l->state = PP_TERM_CORRECTED;
    if (t->plates < PLATES_FOR_PROMISE) l->state = judge_few(t, &s);
    if (l->state == PP_TERM_CORRECTED && t->gauge > 0 && fabs(s.mean) < 2 * t->gauge)
        l->state = PP_TERM_WITHIN_GAUGE;
    if (l->state == PP_TERM_CORRECTED && (c == 0 || l->probability_better < GATE))
        l->state = PP_TERM_DOES_NOT_REPEAT;
    l->applied = l->state == PP_TERM_CORRECTED ? c : 0;
}

/* ---- from plate to plate ---- */

typedef struct line {
    double slope, error, next, next_error, p;
} line;

/* Least squares on the plate's place; the spread not below that of the fits. */
static line fit_line(const pp_term_series *t, const spread *s)
{
    double n = s->n, xx = 0, xy = 0, rest = 0, middle = 0.5 * (n + 1);
    for (size_t p = 0; p < t->plates; p++) {
        double x = (double)p + 1 - middle;
        xx += x * x, xy += x * (t->value[p] - s->mean);
    }
    line l = {.slope = xy / xx};
    for (size_t p = 0; p < t->plates; p++) {
        double left = t->value[p] - s->mean - l.slope * ((double)p + 1 - middle);
        rest += left * left;
    }
    double v = fmax(rest / (n - 2), s->within2), ahead = n + 1 - middle;
    l.error = sqrt(v / xx);
    l.next = s->mean + l.slope * ahead;
    l.next_error = sqrt(v * (1 + 1 / n + ahead * ahead / xx) + t->gauge * t->gauge);
    l.p = l.error > 0 ? pp_student_two_sided(l.slope / l.error, n - 2) : 1;
    return l;
}

/* Holm over the terms: those that drift are left alone. */
static void find_drift(const pp_term_series *series, pp_learned_term *learned)
{
    line lines[PP_STATIC_TERMS];
    int order[PP_STATIC_TERMS] = {0}, count = 0;
    for (int k = 0; k < PP_STATIC_TERMS; k++) {
        if (learned[k].state == PP_TERM_UNTESTED || series[k].plates < PLATES_FOR_DRIFT) continue;
        spread s = spread_of(series[k].value, series[k].standard_error, series[k].plates);
        lines[k] = fit_line(&series[k], &s);
        int at = count++;
        for (; at > 0 && lines[order[at - 1]].p > lines[k].p; at--) order[at] = order[at - 1];
        order[at] = k;
    }
    for (int i = 0; i < count; i++) {
        int k = order[i];
        if (lines[k].p * (count - i) > DRIFT_LEVEL) return;
        learned[k].state = PP_TERM_DRIFTS;
        learned[k].applied = 0;
        learned[k].line_value = lines[k].next, learned[k].line_error = lines[k].next_error;
    }
}

/* Is the last plate outside what those before predict? */
static bool is_last_off(const pp_term_series *t, int terms)
{
    size_t before = t->plates - 1;
    spread s = spread_of(t->value, t->standard_error, before);
    double root =
        sqrt(fmax(s.v, t->standard_error[before] * t->standard_error[before]) * (1 + 1 / s.n));
    double far = pp_student_quantile(1 - 0.5 * LAST_LEVEL / terms, s.n - 1);
    return fabs(t->value[before] - s.mean) > far * root;
}

void pp_terms_learn(const pp_term_series *series, pp_learned_term *learned, bool *last_differs)
{
    int tested = 0;
    *last_differs = false;
    for (int k = 0; k < PP_STATIC_TERMS; k++) {
        learn(&series[k], &learned[k]);
        tested += learned[k].state != PP_TERM_UNTESTED;
    }
    find_drift(series, learned);
    for (int k = 0; k < PP_STATIC_TERMS; k++) {
        bool out = learned[k].state == PP_TERM_UNTESTED || learned[k].state == PP_TERM_DRIFTS;
        if (out || series[k].plates < PLATES_FOR_DRIFT || !is_last_off(&series[k], tested))
            continue;
        learned[k].state = PP_TERM_LAST_DIFFERS;
        *last_differs = true;
    }
    for (int k = 0; *last_differs && k < PP_STATIC_TERMS; k++) learned[k].applied = 0;
}

#include "causes/local_scale.h"

#include <math.h>
#include <string.h>

#include "base/stats.h"
#include "linalg/linalg.h"

enum { TERMS = 4, HOLES_MIN = 20 };
static const double SHORTEST = 0.05, LONGEST = 5; /* medians */
static const double LOG_MOST = 1.2;
/* The median scaled length is 1.18 for normal errors; hardly anything where the scale is at its
 * floor: rounding, whose distribution means nothing. */
static const double LEAST_MEDIAN = 0.15;

static int fill_row(const pp_error_field *f, size_t i, double row[TERMS])
{
    double l2 = f->radius * f->radius;
    row[0] = 1;
    row[1] = l2 > 0 ? (f->x[i] * f->x[i] + f->y[i] * f->y[i]) / l2 : 0;
    row[2] = f->s[i], row[3] = f->s[i] * f->s[i];
    return f->order_known ? TERMS : 2;
}

typedef struct sums {
    double normal[TERMS * TERMS], right[TERMS], square, total, count;
} sums;

static double scaled_length(const pp_robust_fit *fit, size_t i)
{
    return hypot(fit->residual[0][i] / fit->scale[0], fit->residual[1][i] / fit->scale[1]);
}

static pp_status add_all(const pp_error_field *f, const pp_robust_fit *fit, pp_arena *scratch,
                         sums *s, pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    double *length;
    size_t n = 0;
    PP_TAKE(length, scratch, f->count);
    for (size_t i = 0; i < f->count; i++)
        if (fit->weight[i] >= PP_ROBUST_MISFIT) length[n++] = scaled_length(fit, i);
    double median = pp_median(length, n);
    pp_arena_release(scratch, mark);
    if (!(median > LEAST_MEDIAN)) return PP_OK;
    for (size_t i = 0; i < f->count; i++) {
        if (fit->weight[i] < PP_ROBUST_MISFIT) continue;
        double row[TERMS];
        int terms = fill_row(f, i, row);
        double value = log(fmin(fmax(scaled_length(fit, i), SHORTEST * median), LONGEST * median));
        for (int j = 0; j < terms; j++) {
            for (int k = 0; k < terms; k++) s->normal[j * terms + k] += row[j] * row[k];
            s->right[j] += row[j] * value;
        }
        s->square += value * value, s->total += value, s->count++;
    }
    return PP_OK;
}

pp_status pp_local_scale_find(const pp_error_field *field, const pp_robust_fit *fit,
                              pp_arena *scratch, pp_local_scale *scale, pp_error *error)
{
    sums s = {0};
    int terms = field->order_known ? TERMS : 2;
    *scale = (pp_local_scale){.p = 1};
    PP_TRY(add_all(field, fit, scratch, &s, error));
    if (s.count < HOLES_MIN) return PP_OK;
    double b[TERMS];
    memcpy(b, s.right, sizeof b);
    /* a pattern without extent, an order without: nothing to tell */
    if (pp_cholesky_factor((size_t)terms, s.normal, (size_t)terms, NULL) != PP_OK) return PP_OK;
    PP_TRY(pp_cholesky_solve((size_t)terms, s.normal, (size_t)terms, 1, b, (size_t)terms, error));
    double fitted = 0, mean = s.total / s.count;
    for (int j = 0; j < terms; j++) fitted += b[j] * s.right[j];
    double of_model = fitted - s.count * mean * mean, rest = s.square - fitted;
    double df = s.count - terms;
    if (!(rest > 0) || !(of_model > 0)) return PP_OK;
    scale->p = pp_fisher_upper(of_model / (terms - 1) / (rest / df), terms - 1, df);
    scale->log_mean = mean;
    memcpy(scale->coefficient, b, (size_t)terms * sizeof *b);
    return PP_OK;
}

double pp_local_scale_at(const pp_local_scale *scale, double radius2, double s)
{
    const double *c = scale->coefficient;
    double value = c[0] + c[1] * radius2 + c[2] * s + c[3] * s * s - scale->log_mean;
    return exp(fmin(fmax(value, -LOG_MOST), LOG_MOST));
}

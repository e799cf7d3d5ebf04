#include "holddown/reactions.h"

#include <math.h>
#include <stdlib.h>

#include "base/constants.h"

static const double ANGLE_MARGIN = 1e-6; /* rad: nearer to tipping than that is tipping */
static const double AT_CENTRE = 1e-9;    /* of the extent: a place that has no direction */
static const double RIDGE = 1e-14;       /* of the trace: keeps two supports solvable */
static const double BALANCED = 1e-13;    /* of the weight: what is left of it, well balanced */
static const double BALANCED_ENOUGH = 1e-9;
static const double DESCENT = 1e-4; /* of the slope: the least a step must gain (Armijo) */
static const double STEP_LEAST = 1e-9;
enum { ROUNDS_MOST = 200 };

static int by_value(const void *a, const void *b)
{
    double p = *(const double *)a, q = *(const double *)b;
    return (p > q) - (p < q);
}

bool pp_footing_surrounds(const pp_stand *stand, double *angles)
{
    size_t n = 0;
    for (size_t i = 0; i < stand->count; i++) {
        double dx = stand->x[i] - stand->centre_x, dy = stand->y[i] - stand->centre_y;
        if (hypot(dx, dy) > AT_CENTRE * stand->extent) angles[n++] = atan2(dy, dx);
    }
    if (n < 3) return false;
    qsort(angles, n, sizeof *angles, by_value);
    double widest = angles[0] + 2 * PP_PI - angles[n - 1];
    for (size_t i = 1; i < n; i++) widest = fmax(widest, angles[i] - angles[i - 1]);
    return widest < PP_PI - ANGLE_MARGIN;
}

typedef struct footing {
    const pp_stand *stand;
    const double *share;
    double weight;
} footing;

/* (1, X, Y) of support i: from the centre of mass, in extents. */
static void row_of(const pp_stand *stand, size_t i, double row[3])
{
    row[0] = 1;
    row[1] = (stand->x[i] - stand->centre_x) / stand->extent;
    row[2] = (stand->y[i] - stand->centre_y) / stand->extent;
}

/* Dual value, its gradient and its second derivatives at c: the value is
 * sum a max(0, s)^2 / 2 - weight c0 with s = c0 + c1 X + c2 Y, (X, Y) from the centre of mass. */
static double dual(const footing *f, const double c[3], double gradient[3], double hessian[9])
{
    double value = -f->weight * c[0];
    gradient[0] = -f->weight;
    gradient[1] = gradient[2] = 0;
    for (int k = 0; k < 9; k++) hessian[k] = 0;
    for (size_t i = 0; i < f->stand->count; i++) {
        double row[3];
        row_of(f->stand, i, row);
        double s = c[0] + c[1] * row[1] + c[2] * row[2];
        if (s <= 0) continue;
        value += 0.5 * f->share[i] * s * s;
        for (int k = 0; k < 3; k++) {
            gradient[k] += f->share[i] * s * row[k];
            for (int l = 0; l < 3; l++) hessian[3 * k + l] += f->share[i] * row[k] * row[l];
        }
    }
    return value;
}

/* step = -hessian^-1 gradient by Cholesky */
static bool newton_step(const double hessian[9], const double gradient[3], double step[3])
{
    double l[9], ridge = RIDGE * (hessian[0] + hessian[4] + hessian[8]);
    for (int j = 0; j < 3; j++) {
        for (int i = j; i < 3; i++) {
            double sum = hessian[3 * i + j] + (i == j ? ridge : 0);
            for (int k = 0; k < j; k++) sum -= l[3 * i + k] * l[3 * j + k];
            if (i == j && !(sum > 0)) return false;
            l[3 * i + j] = i == j ? sqrt(sum) : sum / l[3 * j + j];
        }
    }
    for (int i = 0; i < 3; i++) {
        step[i] = -gradient[i];
        for (int k = 0; k < i; k++) step[i] -= l[3 * i + k] * step[k];
        step[i] /= l[3 * i + i];
    }
    for (int i = 2; i >= 0; i--) {
        for (int k = i + 1; k < 3; k++) step[i] -= l[3 * k + i] * step[k];
        step[i] /= l[3 * i + i];
    }
    return true;
}

static double largest(const double v[3]) { return fmax(fabs(v[0]), fmax(fabs(v[1]), fabs(v[2]))); }

bool pp_footing_solve(const pp_stand *stand, const double *share, double weight, double *angles,
                      double *reaction)
{
    if (!pp_footing_surrounds(stand, angles)) return false;
    footing f = {stand, share, weight};
    double total = 0, gradient[3], hessian[9], step[3], trial_gradient[3], trial_hessian[9];
    for (size_t i = 0; i < stand->count; i++) total += share[i];
    double c[3] = {weight / total, 0, 0};
    double value = dual(&f, c, gradient, hessian);
    for (int round = 0; round < ROUNDS_MOST && largest(gradient) > BALANCED * weight; round++) {
        if (!newton_step(hessian, gradient, step)) return false;
        double slope = 0, length = 1, trial[3], trial_value;
        for (int k = 0; k < 3; k++) slope += gradient[k] * step[k];
        for (;; length *= 0.5) {
            for (int k = 0; k < 3; k++) trial[k] = c[k] + length * step[k];
            trial_value = dual(&f, trial, trial_gradient, trial_hessian);
            /* near the end the value is all rounding: let the gradient decide */
            if (trial_value <= value + DESCENT * length * slope) break;
            if (largest(trial_gradient) < 0.5 * largest(gradient)) break;
            if (length < STEP_LEAST) goto done;
        }
        for (int k = 0; k < 3; k++) c[k] = trial[k];
        value = dual(&f, c, gradient, hessian);
    }
done:
    if (largest(gradient) > BALANCED_ENOUGH * weight) return false;
    for (size_t i = 0; i < stand->count; i++) {
        double s = c[0] + c[1] * (stand->x[i] - stand->centre_x) / stand->extent +
                   c[2] * (stand->y[i] - stand->centre_y) / stand->extent;
        reaction[i] = s > 0 ? share[i] * s : 0;
    }
    return true;
}

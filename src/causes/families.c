#include "causes/families.h"

#include <math.h>

#include "base/stats.h"

/* Levels of the gate, and how many independent looks each search is worth: measured on plates
 * without any cause (docs/theory/diagnosis.md). */
static const double LEVEL[PP_FAMILIES] = {0.005, 0.004, 0.004, 0.002};
static const double STEP_TRIES = 7, HALF_TRIES = 12, WAVE_TRIES = 3;
static const double PERIODS_MOST = 64, HOLES_A_PERIOD = 10;
static const double PERIODS_SAME = 1e-9;

bool pp_component_same(const pp_component *a, const pp_component *b)
{
    if (a->family != b->family) return false;
    switch (a->family) {
    case PP_FAMILY_STEP:
        return a->first == b->first;
    case PP_FAMILY_HALF_PLATE:
        return a->axis == b->axis && a->split == b->split;
    case PP_FAMILY_OSCILLATION:
        return fabs(a->periods - b->periods) < PERIODS_SAME;
    default:
        return true;
    }
}

int pp_family_parts(pp_family family) { return family == PP_FAMILY_OSCILLATION ? 2 : 1; }

bool pp_family_needs_order(pp_family family) { return family != PP_FAMILY_HALF_PLATE; }

double pp_family_periods_most(size_t holes)
{
    return fmin(PERIODS_MOST, (double)holes / HOLES_A_PERIOD);
}

double pp_family_tries(pp_family family, size_t holes)
{
    switch (family) {
    case PP_FAMILY_STEP:
        return STEP_TRIES * log((double)holes);
    case PP_FAMILY_HALF_PLATE:
        return HALF_TRIES;
    case PP_FAMILY_OSCILLATION:
        return fmax(1, WAVE_TRIES * pp_family_periods_most(holes));
    default:
        return 1;
    }
}

double pp_chi_squared_upper(double x, int df)
{
    if (!(x > 0)) return 1;
    if (df == 1) return 2 * pp_normal_upper(sqrt(x));
    if (df == 2) return exp(-0.5 * x);
    return exp(-0.5 * x) * (1 + 0.5 * x);
}

/* Bisection: the tail falls everywhere. */
static double quantile(double p, int df)
{
    double low = 0, high = 100;
    for (int step = 0; step < 60; step++) {
        double middle = 0.5 * (low + high);
        if (pp_chi_squared_upper(middle, df) > p)
            low = middle;
        else
            high = middle;
    }
    return 0.5 * (low + high);
}

double pp_chi_squared_1_of(double p) { return quantile(p, 1); }

double pp_family_cost(pp_family family, size_t holes)
{
    return quantile(LEVEL[family] / pp_family_tries(family, holes), 2 * pp_family_parts(family));
}

#include "process/oneway.h"

#include <math.h>

#include "base/stats.h"

static bool counts(const bool *left_out, size_t group) { return !left_out || !left_out[group]; }

pp_oneway pp_oneway_test(const double *value, const size_t *group, size_t count, size_t groups,
                         const bool *left_out, double *room)
{
    pp_oneway t = {.f = NAN, .p = NAN, .share = NAN, .scatter = NAN};
    double sum = 0, *n = room, *centre = room + groups;
    for (size_t i = 0; i < count; i++)
        if (counts(left_out, group[i])) sum += value[i], t.plates++;
    double mean = t.plates ? sum / (double)t.plates : 0;
    for (size_t g = 0; g < groups; g++) n[g] = centre[g] = 0;
    for (size_t i = 0; i < count; i++)
        if (counts(left_out, group[i])) centre[group[i]] += value[i] - mean, n[group[i]]++;
    for (size_t g = 0; g < groups; g++) {
        if (!(n[g] > 0)) continue;
        t.groups++;
        centre[g] /= n[g];
        t.between_ss += n[g] * centre[g] * centre[g];
    }
    for (size_t i = 0; i < count; i++) {
        if (!counts(left_out, group[i])) continue;
        double left = value[i] - mean - centre[group[i]];
        t.within_ss += left * left;
    }
    t.valid = t.groups >= 2 && t.plates > t.groups;
    if (!t.valid) return t;
    double df1 = (double)(t.groups - 1), df2 = (double)(t.plates - t.groups);
    double total = t.between_ss + t.within_ss;
    t.share = total > 0 ? t.between_ss / total : 0;
    t.scatter = sqrt(t.within_ss / df2);
    if (!(t.within_ss > 0)) return t;
    t.f = t.between_ss / df1 / (t.within_ss / df2);
    t.p = pp_fisher_upper(t.f, df1, df2);
    return t;
}

/* Holm, Scandinavian Journal of Statistics 6 (1979) 65. */
void pp_holm_adjust(double *p, size_t count, size_t *order)
{
    size_t tests = 0;
    for (size_t i = 0; i < count; i++) {
        if (isnan(p[i])) continue;
        size_t at = tests++;
        for (; at > 0 && p[order[at - 1]] > p[i]; at--) order[at] = order[at - 1];
        order[at] = i;
    }
    double largest = 0;
    for (size_t k = 0; k < tests; k++) {
        largest = fmax(largest, fmin(1, p[order[k]] * (double)(tests - k)));
        p[order[k]] = largest;
    }
}

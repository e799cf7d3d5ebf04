/* What a sample says of the whole plate. */
#include <math.h>

#include "base/compare.h"
#include "base/stats.h"
#include "rules/assurance.h"
#include "rules/judging_items.h"

static double log_choose(double n, double k)
{
    return k <= 0 || k >= n ? 0 : -log(n + 1) - pp_log_beta(n - k + 1, k + 1);
}

/* ln P(X = x) for a sample of n drawn without replacement from N of which K are outside. */
static double hypergeometric_log(double N, double K, double n, double x)
{
    return log_choose(K, x) + log_choose(N - K, n - x) - log_choose(N, n);
}

/* P(X <= outside), summed over the shorter tail, each term from the one before by their ratio. */
static double hypergeometric_lower(size_t population, size_t bad, size_t sample, size_t outside)
{
    if (outside >= bad || outside >= sample) return 1;
    size_t least = sample + bad > population ? sample + bad - population : 0;
    if (outside < least) return 0;
    double N = (double)population, K = (double)bad, n = (double)sample, x = (double)outside;
    double sum = 0;
    if (x <= K * n / N) {
        double term = exp(hypergeometric_log(N, K, n, x));
        for (; x >= (double)least && term > sum * 1e-18; x--) {
            sum += term;
            term *= x * (N - K - n + x) / ((K - x + 1) * (n - x + 1));
        }
        return fmin(1, sum);
    }
    x++;
    double term = exp(hypergeometric_log(N, K, n, x));
    for (; x <= fmin(K, n) && term > sum * 1e-18; x++) {
        sum += term;
        term *= (K - x) * (n - x) / ((x + 1) * (N - K - n + x + 1));
    }
    return fmax(0, 1 - sum);
}

size_t pp_sample_bound(size_t population, size_t sample, size_t outside, double confidence)
{
    static const double TIE = 1e-9; /* relative: a chance that is the risk exactly is ruled out */
    size_t low = outside, high = population - sample + outside; /* the bound is in [low, high] */
    while (low < high) {
        size_t middle = high - (high - low) / 2;
        if (hypergeometric_lower(population, middle, sample, outside) >
            (1 - confidence) * (1 + TIE))
            low = middle;
        else
            high = middle - 1;
    }
    return low;
}

bool pp_sample_more(size_t population, size_t sample, size_t outside, size_t allowed,
                    double confidence, size_t *more)
{
    if (outside > allowed) return false;
    size_t low = 0, high = population - sample;
    while (low < high) { /* the smallest that proves it; measuring all does */
        size_t middle = low + (high - low) / 2;
        if (pp_sample_bound(population, sample + middle, outside, confidence) <= allowed)
            high = middle;
        else
            low = middle + 1;
    }
    *more = low;
    return true;
}

/* --- of a judgement --------------------------------------------------------------------------- */

/* `in` of `sample` holes are within. */
static void state_holes(const pp_judging *j, size_t sample, size_t in, pp_assurance *out)
{
    size_t population = sample + j->measures->unmeasured_count;
    if (j->job->holes.coverage != PP_SAMPLE || sample == 0) return;
    out->sample_valid = true;
    out->confidence = j->job->holes.confidence;
    out->sample = sample;
    out->outside = sample - in;
    out->share_outside_bound =
        (double)pp_sample_bound(population, sample, out->outside, out->confidence) /
        (double)population;
}

/* Every hole has to be within: no share is allowed, and only measuring all of them proves it. */
void pp_sample_state_positions(const pp_judging *j, pp_assurance *out)
{
    const pp_section *section = &j->out->section[PP_POSITION];
    state_holes(j, section->judged, section->proven_in, out);
    if (!out->sample_valid) return;
    out->more_possible = out->outside == 0;
    out->more_needed = j->measures->unmeasured_count;
}

void pp_sample_state_diameters(const pp_judging *j, pp_assurance *out)
{
    const pp_count_rule *rule = &j->out->diameter_fold.rule;
    size_t sample = rule->in + rule->remainder + rule->out + rule->under + rule->unclassed;
    size_t population = sample + j->measures->unmeasured_count;
    state_holes(j, sample, rule->in, out);
    if (!out->sample_valid) return;
    out->more_possible = pp_sample_more(population, sample, out->outside,
                                        pp_remainder_allowed(j->limits, population),
                                        out->confidence, &out->more_needed);
}

/* Does the hole, on every face read, keep half of the ligament to each of its neighbours? */
static bool keeps_half(const pp_judging *j, uint32_t hole, double ligament)
{
    const pp_measures *m = j->measures;
    for (int face = PP_ENTRY; face <= PP_EXIT; face++) {
        uint32_t b = m->bore_of[face][hole];
        if (b == PP_NONE) continue;
        const pp_half_ligament *half = &m->half_ligaments.of[b];
        double guard = j->guard > 0 ? j->guard * half->u : 0;
        if (!pp_at_least(half->value - guard, 0.5 * ligament)) return false;
    }
    return true;
}

/* Holes are drawn at random, pairs of them are not: how many of a plate's pairs lie in the sample
 * says little of the others. But a ligament can be short only where one of its two holes takes
 * more than its half, and of such holes the sample does tell. */
void pp_sample_state_ligaments(const pp_judging *j, pp_assurance *out)
{
    const pp_measures *m = j->measures;
    pp_ligament_bounds limit = pp_ligament_limits(j->limits);
    double ligament = pp_given(limit.standard) ? limit.standard : limit.minimum;
    size_t sample = 0, over = 0, most = m->half_ligaments.neighbours_most;
    if (j->job->holes.coverage != PP_SAMPLE || !pp_given(ligament) || m->pair_count == 0) return;
    bool sized = false;
    for (uint32_t h = 0; h < m->nominal->count; h++) {
        uint32_t entry = m->bore_of[PP_ENTRY][h], exit = m->bore_of[PP_EXIT][h];
        if (m->nominal->kind[h] != PP_TUBE_HOLE || (entry == PP_NONE && exit == PP_NONE)) continue;
        sample++, over += !keeps_half(j, h, ligament);
        sized |= !isnan(m->half_ligaments.of[entry == PP_NONE ? exit : entry].value);
    }
    if (!sized) return;
    size_t holes = pp_sample_bound(m->tube_count, sample, over, j->job->holes.confidence);
    double pairs = fmin((double)m->pair_count, (double)holes * (double)most);
    out->sample_valid = true;
    out->confidence = j->job->holes.confidence;
    out->sample = sample;
    out->outside = over;
    out->share_outside_bound = pairs / (double)m->pair_count;
    out->more_possible = pp_sample_more(m->tube_count, sample, over,
                                        pp_remainder_allowed(j->limits, m->pair_count) / most,
                                        out->confidence, &out->more_needed);
}

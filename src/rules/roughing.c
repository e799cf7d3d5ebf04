#include "rules/roughing.h"

#include <math.h>
#include <stdlib.h>

#include "base/compare.h"
#include "base/constants.h"
#include "base/stats.h"
#include "base/tolerance.h"
#include "rules/assurance.h"
#include "rules/decide.h"
#include "rules/judging.h"
#include "rules/judging_items.h"

enum { SAMPLE_LEAST = 2, GRID = 100, GRID_MOST = 1600 };
static const double SCORE_MOST = 8.5;
static const double SETTLED = 1e-9;
static const double BELIEVED = 0.05; /* a model with less is not */

/* The whole plate ------------------------------------------------------------------------ */

typedef struct plate {
    double n, mean, deviation;  /* of the sample */
    double lower, upper, outer; /* diameters */
    size_t left, allowed;       /* holes not measured; how many of them may be in the remainder */
} plate;

static double normal_between(double from, double to)
{
    return from > 0 ? pp_normal_upper(from) - pp_normal_upper(to)
                    : pp_normal_upper(-to) - pp_normal_upper(-from);
}

/* Given mean and deviation the holes left are multinomial: sum over the number in the remainder of
 * C(left, j) p_rem^j p_in^(left - j) */
static double given(const plate *p, double mean, double deviation)
{
    double low = (p->lower - mean) / deviation, up = (p->upper - mean) / deviation;
    double in = normal_between(low, up);
    double rem = normal_between(up, (p->outer - mean) / deviation);
    if (p->left == 0) return 1;
    if (!(in > 0)) return p->left <= p->allowed ? pow(rem, (double)p->left) : 0;
    /* in may be 1 to all digits: the power from what is outside */
    double outside = pp_normal_upper(-low) + pp_normal_upper(up);
    double term = exp((double)p->left * (in > 0.5 ? log1p(-outside) : log(in))), sum = term;
    for (size_t j = 0; j < p->allowed && j < p->left && rem > 0; j++)
        sum += term *= (double)(p->left - j) / (double)(j + 1) * rem / in;
    return fmin(sum, 1);
}

/* Over the mean's score z and the normal score w of chi2, sigma2 = (n - 1) s2 / chi2. */
static double integrate(const plate *p, size_t grid, double *sigma)
{
    double step = 2 * SCORE_MOST / (double)grid, sum = 0;
    for (size_t i = 0; i <= grid; i++) {
        double w = step * (double)i - SCORE_MOST;
        double chi2 = pp_chi2_quantile(pp_normal_upper(-w), pp_normal_upper(w), p->n - 1);
        sigma[i] = p->deviation * sqrt((p->n - 1) / chi2);
    }
    for (size_t i = 0; i <= grid; i++) {
        double w = step * (double)i - SCORE_MOST;
        for (size_t k = 0; k <= grid; k++) {
            double z = step * (double)k - SCORE_MOST, weight = exp(-0.5 * (z * z + w * w));
            if (weight > 1e-16)
                sum += weight * given(p, p->mean + sigma[i] * z / sqrt(p->n), sigma[i]);
        }
    }
    return sum * step * step / (2 * PP_PI);
}

/* The holes not measured, where no more than allowed are in the remainder already. */
static plate rest_of(const pp_roughing *r)
{
    return (plate){.n = (double)r->measured,
                   .mean = r->mean,
                   .deviation = r->deviation,
                   .lower = r->lower,
                   .upper = r->upper,
                   .outer = r->outer,
                   .left = r->holes - r->measured,
                   .allowed = r->remainder_allowed - r->in_remainder};
}

/* Probability that of the holes left none lies under `lower` or over `outer`, and at most `allowed`
 * over `upper`: normal, mean and deviation unknown with the usual prior 1/sigma, integrated by the
 * trapezium rule, halved until it moves by less than SETTLED. PP_ENUMERIC: not reached. */
static pp_status find_probability(const plate *p, pp_arena *scratch, double *probability,
                                  pp_error *error)
{
    double *sigma, before = NAN;
    pp_mark mark = pp_arena_mark(scratch);
    PP_TAKE(sigma, scratch, GRID_MOST + 1);
    for (size_t grid = GRID; grid <= GRID_MOST; grid *= 2) {
        double now = integrate(p, grid, sigma);
        if (fabs(now - before) < SETTLED) {
            pp_arena_release(scratch, mark);
            *probability = fmin(fmax(now, 0), 1);
            return PP_OK;
        }
        before = now;
    }
    return pp_fail(error, PP_ENUMERIC,
                   "the probability that the whole plate conforms did not settle; measure more "
                   "holes");
}

/* The sample ----------------------------------------------------------------------------- */

typedef struct sample {
    size_t count;
    double *mean; /* [count] mean diameter of each hole measured */
    double *smallest, *largest;
    double *order; /* drilling order; NaN */
} sample;

static bool is_tube(const pp_measures *m, size_t hole)
{
    return m->nominal->kind[hole] == PP_TUBE_HOLE && !m->plugged[hole];
}

static pp_status take_sample(const pp_measures *m, pp_arena *scratch, sample *s, pp_error *error)
{
    size_t n = m->nominal->count;
    PP_TAKE(s->mean, scratch, n);
    PP_TAKE(s->smallest, scratch, n);
    PP_TAKE(s->largest, scratch, n);
    PP_TAKE(s->order, scratch, n);
    for (size_t hole = 0; hole < n; hole++) {
        double sum = 0, small = INFINITY, large = -INFINITY, order = NAN;
        size_t faces = 0;
        for (int face = 0; face < 2 && is_tube(m, hole); face++) {
            uint32_t at = m->bore_of[face][hole];
            if (at == PP_NONE || !pp_given(m->bores[at].diameter_mean)) continue;
            const pp_bore *bore = &m->bores[at];
            sum += bore->diameter_mean, faces++;
            small = fmin(small, bore->diameter_min), large = fmax(large, bore->diameter_max);
            if (m->readings->order) order = m->readings->order[bore->row - 1];
        }
        if (!faces) continue;
        s->mean[s->count] = sum / (double)faces;
        s->smallest[s->count] = small, s->largest[s->count] = large;
        s->order[s->count++] = order;
    }
    return PP_OK;
}

static void count_classes(const sample *s, pp_roughing *r)
{
    for (size_t i = 0; i < s->count; i++) {
        if (pp_less_than(s->smallest[i], r->lower))
            r->undersize++;
        else if (pp_more_than(s->largest[i], r->outer))
            r->oversize++;
        else if (pp_more_than(s->largest[i], r->upper))
            r->in_remainder++;
    }
}

static void describe(const sample *s, pp_roughing *r)
{
    double n = (double)s->count, square = 0;
    for (size_t i = 0; i < s->count; i++) r->mean += s->mean[i] / n;
    for (size_t i = 0; i < s->count; i++) square += (s->mean[i] - r->mean) * (s->mean[i] - r->mean);
    r->deviation = sqrt(square / (n - 1));
}

/* Slope of the diameters over the drilling order, by Student's t. */
static double trend(const sample *s, const pp_roughing *r)
{
    double n = 0, so = 0, sd = 0, soo = 0, sod = 0, sdd = 0;
    for (size_t i = 0; i < s->count; i++) {
        if (isnan(s->order[i])) continue;
        double o = s->order[i], d = s->mean[i] - r->mean;
        n += 1, so += o, sd += d, soo += o * o, sod += o * d, sdd += d * d;
    }
    double oo = soo - so * so / n, od = sod - so * sd / n, dd = sdd - sd * sd / n;
    if (n < 8 || !(oo > 0) || !(dd > 0)) return NAN;
    double rest = fmax(dd - od * od / oo, 0) / (n - 2);
    return pp_student_two_sided(od / sqrt(oo * rest), n - 2);
}

static int ascending(const void *a, const void *b)
{
    double p = *(const double *)a, q = *(const double *)b;
    return (p > q) - (p < q);
}

/* P(T <= t) */
static double student_lower(double t, double df)
{
    double tail = 0.5 * pp_student_two_sided(t, df);
    return t < 0 ? tail : 1 - tail;
}

static void expect(pp_roughing *r)
{
    double left = (double)(r->holes - r->measured), n = (double)r->measured, df = n - 1;
    double spread = r->deviation * sqrt(1 + 1 / n);
    double low = (r->lower - r->mean) / spread, up = (r->upper - r->mean) / spread;
    double out = (r->outer - r->mean) / spread;
    r->expected_undersize = left * student_lower(low, df);
    r->expected_oversize = left * student_lower(-out, df);
    r->expected_in_remainder = left * (student_lower(-up, df) - student_lower(-out, df));
}

/* Limits and decision -------------------------------------------------------------------- */

static pp_status set_limits(const pp_job *job, const pp_limits *limits, pp_roughing *r,
                            pp_error *error)
{
    bool guarded = job->rules.decision == PP_GUARDED;
    if (guarded && !pp_given(job->holes.uncertainty_diameter))
        return pp_fail_at(error, PP_EINPUT, job->path, pp_job_key_line(job, "rules", "decision"), 0,
                          "decision = guarded needs the uncertainty of a diameter; give [holes] "
                          "uncertainty_diameter");
    double guard = guarded ? PP_GUARD * job->holes.uncertainty_diameter / 2 : 0;
    pp_diameter_bounds b = pp_bounds_of_hole(limits, NULL, PP_NONE);
    if (!pp_given(b.lower) || !pp_given(b.upper))
        return pp_fail_at(error, PP_EINPUT, job->path, 0, 0,
                          "there are no limits to hold the diameters against; give [holes] "
                          "tube_diameter, or hole_nominal, hole_under and hole_over under [rules]");
    r->lower = b.lower + guard;
    r->upper = b.upper - guard;
    r->outer = (pp_given(b.outer) ? b.outer : b.upper) - guard;
    return PP_OK;
}

static void decide(pp_roughing *r)
{
    bool bad = r->undersize || r->oversize || r->in_remainder > r->remainder_allowed;
    bool believed = r->normal_p >= BELIEVED && !(r->trend_p < BELIEVED);
    if (bad)
        r->sufficient = PP_ROUGHING_NO;
    else
        r->sufficient =
            r->probability >= r->confidence && believed ? PP_ROUGHING_YES : PP_ROUGHING_NOT_PROVEN;
    if (r->sufficient == PP_ROUGHING_YES) r->time_saved = r->time_finishing;
}

static pp_status check_sample(const pp_job *job, const pp_measures *m, const sample *s,
                              pp_error *error)
{
    const char *file = job->roughing.measured.path;
    if (m->extra_count)
        return pp_fail_at(error, PP_EINPUT, file, 0, 0,
                          "%zu of the holes measured are not in the nominal list, the first is %s; "
                          "a sample of another plate says nothing of this one",
                          m->extra_count, m->extra[0]);
    if (s->count < SAMPLE_LEAST)
        return pp_fail_at(error, PP_EINPUT, file, 0, 0,
                          "%zu holes with a diameter are too few to say anything; draw a list with "
                          "plateproof sample and measure those",
                          s->count);
    return PP_OK;
}

static pp_status alone(const pp_roughing *r, pp_arena *scratch, bool *undersize_alone,
                       pp_error *error)
{
    plate any_smallness = rest_of(r);
    double without;
    any_smallness.lower = -1e9;
    PP_TRY(find_probability(&any_smallness, scratch, &without, error));
    *undersize_alone = without >= r->confidence;
    return PP_OK;
}

pp_status pp_roughing_judge(const pp_job *job, const pp_limits *limits, const pp_measures *measures,
                            pp_memory *memory, pp_roughing *roughing, pp_error *error)
{
    pp_arena *scratch = &memory->scratch;
    pp_mark mark = pp_arena_mark(scratch);
    pp_roughing r = {.confidence = job->holes.confidence,
                     .holes = measures->tube_count,
                     .seconds_roughing = job->roughing.seconds_roughing,
                     .seconds_finishing = job->roughing.seconds_finishing};
    sample s = {0};
    PP_TRY(set_limits(job, limits, &r, error));
    PP_TRY(take_sample(measures, scratch, &s, error));
    PP_TRY(check_sample(job, measures, &s, error));
    r.measured = s.count;
    r.remainder_allowed = pp_remainder_allowed(limits, r.holes);
    count_classes(&s, &r);
    describe(&s, &r);
    size_t outside = r.undersize + r.oversize + r.in_remainder;
    r.share_outside_bound =
        (double)pp_sample_bound(r.holes, r.measured, outside, r.confidence) / (double)r.holes;
    r.tolerance_factor =
        pp_tolerance_factor(r.measured, 1 - limits->remainder_share.value, r.confidence);
    r.tolerance_low = r.mean - r.tolerance_factor * r.deviation;
    r.tolerance_high = r.mean + r.tolerance_factor * r.deviation;
    r.tolerance_inside =
        pp_at_least(r.tolerance_low, r.lower) && pp_at_most(r.tolerance_high, r.upper);
    r.trend_p = trend(&s, &r);
    qsort(s.mean, s.count, sizeof *s.mean, ascending);
    r.normal_p = pp_normality_p(s.count, s.mean, r.mean, r.deviation, NULL);
    r.time_finishing = (double)r.holes * r.seconds_finishing;
    if (r.deviation > 0) {
        expect(&r);
        bool bad = r.undersize || r.oversize || r.in_remainder > r.remainder_allowed;
        plate rest = rest_of(&r);
        if (!bad) PP_TRY(find_probability(&rest, scratch, &r.probability, error));
        if (!bad && r.probability < r.confidence)
            PP_TRY(alone(&r, scratch, &r.undersize_alone, error));
    } else { /* one number again and again is no measurement of a spread */
        r.probability = r.expected_undersize = r.expected_oversize = r.expected_in_remainder = NAN;
    }
    decide(&r);
    pp_arena_release(scratch, mark);
    *roughing = r;
    return PP_OK;
}

const char *pp_sufficient_words(pp_sufficient sufficient)
{
    return sufficient == PP_ROUGHING_YES  ? "yes"
           : sufficient == PP_ROUGHING_NO ? "no"
                                          : "not proven";
}

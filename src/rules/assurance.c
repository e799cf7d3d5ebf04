#include "rules/assurance.h"

#include <stdlib.h>
#include <string.h>

#include "base/random.h"
#include "base/stats.h"
#include "base/sum.h"
#include "rules/judging_items.h"

static double normal_lower(double z) { return pp_normal_upper(-z); }

/* --- Poisson-binomial ------------------------------------------------------------------------- */

/* Beyond this many standard deviations nothing shows in a double. */
static const double FAR = 8.5;

/* Coefficients below this share of the largest are dropped: a million of them do not show. */
static const double NEGLIGIBLE = 1e-22;

enum { LEAF = 32 };

/* One item given the common error: p within the standard limit, q in the remainder (p + q <= 1). */
typedef struct chance {
    double p, q;
} chance;

/* coefficient[k - low] of z^k, k = low .. low + length - 1 */
typedef struct polynomial {
    double *coefficient;
    size_t low, length;
} polynomial;

static polynomial trim(polynomial a, size_t allowed)
{
    double largest = 0;
    for (size_t k = 0; k < a.length; k++) largest = fmax(largest, a.coefficient[k]);
    double least = largest * NEGLIGIBLE;
    while (a.length > 0 && (a.low + a.length - 1 > allowed || a.coefficient[a.length - 1] <= least))
        a.length--;
    while (a.length > 0 && a.coefficient[0] <= least) {
        a.coefficient++;
        a.low++;
        a.length--;
    }
    return a;
}

/* product of (p + q z) over a few items, into room[count + 1] */
static polynomial leaf_product(const chance *items, size_t count, double *room)
{
    room[0] = 1;
    for (size_t i = 0; i < count; i++) {
        room[i + 1] = room[i] * items[i].q;
        for (size_t k = i; k > 0; k--) room[k] = room[k] * items[i].p + room[k - 1] * items[i].q;
        room[0] *= items[i].p;
    }
    return (polynomial){room, 0, count + 1};
}

/* Product over all items, halves first; powers beyond `allowed` dropped. */
static pp_status product(const chance *items, size_t count, size_t allowed, pp_arena *scratch,
                         polynomial *out, pp_error *error)
{
    if (count <= LEAF) {
        double *room;
        PP_TAKE(room, scratch, count + 1);
        *out = trim(leaf_product(items, count, room), allowed);
        return PP_OK;
    }
    polynomial a, b;
    PP_TRY(product(items, count / 2, allowed, scratch, &a, error));
    PP_TRY(product(items + count / 2, count - count / 2, allowed, scratch, &b, error));
    polynomial c = {NULL, a.low + b.low, a.length && b.length ? a.length + b.length - 1 : 0};
    PP_TAKE_ZERO(c.coefficient, scratch, c.length);
    for (size_t i = 0; c.length && i < a.length; i++)
        for (size_t k = 0; k < b.length; k++)
            c.coefficient[i + k] += a.coefficient[i] * b.coefficient[k];
    *out = trim(c, allowed);
    return PP_OK;
}

/* --- the common part -------------------------------------------------------------------------- */

typedef struct integrand {
    size_t count;
    const pp_margins *items; /* those that are not sure */
    chance *chances;
    size_t allowed;
    double common; /* standard deviation of the common part, of 1 */
    double own;
    pp_arena *scratch;
} integrand;

/* The chances of the items that this common error leaves open; how many. *beyond: of the others,
 * those in the remainder. False: one is outside. */
static bool open_items(const integrand *f, double shift, size_t *open, size_t *beyond)
{
    double reach = FAR * f->own; /* farther than that no item's own error takes it */
    *open = *beyond = 0;
    for (size_t i = 0; i < f->count; i++) {
        const pp_margins *m = &f->items[i];
        double standard = m->standard - shift, outer = m->outer - shift, other = m->other + shift;
        if (outer < -reach || other < -reach) return false;
        if (other > reach && outer > reach && fabs(standard) > reach) {
            *beyond += standard < 0;
            continue;
        }
        double below = other < INFINITY ? normal_lower(-other / f->own) : 0;
        double inside = normal_lower(standard / f->own), within = normal_lower(outer / f->own);
        f->chances[(*open)++] =
            (chance){fmax(0, inside - below), fmax(0, within - fmax(inside, below))};
    }
    return true;
}

/* Probability of conformance given the common error. */
static pp_status given_common(const integrand *f, double z, double *value, pp_error *error)
{
    size_t open, beyond;
    *value = 0;
    if (!open_items(f, f->common * z, &open, &beyond) || beyond > f->allowed) return PP_OK;
    pp_mark mark = pp_arena_mark(f->scratch);
    polynomial all;
    PP_TRY(product(f->chances, open, f->allowed - beyond, f->scratch, &all, error));
    pp_sum sum = {0};
    for (size_t k = 0; k < all.length; k++) pp_sum_add(&sum, all.coefficient[k]);
    pp_arena_release(f->scratch, mark);
    *value = fmin(1, pp_sum_value(sum));
    return PP_OK;
}

/* Trapezium rule over the standard normal weight: for a smooth integrand the error falls faster
 * than any power of the step (Trefethen and Weideman, SIAM Review 56 (2014) 385). */
static pp_status integrate(const integrand *f, double *result, pp_error *error)
{
    enum { STEPS_FIRST = 34, HALVINGS = 8, HALVINGS_MOST = 16 };
    static const double ACCURACY = 1e-9, WORK_MOST = 4e8;
    static const double WORK_MORE =
        3e8; /* where errors are nearly all common: few open at a time */
    static const double ONE_OVER_ROOT_TWO_PI = 0.39894228040143267794;
    double before = -1;
    pp_sum sum = {0};
    for (int halving = 0; halving <= HALVINGS_MOST; halving++) {
        size_t steps = (size_t)STEPS_FIRST << halving;
        double work = (double)steps * (double)f->count;
        if (work > (halving > HALVINGS ? WORK_MORE : WORK_MOST)) break;
        double h = 2 * FAR / (double)steps;
        for (size_t i = halving ? 1 : 0; i <= steps; i += halving ? 2 : 1) {
            double z = -FAR + h * (double)i, value;
            PP_TRY(given_common(f, z, &value, error));
            pp_sum_add(&sum, ONE_OVER_ROOT_TWO_PI * exp(-z * z / 2) * value);
        }
        double now = pp_sum_value(sum) * h;
        if (fabs(now - before) < ACCURACY) {
            *result = fmin(1, now);
            return PP_OK;
        }
        before = now;
    }
    return pp_fail(error, PP_ENUMERIC,
                   "the conformance probability did not settle; state a smaller common_share");
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

/* All error common: every item moves by the same z, and conforms together while -other <= z <=
 * outer for all and no more than `allowed` have standard < z. */
static pp_status all_common(const pp_margins *items, size_t count, size_t allowed,
                            pp_arena *scratch, double *probability, pp_error *error)
{
    double *standard, high = INFINITY, low = -INFINITY;
    PP_TAKE(standard, scratch, count);
    for (size_t i = 0; i < count; i++) {
        standard[i] = items[i].standard;
        high = fmin(high, items[i].outer);
        low = fmax(low, -items[i].other);
    }
    qsort(standard, count, sizeof *standard, ascending);
    if (allowed < count) high = fmin(high, standard[allowed]);
    *probability = high > low ? normal_lower(high) - normal_lower(low) : 0;
    return PP_OK;
}

pp_status pp_conformance_probability(size_t count, const pp_margins *items, size_t allowed,
                                     double common_share, pp_arena *scratch, double *probability,
                                     pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    if (common_share >= 1) {
        PP_TRY(all_common(items, count, allowed, scratch, probability, error));
        pp_arena_release(scratch, mark);
        return PP_OK;
    }
    integrand f = {.common = sqrt(fmax(0, common_share)),
                   .own = sqrt(1 - fmax(0, common_share)),
                   .scratch = scratch};
    double sure = FAR * (f.common + f.own); /* nothing can move an item farther than this */
    pp_margins *open;
    PP_TAKE(open, scratch, count);
    size_t beyond = 0; /* surely in the remainder */
    bool lost = false;
    for (size_t i = 0; i < count; i++) {
        const pp_margins *m = &items[i];
        bool held = fmin(m->outer, m->other) > sure;
        if (held && m->standard > sure) continue;
        if (held && m->standard < -sure)
            beyond++;
        else if (m->outer < -sure || m->other < -sure)
            lost = true;
        else
            open[f.count++] = *m;
    }
    double result = 0;
    if (!lost && beyond <= allowed) {
        f.items = open;
        f.allowed = allowed - beyond;
        PP_TAKE(f.chances, scratch, f.count);
        if (f.common == 0)
            PP_TRY(given_common(&f, 0, &result, error));
        else
            PP_TRY(integrate(&f, &result, error));
    }
    pp_arena_release(scratch, mark);
    *probability = result;
    return PP_OK;
}

/* --- a random list ---------------------------------------------------------------------------- */

/* Uniform in 0 .. range - 1, without bias: what lies beyond the last whole multiple is drawn again.
 */
static uint64_t draw_below(uint64_t *state, uint64_t range)
{
    uint64_t limit = UINT64_MAX - UINT64_MAX % range, value;
    do value = pp_random_bits(state);
    while (value >= limit);
    return value % range;
}

size_t pp_sample_draw(uint64_t seed, const pp_nominal *nominal, const bool *skip, size_t count,
                      uint32_t *out)
{
    size_t left = 0, drawn = 0;
    for (size_t h = 0; h < nominal->count; h++)
        left += nominal->kind[h] == PP_TUBE_HOLE && !(skip && skip[h]);
    if (count > left) count = left;
    for (size_t h = 0; h < nominal->count && drawn < count; h++) {
        if (nominal->kind[h] != PP_TUBE_HOLE || (skip && skip[h])) continue;
        if (draw_below(&seed, left--) < count - drawn) out[drawn++] = (uint32_t)h;
    }
    return drawn;
}

/* --- of a judgement --------------------------------------------------------------------------- */

typedef struct margin_list {
    pp_margins *items;
    size_t count;
} margin_list;

/* What needs no look: so far inside that no error within reason takes it out. */
static bool is_plain(pp_margins m)
{
    static const double PLAIN = 12.5; /* above FAR * sqrt(2) */
    return m.standard > PLAIN && m.outer > PLAIN && m.other > PLAIN;
}

/* Smallest and largest diameter of a hole over its faces; false when a gauge or nothing was used.
 */
static bool hole_margins(const pp_judging *j, size_t *b, double u, pp_margins *out)
{
    const pp_measures *m = j->measures;
    pp_diameter_bounds limit = pp_bounds_of_hole(j->limits, NULL, PP_NONE);
    double least = INFINITY, most = -INFINITY;
    bool read = true;
    for (;; (*b)++) {
        const pp_bore *bore = &m->bores[*b];
        read = read && !bore->gauged;
        least = fmin(least, bore->diameter_min);
        most = fmax(most, bore->diameter_max);
        if (pp_last_of_hole(m, *b)) break;
    }
    out->standard = pp_given(limit.upper) ? (limit.upper - most) / u : INFINITY;
    out->outer = pp_given(limit.outer) ? (limit.outer - most) / u : INFINITY;
    out->other = pp_given(limit.lower) ? (least - limit.lower) / u : INFINITY;
    return read;
}

static pp_status state_probability(const pp_judging *j, margin_list list, size_t allowed,
                                   pp_assurance *out, pp_error *error)
{
    double share = pp_given(j->job->holes.common_share) ? j->job->holes.common_share : 0;
    pp_error hidden = {0};
    pp_status status = pp_conformance_probability(list.count, list.items, allowed, share,
                                                  &j->memory->scratch, &out->probability, &hidden);
    if (status == PP_ENOMEM) return pp_fail_memory(error);
    out->probability_valid = status == PP_OK;
    out->probability_unsettled = status != PP_OK;
    return PP_OK;
}

pp_status pp_assure_diameters(const pp_judging *j, pp_assurance *out, pp_error *error)
{
    const pp_measures *m = j->measures;
    double u = j->job->holes.uncertainty_diameter / 2;
    const pp_section *section = &j->out->section[PP_DIAMETER];
    if (section->judged == 0) return PP_OK;
    pp_sample_state_diameters(j, out);
    /* of holes that nobody measured nothing is known of one by one */
    if (!(u > 0) || j->job->holes.coverage == PP_SAMPLE || m->unmeasured_count) return PP_OK;
    pp_mark mark = pp_arena_mark(&j->memory->scratch);
    margin_list list = {0};
    bool all_read = true;
    PP_TAKE(list.items, &j->memory->scratch, section->judged);
    for (size_t b = 0; b < m->extra_first; b++) {
        bool counts = pp_counts(m, &m->bores[b]);
        pp_margins margins;
        bool read = hole_margins(j, &b, u, &margins);
        if (!counts) continue;
        all_read = all_read && read;
        if (!is_plain(margins)) list.items[list.count++] = margins;
    }
    if (all_read)
        PP_TRY(
            state_probability(j, list, j->out->diameter_fold.rule.remainder_allowed, out, error));
    pp_arena_release(&j->memory->scratch, mark);
    return PP_OK;
}

pp_status pp_assure_ligaments(const pp_judging *j, pp_assurance *out, pp_error *error)
{
    const pp_measures *m = j->measures;
    pp_ligament_bounds limit = pp_ligament_limits(j->limits);
    const pp_section *section = &j->out->section[PP_LIGAMENT];
    pp_sample_state_ligaments(j, out);
    if (section->judged == 0 || j->job->holes.coverage == PP_SAMPLE || m->pairs_unmeasured)
        return PP_OK;
    pp_mark mark = pp_arena_mark(&j->memory->scratch);
    margin_list list = {0};
    PP_TAKE(list.items, &j->memory->scratch, section->judged);
    bool known = true;
    for (size_t i = 0; i < m->ligament_count && known;) {
        pp_margins worst = {INFINITY, INFINITY, INFINITY};
        size_t first = i;
        for (; i < m->ligament_count && pp_same_pair(m, first, i); i++) {
            const pp_ligament *l = &m->ligaments[i];
            if (pp_passed_over(j, i)) continue;
            double u = (double)l->u;
            known = known && u > 0;
            worst.standard = fmin(worst.standard, (l->value - limit.standard) / u);
            worst.outer = fmin(worst.outer, (l->value - limit.minimum) / u);
        }
        if (known && !is_plain(worst)) list.items[list.count++] = worst;
    }
    if (known)
        PP_TRY(
            state_probability(j, list, j->out->ligament_fold.rule.remainder_allowed, out, error));
    pp_arena_release(&j->memory->scratch, mark);
    return PP_OK;
}

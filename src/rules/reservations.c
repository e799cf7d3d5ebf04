#include "rules/reservations.h"

#include <stdlib.h>
#include <string.h>

#include "base/compare.h"
#include "base/text.h"
#include "rules/sampling.h"

typedef struct reserving {
    pp_judging *j;
    pp_reservation *list;
    size_t count;
    bool failed;
} reserving;

/* Lower the section where something in it was judged; PP_CHARACTERISTICS: the whole. */
static void reserve(reserving *r, pp_characteristic which, const char *why)
{
    pp_judgement *out = r->j->out;
    if (!why) r->failed = true;
    if (!why || r->count == PP_RESERVATIONS_MOST) return;
    if (which < PP_CHARACTERISTICS) {
        if (out->section[which].verdict == PP_NOT_JUDGED) return;
        out->section[which].verdict = pp_worse(out->section[which].verdict, PP_NOT_PROVEN);
    }
    r->list[r->count++] = (pp_reservation){which, why};
}

/* ---- repeats that may be none ---- */

static void reserve_averaged(reserving *r)
{
    static const pp_characteristic MEASURED[] = {
        PP_POSITION, PP_PATTERN_POSITION, PP_DIAMETER, PP_LIGAMENT, PP_EDGE, PP_DRIFT};
    if (!r->j->measures->readings->averaged) return;
    for (size_t i = 0; i < sizeof MEASURED / sizeof *MEASURED; i++)
        reserve(r, MEASURED[i], "repeat readings that differ in an ignored column were averaged");
}

/* ---- repeats that contradict each other ---- */

typedef struct extent { /* of the readings of one bore, as measured */
    double left, right, low, high;
} extent;

static pp_status take_extents(const pp_measures *m, pp_arena *scratch, extent **of, pp_error *error)
{
    const pp_readings *r = m->readings;
    PP_TAKE(*of, scratch, m->bore_count);
    for (size_t b = 0; b < m->bore_count; b++)
        (*of)[b] = (extent){INFINITY, -INFINITY, INFINITY, -INFINITY};
    for (size_t i = 0; i < r->count; i++) {
        uint32_t hole = m->hole_of_row[i], b = PP_NONE;
        if (hole != PP_NONE) b = m->bore_of[r->face[i]][hole];
        if (b == PP_NONE || m->bores[b].round != r->round[i]) continue;
        extent *e = &(*of)[b];
        e->left = fmin(e->left, r->x[i]), e->right = fmax(e->right, r->x[i]);
        e->low = fmin(e->low, r->y[i]), e->high = fmax(e->high, r->y[i]);
    }
    return PP_OK;
}

/* No reading lies farther from the mean of its repeats. */
static double farthest(const extent *e, uint32_t readings)
{
    double spread = hypot(e->right - e->left, e->high - e->low);
    return spread * (double)(readings - 1) / (double)readings;
}

/* Averaged with readings elsewhere a hole out of place comes near its own. Where repeats lie
 * farther apart than their uncertainty explains, and one of them alone would be outside, the mean
 * proves nothing. */
static pp_status list_contradicting(reserving *r, uint32_t *worst, pp_error *error)
{
    static const double UNEXPLAINED = 5; /* standard uncertainties */
    static const double WITHOUT =
        0.25; /* of the limit, where no uncertainty is stated; judgement */
    const pp_measures *m = r->j->measures;
    double limit = r->j->limits->position_limit.value, most = 0;
    size_t count = 0;
    uint32_t *list;
    extent *of;
    *worst = PP_NONE;
    if (!pp_given(limit) || m->readings->count <= m->bore_count) return PP_OK;
    pp_mark mark = pp_arena_mark(&r->j->memory->scratch);
    PP_TAKE(list, &r->j->memory->scratch, m->extra_first);
    PP_TRY(take_extents(m, &r->j->memory->scratch, &of, error));
    for (size_t b = 0; b < m->extra_first; b++) {
        const pp_bore *bore = &m->bores[b];
        if (bore->readings < 2 || !pp_counts(m, bore)) continue;
        double far = farthest(&of[b], bore->readings);
        double u = pp_bore_error_of(m, b).u_centre;
        double allowed = u > 0 ? UNEXPLAINED * u : WITHOUT * limit;
        double own = pp_position_limit_of(r->j->out, limit, bore->hole, bore->face);
        if (!pp_more_than(far, allowed) || !pp_more_than(pp_position_of(m, b) + 2 * far, own))
            continue;
        if (far > most) most = far, *worst = bore->hole;
        if (count == 0 || list[count - 1] != bore->hole) list[count++] = bore->hole;
    }
    uint32_t *kept;
    PP_TAKE(kept, &r->j->memory->keep, count);
    if (count) memcpy(kept, list, count * sizeof *kept);
    pp_arena_release(&r->j->memory->scratch, mark);
    r->j->out->contradicting_count = count;
    r->j->out->contradicting = kept;
    return PP_OK;
}

static pp_status reserve_contradicting(reserving *r, pp_error *error)
{
    uint32_t hole;
    PP_TRY(list_contradicting(r, &hole, error));
    size_t count = r->j->out->contradicting_count;
    if (!count) return PP_OK;
    const char *why = pp_text_kept(
        &r->j->memory->keep,
        "repeat readings of %zu hole%s (%s%s) lie farther apart than their uncertainty explains, "
        "and "
        "one of them alone could be outside: measure again, and give the new reading a round of "
        "its own",
        count, count == 1 ? "" : "s", count == 1 ? "" : "worst ",
        r->j->measures->nominal->name[hole]);
    reserve(r, PP_POSITION, why);
    reserve(r, PP_PATTERN_POSITION, why);
    return PP_OK;
}

/* ---- measured centres that are the nominal ones ---- */

/* The step that all coordinates are whole multiples of, in the file's own unit: as many decimals as
 * the file really has. */
static double find_step(const pp_readings *r)
{
    enum { DECIMALS_MOST = 6 };
    double unit = 1;
    for (size_t i = 0; r->reading && i < r->reading->used_count; i++)
        if (r->reading->used[i].column[0] == 'x') unit = pp_unit_mm(r->reading->used[i].unit);
    double step = 1;
    size_t i = 0;
    for (int decimals = 0; decimals < DECIMALS_MOST; decimals++) {
        for (; i < r->count; i++) { /* what fits a coarse step fits a finer one */
            double x = r->x[i] / unit / step, y = r->y[i] / unit / step;
            double off = fmax(fabs(x - nearbyint(x)), fabs(y - nearbyint(y)));
            if (off > 1e-9 * fmax(1, fmax(fabs(x), fabs(y)))) break;
        }
        if (i == r->count) break;
        step /= 10;
    }
    return step * unit;
}

/* Readings whose centre is the nominal one as it was read, whichever way the exit was seen. */
static size_t count_identical(const pp_measures *m, double within, size_t *compared)
{
    const pp_readings *r = m->readings;
    size_t same = 0;
    *compared = 0;
    for (size_t i = 0; i < r->count; i++) {
        uint32_t hole = m->hole_of_row[i];
        if (hole == PP_NONE) continue;
        double nx = m->nominal->x[hole], ny = m->nominal->y[hole];
        bool exit = r->face[i] == PP_EXIT;
        double dx = exit ? fabs(fabs(r->x[i]) - fabs(nx)) : fabs(r->x[i] - nx);
        double dy = exit ? fabs(fabs(r->y[i]) - fabs(ny)) : fabs(r->y[i] - ny);
        ++*compared;
        same += dx <= within && dy <= within;
    }
    return same;
}

/* Nobody measures what was drawn to the last digit: a column of nominal coordinates was read for
 * the measured ones, or the readings were made up. */
static void reserve_identical(reserving *r)
{
    enum { ALL_LEAST = 10 };
    static const double SHARE = 0.2, FINE = 0.1, ROUNDING = 1e-9;
    const pp_measures *m = r->j->measures;
    if (m->readings->count == 0) return;
    double limit = r->j->limits->position_limit.value, step = find_step(m->readings);
    bool fine = step <= FINE * limit;
    size_t compared, same = count_identical(m, (fine ? 0.5 : 0) * step + ROUNDING, &compared);
    bool all = same == compared && compared >= ALL_LEAST;
    bool many = fine && compared >= ALL_LEAST && (double)same > SHARE * (double)compared;
    if (!all && !many) return;
    const char *why = pp_text_kept(
        &r->j->memory->keep,
        "%zu of %zu measured centres are the nominal ones to the last digit: is the nominal column "
        "read for the measured one? See how the file was read, and [holes] measured_columns",
        same, compared);
    reserve(r, PP_POSITION, why);
    reserve(r, PP_PATTERN_POSITION, why);
}

/* ---- a nominal list that is none ---- */

static void reserve_derived(reserving *r)
{
    static const char WHY[] = "the nominal list was derived from the measured holes: it proves "
                              "regularity, not the drawing";
    if (!r->j->measures->nominal->derived) return;
    reserve(r, PP_POSITION, WHY);
    reserve(r, PP_PATTERN_POSITION, WHY);
}

/* ---- counts and coverage ---- */

static void reserve_count(reserving *r)
{
    double wanted = r->j->job->holes.tube_holes;
    if (!pp_given(wanted) || wanted == (double)r->j->measures->tube_count) return;
    reserve(r, PP_CHARACTERISTICS,
            pp_text_kept(&r->j->memory->keep,
                         "the nominal list has %zu tube holes, [holes] tube_holes says %g",
                         r->j->measures->tube_count, wanted));
}

/* Who leaves out holes that were drawn chooses after all. */
static pp_status reserve_sample(reserving *r, pp_error *error)
{
    pp_sampling s;
    if (r->j->job->holes.coverage != PP_SAMPLE) return PP_OK;
    PP_TRY(pp_sampling_find(r->j, &s, error));
    if (s.not_measured)
        reserve(r, PP_CHARACTERISTICS,
                pp_text_kept(&r->j->memory->keep,
                             "%zu of %zu holes drawn for the sample have no reading",
                             s.not_measured, s.drawn));
    if (s.seeded && s.listed && !s.reproduced)
        reserve(r, PP_CHARACTERISTICS,
                pp_text_kept(&r->j->memory->keep,
                             "the list of the sample is not what seed %.0f draws from the nominal "
                             "list",
                             r->j->job->holes.sample_seed));
    return PP_OK;
}

static void reserve_coverage(reserving *r)
{
    static const double ENOUGH = 0.9;
    const pp_flatness *f = r->j->flatness;
    if (!f->surface_valid || f->surface.covered_share >= ENOUGH) return;
    reserve(r, PP_FLATNESS,
            pp_text_kept(&r->j->memory->keep,
                         "only %.0f %% of the plate lies within a tenth of its shorter side of a "
                         "surveyed point (largest circle without one: radius %.0f mm about x %.0f, "
                         "y %.0f)",
                         100 * f->surface.covered_share, f->surface.unseen_distance,
                         f->surface.unseen_x, f->surface.unseen_y));
}

pp_status pp_reserve(pp_judging *j, pp_error *error)
{
    reserving r = {.j = j};
    PP_TAKE(r.list, &j->memory->keep, PP_RESERVATIONS_MOST);
    if (j->flatness) reserve_coverage(&r);
    if (j->measures) {
        reserve_count(&r);
        PP_TRY(reserve_sample(&r, error));
        reserve_averaged(&r);
        PP_TRY(reserve_contradicting(&r, error));
        reserve_identical(&r);
        reserve_derived(&r);
    }
    if (r.failed) return pp_fail_memory(error);
    j->out->reservation_count = r.count;
    j->out->reservations = r.list;
    return PP_OK;
}

#include "rules/judging.h"

#include "base/names.h"
#include "base/parallel.h"
#include "rules/misdrilled.h"

enum { PARTS = 64 };

/* Findings are made in two rounds of the same code: the first counts each characteristic, the
 * second fills. */
typedef struct maker {
    pp_judging *j;
    size_t next; /* of the findings */
    bool fill;
} maker;

/* Is there anything about it that a list of exceptions might want? */
static bool is_unsure(const pp_finding *f)
{
    return f->verdict >= PP_NOT_PROVEN || (f->verdict == PP_CONFORMS && f->proven_standard != 1);
}

static void note(const pp_finding *f, double *largest_u, size_t *unsure)
{
    if (f->verdict == PP_NOT_JUDGED) return;
    if ((double)f->u > *largest_u) *largest_u = (double)f->u;
    *unsure += is_unsure(f);
}

static void add(maker *m, pp_finding finding)
{
    if (m->fill) {
        m->j->findings[m->next] = finding;
        note(&finding, &m->j->largest_u[finding.characteristic],
             &m->j->unsure[finding.characteristic]);
    }
    m->next++;
}

/* A block of findings, one for each of many items, made on several threads. */
typedef struct block {
    const pp_judging *j;
    pp_characteristic which;
    double limit;
    size_t count;
    pp_finding *findings;
    void (*make)(const struct block *b, size_t item, pp_finding *to);
    double largest_u[PARTS];
    size_t unsure[PARTS];
} block;

static pp_status block_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    block *b = context;
    size_t end = pp_part_begin(b->count, PARTS, part + 1);
    for (size_t i = pp_part_begin(b->count, PARTS, part); i < end; i++) {
        b->make(b, i, &b->findings[i]);
        note(&b->findings[i], &b->largest_u[part], &b->unsure[part]);
    }
    return PP_OK;
}

static pp_status add_block(maker *m, block b, pp_error *error)
{
    if (m->fill) {
        b.j = m->j;
        b.findings = m->j->findings + m->next;
        PP_TRY(pp_parallel(m->j->threads, PARTS, block_part, &b, error));
        for (size_t p = 0; p < PARTS; p++) {
            m->j->largest_u[b.which] = fmax(m->j->largest_u[b.which], b.largest_u[p]);
            m->j->unsure[b.which] += b.unsure[p];
        }
    }
    m->next += b.count;
    return PP_OK;
}

static uint8_t proven(pp_verdict against_standard)
{
    return against_standard == PP_CONFORMS ? 1 : against_standard == PP_DOES_NOT_CONFORM ? 2 : 0;
}

static pp_finding blank(pp_characteristic which, uint32_t subject)
{
    return (pp_finding){.value = NAN,
                        .u = NAN,
                        .subject = subject,
                        .other = PP_NONE,
                        .characteristic = (uint8_t)which};
}

/* A value with one limit only. */
static pp_finding one_sided(pp_characteristic which, uint32_t subject, double value, double u,
                            pp_verdict verdict, bool inside)
{
    pp_finding f = blank(which, subject);
    f.value = value;
    f.u = (float)u;
    f.verdict = (uint8_t)verdict & 0xF;
    if (verdict != PP_NOT_JUDGED) f.class_ = inside ? PP_CLASS_IN : PP_CLASS_OUT;
    return f;
}

static double guard_of(const pp_judging *j, double u) { return j->guard == 0 ? 0 : j->guard * u; }

static pp_finding upper_finding(const pp_judging *j, pp_characteristic which, uint32_t subject,
                                double value, double u, double limit)
{
    pp_verdict verdict = pp_decide_upper(value, limit, guard_of(j, u));
    return one_sided(which, subject, value, u, verdict, pp_at_most(value, limit));
}

static pp_finding lower_finding(const pp_judging *j, pp_characteristic which, uint32_t subject,
                                double value, double u, double limit)
{
    pp_verdict verdict = pp_decide_lower(value, limit, guard_of(j, u));
    return one_sided(which, subject, value, u, verdict, pp_at_least(value, limit));
}

/* --- plate ------------------------------------------------------------------------------------ */

/* Two heights make a flatness or a gap: u = sqrt(2) u_height. */
static double height_u(const pp_judging *j) { return sqrt(2) * j->job->survey.uncertainty / 2; }

static void find_flatness(maker *m)
{
    const pp_judging *j = m->j;
    const pp_flatness *f = j->flatness;
    if (!f || !pp_given(j->limits->flatness_limit.value)) return;
    double value = j->job->survey.flatness_zone == PP_ZONE_MINIMUM ? f->minimum_zone.flatness
                                                                   : f->least_squares.flatness;
    add(m, upper_finding(j, PP_FLATNESS, 0, value, height_u(j), j->limits->flatness_limit.value));
}

static void find_straightedges(maker *m)
{
    const pp_judging *j = m->j;
    if (!j->flatness) return;
    for (size_t i = 0; i < j->flatness->straightedge_count; i++) {
        if (i >= j->limits->straightedge_count) return;
        double limit = j->limits->straightedge[i].value;
        if (pp_given(limit))
            add(m, upper_finding(j, PP_STRAIGHTEDGE, (uint32_t)i, j->flatness->straightedge[i].gap,
                                 height_u(j), limit));
    }
}

static void find_parallelism(maker *m)
{
    const pp_judging *j = m->j;
    double limit = j->limits->parallelism_limit.value;
    if (!j->flatness || !j->flatness->thickness.valid || !pp_given(limit)) return;
    add(m, upper_finding(j, PP_PARALLELISM, 0, j->flatness->thickness.parallelism, height_u(j),
                         limit));
}

/* --- position --------------------------------------------------------------------------------- */

static bool is_plugged(const pp_measures *m, const pp_bore *bore) { return m->plugged[bore->hole]; }

/* Standard uncertainty of a position: 2 u_c; with maximum material the bonus adds the diameter's.
 */
static double position_u(const pp_judging *j, const pp_bore *bore)
{
    double u = 2 * bore->u_centre;
    if (j->job->holes.material_condition != PP_MAXIMUM_MATERIAL) return u;
    double ud = bore->gauged ? 0 : j->job->holes.uncertainty_diameter / 2;
    return sqrt(u * u + ud * ud);
}

static void position_finding(const block *b, size_t item, pp_finding *to)
{
    const pp_judging *j = b->j;
    const pp_bore *bore = &j->measures->bores[item];
    double value = b->which == PP_POSITION ? pp_position_of(j->measures, item) : bore->position;
    double limit = pp_position_limit_of(j->out, b->limit, bore->hole, bore->face);
    pp_finding f = upper_finding(j, b->which, bore->hole, value, position_u(j, bore), limit);
    f.face = bore->face;
    if (is_plugged(j->measures, bore)) f.verdict = PP_NOT_JUDGED;
    *to = f;
}

static pp_status find_positions(maker *m, pp_characteristic which, double limit, pp_error *error)
{
    if (!m->j->measures || !pp_given(limit)) return PP_OK;
    return add_block(m,
                     (block){.which = which,
                             .limit = limit,
                             .count = m->j->measures->extra_first,
                             .make = position_finding},
                     error);
}

/* --- diameter --------------------------------------------------------------------------------- */

/* Where a bore stands against the three diameter limits. */
typedef struct standing {
    pp_verdict lower, upper, outer;
    pp_class class_;
} standing;

static pp_verdict gauge_says(int8_t result, int8_t good)
{
    if (result < 0) return PP_NOT_PROVEN;
    return result == good ? PP_CONFORMS : PP_DOES_NOT_CONFORM;
}

/* What another gauge proves, where the hole's own was not tried. */
static pp_verdict proves(pp_verdict own, pp_verdict other)
{
    return own == PP_NOT_PROVEN ? other : own;
}

/* Plug gauges sit at the limits themselves; what was not tried is not proven unless another gauge
 * proves it. Of gauges that contradict each other (a hole read twice) the worse counts. */
static standing stand_by_gauge(const pp_bore *bore, pp_diameter_bounds limit)
{
    standing s = {.lower = gauge_says(bore->go, 1),
                  .upper = gauge_says(bore->no_go, 0),
                  .outer = gauge_says(bore->no_go_max, 0)};
    if (s.outer == PP_DOES_NOT_CONFORM) s.upper = PP_DOES_NOT_CONFORM;
    if (s.lower == PP_DOES_NOT_CONFORM) s.upper = proves(s.upper, PP_CONFORMS);
    if (s.upper == PP_CONFORMS) s.outer = PP_CONFORMS;
    if (s.upper == PP_DOES_NOT_CONFORM) s.lower = proves(s.lower, PP_CONFORMS);
    if (limit.upper == limit.outer) s.outer = s.upper;
    if (!pp_given(limit.lower)) s.lower = PP_NOT_JUDGED;
    if (!pp_given(limit.upper)) s.upper = s.outer = PP_NOT_JUDGED;
    if (s.lower == PP_DOES_NOT_CONFORM)
        s.class_ = PP_CLASS_UNDER;
    else if (s.outer == PP_DOES_NOT_CONFORM)
        s.class_ = PP_CLASS_OUT;
    else if (s.outer == PP_NOT_PROVEN || s.upper == PP_NOT_PROVEN)
        s.class_ = PP_CLASS_NONE;
    else
        s.class_ = s.upper == PP_DOES_NOT_CONFORM ? PP_CLASS_REMAINDER : PP_CLASS_IN;
    return s;
}

/* The smallest reading against the lower limit, the largest against the upper ones. */
static standing stand_by_reading(const pp_bore *bore, pp_diameter_bounds limit, double guard)
{
    double least = bore->diameter_min, most = bore->diameter_max;
    standing s = {.lower = pp_decide_lower(least, limit.lower, guard),
                  .upper = pp_decide_upper(most, limit.upper, guard),
                  .outer = pp_decide_upper(most, limit.outer, guard),
                  .class_ = PP_CLASS_IN};
    if (pp_given(limit.upper) && !pp_at_most(most, limit.upper))
        s.class_ = pp_at_most(most, limit.outer) ? PP_CLASS_REMAINDER : PP_CLASS_OUT;
    if (pp_given(limit.lower) && !pp_at_least(least, limit.lower)) s.class_ = PP_CLASS_UNDER;
    return s;
}

/* A gauge that says no beside a reading: the worse of the two. */
static standing worsen_by_gauge(standing s, const pp_bore *bore, pp_diameter_bounds limit)
{
    bool small = s.class_ == PP_CLASS_UNDER, large = bore->no_go_max == 1;
    if (bore->no_go == 1 && limit.upper == limit.outer) large = true; /* one limit, one gauge */
    if (bore->no_go == 1 && s.upper != PP_NOT_JUDGED) {
        s.upper = PP_DOES_NOT_CONFORM;
        if (s.class_ == PP_CLASS_IN) s.class_ = PP_CLASS_REMAINDER;
    }
    if (large && s.outer != PP_NOT_JUDGED) {
        s.upper = s.outer = PP_DOES_NOT_CONFORM;
        if (!small) s.class_ = PP_CLASS_OUT;
    }
    if (bore->go == 0 && s.lower != PP_NOT_JUDGED) {
        s.lower = PP_DOES_NOT_CONFORM;
        s.class_ = PP_CLASS_UNDER;
    }
    return s;
}

/* The reading that decides: the one with the smallest margin to its outermost limit. */
static double deciding_diameter(const pp_bore *bore, pp_diameter_bounds limit)
{
    double below = bore->diameter_min - limit.lower, above = limit.outer - bore->diameter_max;
    if (isnan(above)) return isnan(below) ? bore->diameter_max : bore->diameter_min;
    return below < above ? bore->diameter_min : bore->diameter_max;
}

static pp_finding diameter_finding(const pp_judging *j, const pp_bore *bore,
                                   pp_diameter_bounds limit)
{
    pp_finding f = blank(PP_DIAMETER, bore->hole);
    f.face = bore->face;
    if (!pp_given(limit.lower) && !pp_given(limit.upper)) return f;
    double u = bore->gauged ? 0 : j->job->holes.uncertainty_diameter / 2;
    standing s = bore->gauged
                     ? stand_by_gauge(bore, limit)
                     : worsen_by_gauge(stand_by_reading(bore, limit, guard_of(j, u)), bore, limit);
    f.value = deciding_diameter(bore, limit);
    f.u = (float)u;
    f.class_ = (uint8_t)s.class_;
    f.verdict = (uint8_t)pp_worse(s.lower, s.outer) & 0xF;
    f.proven_standard = s.upper == PP_NOT_JUDGED ? 1 : proven(s.upper) & 0xF;
    return f;
}

static void bore_diameter_finding(const block *b, size_t item, pp_finding *to)
{
    const pp_judging *j = b->j;
    const pp_bore *bore = &j->measures->bores[item];
    pp_diameter_bounds limit = pp_bounds_of_hole(j->limits, j->measures->nominal, bore->hole);
    pp_finding f = diameter_finding(j, bore, limit);
    if (is_plugged(j->measures, bore)) f.verdict = PP_NOT_JUDGED;
    *to = f;
}

static bool diameters_judged(const pp_judging *j)
{
    const pp_measures *m = j->measures;
    pp_diameter_bounds limit = pp_bounds_of_hole(j->limits, NULL, PP_NONE);
    if (pp_given(limit.lower) || pp_given(limit.upper)) return true;
    for (size_t h = 0; m->nominal->diameter && h < m->nominal->count; h++) {
        if (m->nominal->kind[h] == PP_TUBE_HOLE) continue;
        limit = pp_bounds_of_hole(j->limits, m->nominal, (uint32_t)h);
        if (pp_given(limit.lower) || pp_given(limit.upper)) return true;
    }
    return false;
}

static pp_status find_diameters(maker *m, pp_error *error)
{
    if (!m->j->measures || !diameters_judged(m->j)) return PP_OK;
    return add_block(m,
                     (block){.which = PP_DIAMETER,
                             .count = m->j->measures->extra_first,
                             .make = bore_diameter_finding},
                     error);
}

/* --- ligament --------------------------------------------------------------------------------- */

static void ligament_finding(const block *b, size_t item, pp_finding *to)
{
    const pp_judging *j = b->j;
    const pp_ligament *l = &j->measures->ligaments[item];
    pp_ligament_bounds limit = pp_ligament_limits(j->limits);
    double guard = guard_of(j, (double)l->u);
    pp_finding f = blank(PP_LIGAMENT, l->a);
    f.other = l->b;
    f.face = l->face;
    f.value = l->value;
    f.u = l->u;
    f.class_ = pp_at_least(l->value, limit.standard)  ? PP_CLASS_IN
               : pp_at_least(l->value, limit.minimum) ? PP_CLASS_REMAINDER
                                                      : PP_CLASS_OUT;
    f.verdict = (uint8_t)pp_decide_lower(l->value, limit.minimum, guard) & 0xF;
    f.proven_standard = proven(pp_decide_lower(l->value, limit.standard, guard)) & 0xF;
    if (pp_passed_over(j, item)) f.verdict = PP_NOT_JUDGED;
    *to = f;
}

static pp_status find_ligaments(maker *m, pp_error *error)
{
    if (!m->j->measures || !pp_given(pp_ligament_limits(m->j->limits).standard)) return PP_OK;
    return add_block(m,
                     (block){.which = PP_LIGAMENT,
                             .count = m->j->measures->ligament_count,
                             .make = ligament_finding},
                     error);
}

/* --- edge, drift, around other holes ---------------------------------------------------------- */

static void find_edges(maker *m)
{
    const pp_judging *j = m->j;
    const pp_measures *measures = j->measures;
    double limit = j->limits->edge_minimum.value;
    if (!measures || !measures->edge || !pp_given(limit)) return;
    for (size_t b = 0; b < measures->extra_first; b++) {
        const pp_bore *bore = &measures->bores[b];
        double ud = bore->gauged ? 0 : j->job->holes.uncertainty_diameter / 2;
        double u = sqrt(bore->u_centre * bore->u_centre + ud * ud / 4);
        pp_finding f = lower_finding(j, PP_EDGE, bore->hole, measures->edge[b], u, limit);
        f.face = bore->face;
        if (!pp_counts(measures, bore)) f.verdict = PP_NOT_JUDGED;
        add(m, f);
    }
}

static void find_drifts(maker *m)
{
    const pp_judging *j = m->j;
    const pp_measures *measures = j->measures;
    double limit = j->limits->drift_limit.value;
    if (!measures || !pp_given(limit)) return;
    double u = sqrt(2) * j->job->holes.uncertainty_position / 2;
    for (size_t h = 0; h < measures->nominal->count; h++) {
        if (isnan(measures->drift[h]) || measures->plugged[h]) continue;
        pp_finding f = upper_finding(j, PP_DRIFT, (uint32_t)h, measures->drift[h], u, limit);
        f.face = PP_EXIT;
        add(m, f);
    }
}

static void find_other_ligaments(maker *m)
{
    const pp_judging *j = m->j;
    const pp_measures *measures = j->measures;
    double limit = j->limits->other_minimum.value;
    if (!measures || !pp_given(limit)) return;
    for (size_t i = 0; i < measures->other_ligament_count; i++) {
        const pp_other_ligament *l = &measures->other_ligaments[i];
        if (measures->plugged[l->other]) continue;
        pp_finding f = lower_finding(j, PP_OTHER_LIGAMENT, l->other, l->value, l->u, limit);
        f.other = l->tube;
        f.face = l->face;
        add(m, f);
    }
}

/* --- attribute checks ------------------------------------------------------------------------- */

/* In the units written: the inspector's word, and the value against the bounds of its row. */
static pp_finding check_finding(const pp_check_row *row, uint32_t index, uint32_t hole)
{
    pp_finding f = blank(PP_CHECK, index);
    f.other = hole;
    f.value = row->value;
    pp_verdict low = pp_decide_lower(row->value, row->low, 0);
    pp_verdict high = pp_decide_upper(row->value, row->high, 0);
    pp_verdict word = row->result < 0   ? PP_NOT_JUDGED
                      : row->result > 0 ? PP_CONFORMS
                                        : PP_DOES_NOT_CONFORM;
    f.verdict = (uint8_t)pp_worse(word, pp_worse(low, high)) & 0xF;
    if (f.verdict != PP_NOT_JUDGED)
        f.class_ = f.verdict == PP_CONFORMS     ? PP_CLASS_IN
                   : low == PP_DOES_NOT_CONFORM ? PP_CLASS_UNDER
                                                : PP_CLASS_OUT;
    return f;
}

static pp_status find_checks(maker *m, pp_error *error)
{
    const pp_hole_files *files = m->j->files;
    if (!files || files->check_count == 0) return PP_OK;
    if (!m->fill) {
        m->next += files->check_count;
        return PP_OK;
    }
    pp_names table;
    PP_TRY(pp_names_build(files->nominal.name, files->nominal.count, &m->j->memory->scratch, &table,
                          error));
    for (size_t i = 0; i < files->check_count; i++) {
        const pp_check_row *row = &files->checks[i];
        uint32_t hole = pp_names_find(&table, row->hole);
        if (hole == PP_NAME_NONE)
            return pp_fail_at(error, PP_EINPUT, files->checks_file, row->line, 0,
                              "hole %s is not in the nominal list %s; correct the name", row->hole,
                              files->nominal.file);
        add(m, check_finding(row, (uint32_t)i, hole));
    }
    return PP_OK;
}

/* --- what should not be there ----------------------------------------------------------------- */

static pp_finding wrong(pp_characteristic which, uint32_t subject)
{
    pp_finding f = blank(which, subject);
    f.verdict = PP_DOES_NOT_CONFORM;
    f.class_ = PP_CLASS_OUT;
    return f;
}

static void find_extras(maker *m)
{
    const pp_measures *measures = m->j->measures;
    if (!measures) return;
    size_t extras = measures->bore_count - measures->extra_first;
    for (size_t i = 0; i < extras; i++) { /* once for each extra, on its first face */
        if (i > 0 && measures->extra_of[i] == measures->extra_of[i - 1]) continue;
        pp_finding f = wrong(PP_EXTRA_HOLE, (uint32_t)(measures->extra_first + i));
        f.face = measures->bores[f.subject].face;
        add(m, f);
    }
}

static void find_doubly_claimed(maker *m)
{
    const pp_measures *measures = m->j->measures;
    for (size_t i = 0; measures && i < measures->doubly_claimed_count; i++)
        add(m, wrong(PP_DOUBLY_CLAIMED, measures->doubly_claimed[i]));
}

static void find_misdrilled(maker *m)
{
    const pp_measures *measures = m->j->measures;
    for (size_t i = 0; measures && i < measures->close_count; i++) {
        const pp_close_pair *pair = &measures->close[i];
        if (!pp_misdrilled(m->j->limits, measures->pitch, pair->ligament)) continue;
        pp_finding f = wrong(PP_MISDRILLED, pair->a);
        f.other = pair->b;
        f.value = pair->ligament;
        f.face = measures->bores[pair->a].face;
        add(m, f);
    }
}

/* --- all -------------------------------------------------------------------------------------- */

static pp_status make(maker *m, pp_characteristic which, pp_error *error)
{
    const pp_limits *limits = m->j->limits;
    switch (which) {
    case PP_FLATNESS:
        find_flatness(m);
        break;
    case PP_STRAIGHTEDGE:
        find_straightedges(m);
        break;
    case PP_PARALLELISM:
        find_parallelism(m);
        break;
    case PP_POSITION:
        return find_positions(m, which, limits->position_limit.value, error);
    case PP_PATTERN_POSITION:
        return find_positions(m, which, pp_pattern_limit(m->j), error);
    case PP_DIAMETER:
        return find_diameters(m, error);
    case PP_LIGAMENT:
        return find_ligaments(m, error);
    case PP_EDGE:
        find_edges(m);
        break;
    case PP_DRIFT:
        find_drifts(m);
        break;
    case PP_OTHER_LIGAMENT:
        find_other_ligaments(m);
        break;
    case PP_CHECK:
        return find_checks(m, error);
    case PP_EXTRA_HOLE:
        find_extras(m);
        break;
    case PP_DOUBLY_CLAIMED:
        find_doubly_claimed(m);
        break;
    case PP_MISDRILLED:
        find_misdrilled(m);
        break;
    case PP_CHARACTERISTICS:
        break;
    }
    return PP_OK;
}

pp_status pp_find_all(pp_judging *j, pp_error *error)
{
    maker m = {.j = j};
    for (int which = 0; which < PP_CHARACTERISTICS; which++) {
        j->out->first[which] = m.next;
        PP_TRY(make(&m, (pp_characteristic)which, error));
    }
    j->out->first[PP_CHARACTERISTICS] = j->out->count = m.next;
    PP_TAKE(j->findings, &j->memory->keep, m.next);
    m = (maker){.j = j, .fill = true};
    for (int which = 0; which < PP_CHARACTERISTICS; which++)
        PP_TRY(make(&m, (pp_characteristic)which, error));
    j->out->findings = j->findings;
    return PP_OK;
}

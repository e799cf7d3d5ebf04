/* Findings of the holes, by characteristic. */
#include "base/names.h"
#include "input/lists/sizes.h"
#include "rules/judging_items.h"
#include "rules/making.h"
#include "rules/misdrilled.h"

static unsigned proven(pp_verdict against_standard)
{
    return against_standard == PP_CONFORMS ? 1 : against_standard == PP_DOES_NOT_CONFORM ? 2 : 0;
}

/* --- position --------------------------------------------------------------------------------- */

static bool is_plugged(const pp_measures *m, const pp_bore *bore) { return m->plugged[bore->hole]; }

/* A distance: noise makes it longer, so it is proven outside only when twice that bias is taken
 * off (holes/centre_error.h; with once, up to 9 % of those at the limit would be rejected). */
static pp_made distance_finding(const pp_judging *j, pp_characteristic which, uint32_t subject,
                                double value, pp_distance_error error, double limit)
{
    double guard = pp_guard_of(j, error.u);
    return pp_finding_between(j, which, subject, value, error.u, value - 2 * error.bias - guard,
                              value + guard, limit);
}

static void position_finding(const pp_finding_block *b, size_t item, pp_made *to)
{
    const pp_judging *j = b->j;
    const pp_bore *bore = &j->measures->bores[item];
    double value = b->which == PP_POSITION ? pp_position_of(j->measures, item) : bore->position;
    double limit = pp_position_limit_of(j->out, b->limit, bore->hole, bore->face);
    pp_made f = distance_finding(j, b->which, bore->hole, value,
                                 pp_position_error(j->job, j->measures, b->which, item), limit);
    f.face = bore->face;
    if (is_plugged(j->measures, bore)) f.verdict = PP_NOT_JUDGED;
    *to = f;
}

pp_status pp_find_positions(pp_finding_maker *m, pp_characteristic which, pp_error *error)
{
    const pp_limits *limits = m->j->limits;
    double limit = which == PP_POSITION ? limits->position_limit.value : pp_pattern_limit(m->j);
    if (!m->j->measures || !pp_given(limit)) return PP_OK;
    return pp_findings_add_block(m,
                                 (pp_finding_block){.which = which,
                                                    .limit = limit,
                                                    .count = m->j->measures->extra_first,
                                                    .make = position_finding},
                                 error);
}

/* --- diameter --------------------------------------------------------------------------------- */

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
static pp_standing stand_by_gauge(const pp_bore *bore, pp_diameter_bounds limit)
{
    pp_standing s = {.lower = gauge_says(bore->go, 1),
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
static pp_standing stand_by_reading(const pp_bore *bore, pp_diameter_bounds limit, double guard)
{
    double least = bore->diameter_min, most = bore->diameter_max;
    pp_standing s = {.lower = pp_decide_lower(least, limit.lower, guard),
                     .upper = pp_decide_upper(most, limit.upper, guard),
                     .outer = pp_decide_upper(most, limit.outer, guard),
                     .class_ = PP_CLASS_IN};
    if (pp_given(limit.upper) && !pp_at_most(most, limit.upper))
        s.class_ = pp_at_most(most, limit.outer) ? PP_CLASS_REMAINDER : PP_CLASS_OUT;
    if (pp_given(limit.lower) && !pp_at_least(least, limit.lower)) s.class_ = PP_CLASS_UNDER;
    return s;
}

/* A gauge that says no beside a reading: the worse of the two. */
static pp_standing worsen_by_gauge(pp_standing s, const pp_bore *bore, pp_diameter_bounds limit)
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

pp_standing pp_diameter_standing(const pp_judging *j, const pp_bore *bore, pp_diameter_bounds limit)
{
    double guard = pp_guard_of(j, pp_diameter_u(j->job, bore));
    if (bore->gauged) return stand_by_gauge(bore, limit);
    return worsen_by_gauge(stand_by_reading(bore, limit, guard), bore, limit);
}

/* The reading that decides: the one with the smallest margin to its outermost limit. */
static double deciding_diameter(const pp_bore *bore, pp_diameter_bounds limit)
{
    double below = bore->diameter_min - limit.lower, above = limit.outer - bore->diameter_max;
    if (isnan(above)) return isnan(below) ? bore->diameter_max : bore->diameter_min;
    return below < above ? bore->diameter_min : bore->diameter_max;
}

static pp_made diameter_finding(const pp_judging *j, const pp_bore *bore, pp_diameter_bounds limit)
{
    pp_made f = pp_finding_blank(PP_DIAMETER, bore->hole);
    f.face = bore->face;
    if (!pp_given(limit.lower) && !pp_given(limit.upper)) return f;
    pp_standing s = pp_diameter_standing(j, bore, limit);
    f.value = deciding_diameter(bore, limit);
    f.u = (float)pp_diameter_u(j->job, bore);
    f.class_ = (uint8_t)s.class_;
    f.verdict = (unsigned)pp_worse(s.lower, s.outer) & 0xFu;
    f.proven_standard = s.upper == PP_NOT_JUDGED ? 1 : proven(s.upper) & 0xFu;
    return f;
}

static void bore_diameter_finding(const pp_finding_block *b, size_t item, pp_made *to)
{
    const pp_judging *j = b->j;
    const pp_bore *bore = &j->measures->bores[item];
    pp_diameter_bounds limit = pp_bounds_of_hole(j->limits, j->measures->nominal, bore->hole);
    pp_made f = diameter_finding(j, bore, limit);
    if (is_plugged(j->measures, bore)) f.verdict = PP_NOT_JUDGED;
    *to = f;
}

static bool diameters_judged(const pp_judging *j)
{
    const pp_measures *m = j->measures;
    pp_diameter_bounds limit = pp_bounds_of_hole(j->limits, NULL, PP_NONE);
    if (!pp_has_sizes(m->readings)) return false;
    if (pp_given(limit.lower) || pp_given(limit.upper)) return true;
    for (size_t h = 0; m->nominal->diameter && h < m->nominal->count; h++) {
        if (m->nominal->kind[h] == PP_TUBE_HOLE) continue;
        limit = pp_bounds_of_hole(j->limits, m->nominal, (uint32_t)h);
        if (pp_given(limit.lower) || pp_given(limit.upper)) return true;
    }
    return false;
}

pp_status pp_find_diameters(pp_finding_maker *m, pp_characteristic which, pp_error *error)
{
    (void)which;
    if (!m->j->measures || !diameters_judged(m->j)) return PP_OK;
    return pp_findings_add_block(m,
                                 (pp_finding_block){.which = PP_DIAMETER,
                                                    .count = m->j->measures->extra_first,
                                                    .make = bore_diameter_finding},
                                 error);
}

/* --- ligament --------------------------------------------------------------------------------- */

static void ligament_finding(const pp_finding_block *b, size_t item, pp_made *to)
{
    const pp_judging *j = b->j;
    const pp_ligament *l = &j->measures->ligaments[item];
    pp_ligament_bounds limit = pp_ligament_limits(j->limits);
    double guard = pp_guard_of(j, (double)l->u);
    pp_made f = pp_finding_blank(PP_LIGAMENT, l->a);
    f.other = l->b;
    f.face = l->face;
    f.value = l->value;
    f.u = l->u;
    f.class_ = pp_at_least(l->value, limit.standard)  ? PP_CLASS_IN
               : pp_at_least(l->value, limit.minimum) ? PP_CLASS_REMAINDER
                                                      : PP_CLASS_OUT;
    f.verdict = (unsigned)pp_decide_lower(l->value, limit.minimum, guard) & 0xFu;
    f.proven_standard = proven(pp_decide_lower(l->value, limit.standard, guard)) & 0xFu;
    if (pp_passed_over(j, item)) f.verdict = PP_NOT_JUDGED;
    *to = f;
}

pp_status pp_find_ligaments(pp_finding_maker *m, pp_characteristic which, pp_error *error)
{
    (void)which;
    if (!m->j->measures || !pp_given(pp_ligament_limits(m->j->limits).standard)) return PP_OK;
    return pp_findings_add_block(m,
                                 (pp_finding_block){.which = PP_LIGAMENT,
                                                    .count = m->j->measures->ligament_count,
                                                    .make = ligament_finding},
                                 error);
}

/* --- edge, drift, around other holes ---------------------------------------------------------- */

pp_status pp_find_edges(pp_finding_maker *m, pp_characteristic which, pp_error *error)
{
    (void)which, (void)error;
    const pp_judging *j = m->j;
    const pp_measures *measures = j->measures;
    double limit = j->limits->edge_minimum.value;
    if (!measures || !measures->edge || !pp_given(limit)) return PP_OK;
    if (!pp_has_sizes(measures->readings)) return PP_OK;
    for (size_t b = 0; b < measures->extra_first; b++) {
        const pp_bore *bore = &measures->bores[b];
        pp_made f = pp_finding_lower_side(j, PP_EDGE, bore->hole, measures->edge[b],
                                          pp_edge_u_of(measures, b), limit);
        f.face = bore->face;
        if (!pp_counts(measures, bore)) f.verdict = PP_NOT_JUDGED;
        pp_findings_add(m, f);
    }
    return PP_OK;
}

pp_status pp_find_drifts(pp_finding_maker *m, pp_characteristic which, pp_error *error)
{
    (void)which, (void)error;
    const pp_judging *j = m->j;
    const pp_measures *measures = j->measures;
    double limit = j->limits->drift_limit.value;
    if (!measures || !measures->drift || !pp_given(limit)) return PP_OK;
    for (size_t h = 0; h < measures->nominal->count; h++) {
        if (isnan(measures->drift[h]) || measures->plugged[h]) continue;
        pp_made f = distance_finding(j, PP_DRIFT, (uint32_t)h, measures->drift[h],
                                     measures->drift_error[h], limit);
        f.face = PP_EXIT;
        pp_findings_add(m, f);
    }
    return PP_OK;
}

pp_status pp_find_other_ligaments(pp_finding_maker *m, pp_characteristic which, pp_error *error)
{
    (void)which, (void)error;
    const pp_judging *j = m->j;
    const pp_measures *measures = j->measures;
    double limit = j->limits->other_minimum.value;
    if (!measures || !pp_given(limit)) return PP_OK;
    for (size_t i = 0; i < measures->other_ligament_count; i++) {
        const pp_other_ligament *l = &measures->other_ligaments[i];
        if (measures->plugged[l->other]) continue;
        pp_made f = pp_finding_lower_side(j, PP_OTHER_LIGAMENT, l->other, l->value, l->u, limit);
        f.other = l->tube;
        f.face = l->face;
        pp_findings_add(m, f);
    }
    return PP_OK;
}

/* --- pairs of holes --------------------------------------------------------------------------- */

static void pair_finding(const pp_finding_block *b, size_t item, pp_made *to)
{
    const pp_pair_value *p = &pp_pair_list_of(b->j->measures, (int)b->which)->pairs[item];
    *to = pp_finding_upper_side(b->j, b->which, p->a, p->value, p->u, b->limit);
    to->other = p->b;
    to->face = p->face;
}

pp_status pp_find_pairs(pp_finding_maker *m, pp_characteristic which, pp_error *error)
{
    const pp_pair_list *list = pp_pair_list_of(m->j->measures, (int)which);
    double limit = pp_pair_limit(m->j->out, (int)which)->value;
    if (!list || !pp_given(limit)) return PP_OK;
    return pp_findings_add_block(
        m,
        (pp_finding_block){
            .which = which, .limit = limit, .count = list->count, .make = pair_finding},
        error);
}

/* --- attribute checks ------------------------------------------------------------------------- */

/* In the units written: the inspector's word, and the value against the bounds of its row. */
static pp_made check_finding(const pp_check_row *row, uint32_t index, uint32_t hole)
{
    pp_made f = pp_finding_blank(PP_CHECK, index);
    f.other = hole;
    f.value = row->value;
    pp_verdict low = pp_decide_lower(row->value, row->low, 0);
    pp_verdict high = pp_decide_upper(row->value, row->high, 0);
    pp_verdict word = row->result < 0   ? PP_NOT_JUDGED
                      : row->result > 0 ? PP_CONFORMS
                                        : PP_DOES_NOT_CONFORM;
    f.verdict = (unsigned)pp_worse(word, pp_worse(low, high)) & 0xFu;
    if (f.verdict != PP_NOT_JUDGED)
        f.class_ = f.verdict == PP_CONFORMS     ? PP_CLASS_IN
                   : low == PP_DOES_NOT_CONFORM ? PP_CLASS_UNDER
                                                : PP_CLASS_OUT;
    return f;
}

pp_check_fault pp_check_fault_of(const pp_check_row *row)
{
    if (pp_less_than(row->value, row->low)) return PP_CHECK_BELOW;
    return pp_more_than(row->value, row->high) ? PP_CHECK_ABOVE : PP_CHECK_REJECTED;
}

pp_status pp_find_checks(pp_finding_maker *m, pp_characteristic which, pp_error *error)
{
    (void)which;
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
        pp_findings_add(m, check_finding(row, (uint32_t)i, hole));
    }
    return PP_OK;
}

/* --- what should not be there ----------------------------------------------------------------- */

static pp_made wrong(pp_characteristic which, uint32_t subject)
{
    pp_made f = pp_finding_blank(which, subject);
    f.verdict = PP_DOES_NOT_CONFORM;
    f.class_ = PP_CLASS_OUT;
    return f;
}

pp_status pp_find_extras(pp_finding_maker *m, pp_characteristic which, pp_error *error)
{
    (void)which, (void)error;
    const pp_measures *measures = m->j->measures;
    if (!measures) return PP_OK;
    size_t extras = measures->bore_count - measures->extra_first;
    for (size_t i = 0; i < extras; i++) { /* once for each extra, on its first face */
        if (i > 0 && measures->extra_of[i] == measures->extra_of[i - 1]) continue;
        pp_made f = wrong(PP_EXTRA_HOLE, (uint32_t)(measures->extra_first + i));
        f.face = measures->bores[f.subject].face;
        pp_findings_add(m, f);
    }
    return PP_OK;
}

pp_status pp_find_doubly_claimed(pp_finding_maker *m, pp_characteristic which, pp_error *error)
{
    (void)which, (void)error;
    const pp_measures *measures = m->j->measures;
    for (size_t i = 0; measures && i < measures->doubly_claimed_count; i++)
        pp_findings_add(m, wrong(PP_DOUBLY_CLAIMED, measures->doubly_claimed[i]));
    return PP_OK;
}

pp_status pp_find_misdrilled(pp_finding_maker *m, pp_characteristic which, pp_error *error)
{
    (void)which, (void)error;
    const pp_measures *measures = m->j->measures;
    for (size_t i = 0; measures && i < measures->close_count; i++) {
        const pp_close_pair *pair = &measures->close[i];
        if (!pp_misdrilled(m->j->limits, pair->ligament)) continue;
        pp_made f = wrong(PP_MISDRILLED, pair->a);
        f.other = pair->b;
        f.value = pair->ligament;
        f.face = measures->bores[pair->a].face;
        pp_findings_add(m, f);
    }
    return PP_OK;
}

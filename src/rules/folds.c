#include <stdlib.h>

#include "base/parallel.h"
#include "base/sum.h"
#include "input/lists/sizes.h"
#include "rules/assurance.h"
#include "rules/judging.h"
#include "rules/judging_items.h"
#include "rules/reservations.h"

enum { PARTS = 64 };

/* --- sections of items that stand alone ------------------------------------------------------- */

void pp_count_in(pp_section *section, pp_verdict verdict)
{
    if (verdict == PP_NOT_JUDGED) return;
    section->judged++;
    section->not_proven += verdict == PP_NOT_PROVEN;
    section->failed += verdict == PP_DOES_NOT_CONFORM;
    section->proven_in += verdict == PP_CONFORMS;
    section->open += verdict == PP_NOT_PROVEN;
    section->verdict = pp_worse(section->verdict, verdict);
}

/* Findings that are an item each. */
pp_status pp_fold_plain(pp_judging *j, pp_characteristic which, pp_error *error)
{
    (void)error;
    for (size_t i = j->out->first[which]; i < j->out->first[which + 1]; i++)
        pp_count_in(&j->out->section[which], (pp_verdict)j->findings[i].verdict);
    return PP_OK;
}

/* The same of the plate: every figure is a difference of heights. */
pp_status pp_fold_plate(pp_judging *j, pp_characteristic which, pp_error *error)
{
    j->out->section[which].u = pp_height_difference_u(j);
    return pp_fold_plain(j, which, error);
}

static pp_status take_straightedges(pp_judging *j, pp_error *error)
{
    if (!j->flatness) return PP_OK;
    PP_TAKE_ZERO(j->straightedge, &j->memory->keep, j->flatness->straightedge_count);
    j->out->straightedge = j->straightedge;
    j->out->straightedge_count = j->flatness->straightedge_count;
    return PP_OK;
}

pp_status pp_fold_straightedges(pp_judging *j, pp_characteristic which, pp_error *error)
{
    for (size_t i = 0; i < j->out->straightedge_count; i++)
        j->straightedge[i].u = pp_height_difference_u(j);
    for (size_t i = j->out->first[which]; i < j->out->first[which + 1]; i++)
        pp_count_in(&j->straightedge[j->findings[i].subject], (pp_verdict)j->findings[i].verdict);
    return pp_fold_plate(j, which, error);
}

bool pp_were_measured(const pp_judging *j)
{
    return !j->files || j->files->measured_given || j->files->ligament_count > 0;
}

/* The measured list tells places only. */
static bool were_sized(const pp_judging *j) { return pp_has_sizes(j->measures->readings); }

/* With every hole asked for, what was not measured leaves a section that has a limit at best not
 * proven. */
static void leave_open(const pp_judging *j, pp_section *section, bool limited, size_t unmeasured)
{
    if (limited && unmeasured > 0 && pp_were_measured(j) && j->job->holes.coverage == PP_EVERY_HOLE)
        section->verdict = pp_worse(section->verdict, PP_NOT_PROVEN);
}

/* --- one item per hole, its worst face -------------------------------------------------------- */

/* Position, pattern position, edge: the findings stand bore by bore. */
static void fold_by_hole(pp_judging *j, pp_characteristic which, bool limited)
{
    const pp_measures *m = j->measures;
    size_t first = j->out->first[which];
    leave_open(j, &j->out->section[which], limited, m->unmeasured_count);
    if (j->out->first[which + 1] == first) return;
    pp_verdict worst = PP_NOT_JUDGED;
    for (size_t b = 0; b < m->extra_first; b++) {
        if (pp_counts(m, &m->bores[b]))
            worst = pp_worse(worst, (pp_verdict)j->findings[first + b].verdict);
        if (!pp_last_of_hole(m, b)) continue;
        pp_count_in(&j->out->section[which], worst);
        worst = PP_NOT_JUDGED;
    }
}

/* Largest and mean of the holes' worst faces. `value` by bore; NaN does not count. */
typedef struct extreme {
    double largest, u;
    uint32_t hole;
    uint8_t face;
    pp_sum sum;
    size_t count;
} extreme;

static extreme fold_extreme(const pp_judging *j, pp_characteristic which, const double *values)
{
    const pp_measures *m = j->measures;
    extreme all = {.largest = NAN, .u = NAN, .hole = PP_NONE};
    double worst = NAN;
    uint8_t face = PP_ENTRY;
    for (size_t b = 0; b < m->extra_first; b++) {
        const pp_bore *bore = &m->bores[b];
        double value = values ? values[b] : bore->position;
        if (pp_counts(m, bore) && !(value <= worst) && !isnan(value)) {
            worst = value;
            face = bore->face;
        }
        if (!pp_last_of_hole(m, b)) continue;
        if (!isnan(worst)) {
            pp_sum_add(&all.sum, worst);
            all.count++;
            if (!(worst <= all.largest)) {
                all.largest = worst;
                all.hole = bore->hole;
                all.face = face;
            }
        }
        worst = NAN;
    }
    if (all.hole != PP_NONE)
        all.u = pp_position_error(j->job, m, which, m->bore_of[all.face][all.hole]).u;
    return all;
}

static double mean_of(pp_sum sum, size_t count)
{
    return count ? pp_sum_value(sum) / (double)count : NAN;
}

pp_status pp_fold_positions(pp_judging *j, pp_characteristic which, pp_error *error)
{
    (void)error;
    const pp_measures *m = j->measures;
    pp_judgement *out = j->out;
    if (!m) return PP_OK;
    fold_by_hole(j, which, pp_given(j->limits->position_limit.value));
    extreme e = fold_extreme(j, which, m->position_within);
    out->section[which].u = e.u;
    out->position_fold.largest = e.largest;
    out->position_fold.largest_hole = e.hole;
    out->position_fold.largest_face = e.face;
    out->position_fold.mean = mean_of(e.sum, e.count);
    out->position_fold.largest_u =
        isnan(e.largest) ? NAN : pp_position_error_of(m, m->bore_of[e.face][e.hole]).u;
    out->position_fold.out = out->section[which].failed;
    out->position_fold.not_proven = out->section[which].not_proven;
    return PP_OK;
}

pp_status pp_fold_pattern(pp_judging *j, pp_characteristic which, pp_error *error)
{
    (void)error;
    const pp_measures *m = j->measures;
    pp_judgement *out = j->out;
    if (!m) return PP_OK;
    fold_by_hole(j, which, pp_given(pp_pattern_limit(j)));
    extreme e = fold_extreme(j, which, NULL);
    out->section[which].u = e.u;
    out->pattern_fold.largest = e.largest;
    out->pattern_fold.largest_hole = e.hole;
    out->pattern_fold.best_fit_angle_deg = m->pattern_angle_deg;
    out->pattern_fold.best_fit_dx = m->pattern_dx;
    out->pattern_fold.best_fit_dy = m->pattern_dy;
    return PP_OK;
}

pp_status pp_fold_edges(pp_judging *j, pp_characteristic which, pp_error *error)
{
    (void)error;
    const pp_measures *m = j->measures;
    if (!m) return PP_OK;
    fold_by_hole(j, which, m->edge && were_sized(j) && pp_given(j->limits->edge_minimum.value));
    j->out->section[which].u = j->out->edge_fold.smallest = NAN;
    j->out->edge_fold.smallest_hole = PP_NONE;
    if (!m->edge) return PP_OK;
    for (size_t b = 0; b < m->extra_first; b++)
        if (pp_counts(m, &m->bores[b]) && !isnan(m->edge[b]) &&
            !(m->edge[b] >= j->out->edge_fold.smallest)) {
            j->out->edge_fold.smallest = m->edge[b];
            j->out->edge_fold.smallest_hole = m->bores[b].hole;
            j->out->section[which].u = pp_edge_u_of(m, b);
        }
    return PP_OK;
}

pp_status pp_fold_drifts(pp_judging *j, pp_characteristic which, pp_error *error)
{
    const pp_measures *m = j->measures;
    if (!m) return PP_OK;
    PP_TRY(pp_fold_plain(j, which, error));
    pp_section *section = &j->out->section[which];
    leave_open(j, section, section->judged > 0, m->unmeasured_count);
    section->u = NAN;
    j->out->drift_fold.largest = NAN;
    j->out->drift_fold.largest_hole = PP_NONE;
    for (size_t h = 0; m->drift && h < m->nominal->count; h++)
        if (!m->plugged[h] && !isnan(m->drift[h]) && !(m->drift[h] <= j->out->drift_fold.largest)) {
            j->out->drift_fold.largest = m->drift[h];
            j->out->drift_fold.largest_hole = (uint32_t)h;
            section->u = m->drift_error[h].u;
        }
    j->out->drift_fold.out = section->failed;
    j->out->drift_fold.not_proven = section->not_proven;
    return PP_OK;
}

pp_status pp_fold_pairs(pp_judging *j, pp_characteristic which, pp_error *error)
{
    const pp_pair_list *list = pp_pair_list_of(j->measures, (int)which);
    pp_section *section = &j->out->section[which];
    pp_pair_fold *fold = &j->out->pair[which];
    section->u = fold->largest = fold->mean = NAN;
    fold->a = fold->b = PP_NONE;
    if (!list) return PP_OK;
    PP_TRY(pp_fold_plain(j, which, error));
    leave_open(j, section, list->count && pp_given(pp_pair_limit(j->out, (int)which)->value),
               j->measures->unmeasured_count);
    pp_sum sum = {0};
    for (size_t i = 0; i < list->count; i++) {
        const pp_pair_value *p = &list->pairs[i];
        pp_sum_add(&sum, p->value);
        if (p->value <= fold->largest) continue;
        *fold = (pp_pair_fold){.largest = p->value, .a = p->a, .b = p->b, .face = p->face};
        section->u = p->u;
    }
    fold->mean = mean_of(sum, list->count);
    return PP_OK;
}

/* --- count rules ------------------------------------------------------------------------------ */

/* The item with one more finding in it: the worst class and the worst verdict hold. */
static pp_item item_add(pp_item item, const pp_finding *f)
{
    if (f->verdict == PP_NOT_JUDGED) return item;
    uint8_t standard = f->proven_standard, other = item.standard;
    item.standard = !item.any                     ? standard
                    : standard == 2 || other == 2 ? 2
                    : standard == 0 || other == 0 ? 0
                                                  : 1;
    item.outer = pp_worse(item.outer, (pp_verdict)f->verdict);
    /* undersize wins over oversize, and both over the rest */
    static const uint8_t RANK[] = {[PP_CLASS_IN] = 0,
                                   [PP_CLASS_REMAINDER] = 1,
                                   [PP_CLASS_NONE] = 2,
                                   [PP_CLASS_OUT] = 3,
                                   [PP_CLASS_UNDER] = 4};
    if (!item.any || RANK[f->class_] > RANK[item.class_]) item.class_ = (pp_class)f->class_;
    item.any = true;
    return item;
}

typedef struct share {
    size_t proven_bad, perhaps_bad; /* of those not proven outside the outer limits */
} share;

static void count_item(pp_count_rule *rule, pp_section *section, share *found, pp_item item)
{
    if (!item.any) return;
    rule->in += item.class_ == PP_CLASS_IN;
    rule->remainder += item.class_ == PP_CLASS_REMAINDER;
    rule->out += item.class_ == PP_CLASS_OUT;
    rule->under += item.class_ == PP_CLASS_UNDER;
    rule->unclassed += item.class_ == PP_CLASS_NONE;
    section->judged++;
    section->failed += item.outer == PP_DOES_NOT_CONFORM;
    bool open = item.outer == PP_NOT_PROVEN || item.standard == 0;
    section->not_proven += open || item.open;
    section->verdict = pp_worse(section->verdict, item.outer);
    if (item.outer == PP_DOES_NOT_CONFORM) return;
    section->open += open;
    section->proven_in += !open;
    found->proven_bad += item.standard == 2;
    found->perhaps_bad += item.standard != 1;
}

size_t pp_remainder_allowed(const pp_limits *limits, size_t denominator)
{
    double allowed = floor(limits->remainder_share.value * (double)denominator + 1e-9);
    return allowed > 0 ? (size_t)allowed : 0;
}

static void settle_rule(pp_judging *j, pp_count_rule *rule, pp_section *section, share found,
                        bool limited, size_t measured, size_t unmeasured)
{
    if (!limited) return;
    bool all = j->job->holes.coverage == PP_EVERY_HOLE;
    rule->denominator = measured + (all ? unmeasured : 0);
    rule->remainder_allowed = pp_remainder_allowed(j->limits, rule->denominator);
    leave_open(j, section, limited, unmeasured);
    if (section->judged == 0) return;
    rule->share = found.proven_bad > rule->remainder_allowed     ? PP_DOES_NOT_CONFORM
                  : found.perhaps_bad <= rule->remainder_allowed ? PP_CONFORMS
                                                                 : PP_NOT_PROVEN;
    section->verdict = pp_worse(section->verdict, rule->share);
}

pp_status pp_fold_diameters(pp_judging *j, pp_characteristic which, pp_error *error)
{
    (void)error;
    const pp_measures *m = j->measures;
    pp_judgement *out = j->out;
    if (!m) return PP_OK;
    size_t first = out->first[which], counted = 0, holes = 0;
    bool judged = out->first[which + 1] > first;
    pp_sum means = {0}, sum = {0};
    double smallest = INFINITY, largest = -INFINITY, readings = 0;
    share found = {0};
    pp_item item = {0};
    pp_standing stands = {0};
    pp_diameter_bounds bounds = pp_bounds_of_hole(j->limits, NULL, PP_NONE);
    for (size_t b = 0; b < m->extra_first; b++) {
        const pp_bore *bore = &m->bores[b];
        if (pp_counts(m, bore)) {
            if (judged) {
                item = item_add(item, &j->findings[first + b]);
                pp_standing face = pp_diameter_standing(j, bore, bounds);
                stands.lower = pp_worse(stands.lower, face.lower);
                stands.outer = pp_worse(stands.outer, face.outer);
            }
            if (bore->diameter_readings) {
                pp_sum_add(&sum, bore->diameter_mean * bore->diameter_readings);
                readings += bore->diameter_readings;
                smallest = fmin(smallest, bore->diameter_min);
                largest = fmax(largest, bore->diameter_max);
            }
        }
        if (!pp_last_of_hole(m, b)) continue;
        counted += pp_counts(m, bore);
        if (readings > 0) {
            pp_sum_add(&means, pp_sum_value(sum) / readings);
            holes++;
        }
        item.open = stands.lower == PP_NOT_PROVEN || stands.outer == PP_NOT_PROVEN;
        count_item(&out->diameter_fold.rule, &out->section[which], &found, item);
        item = (pp_item){0};
        stands = (pp_standing){0};
        sum = (pp_sum){0};
        readings = 0;
    }
    for (size_t b = 0; were_sized(j) && b < m->extra_first; b++)
        out->diameter_fold.gauged += m->bores[b].gauged;
    out->section[which].u = j->job->holes.uncertainty_diameter / 2;
    out->diameter_fold.mean = mean_of(means, holes);
    out->diameter_fold.smallest = holes ? smallest : NAN;
    out->diameter_fold.largest = holes ? largest : NAN;
    settle_rule(j, &out->diameter_fold.rule, &out->section[which], found,
                were_sized(j) && (pp_given(bounds.lower) || pp_given(bounds.upper)), counted,
                m->unmeasured_count);
    return PP_OK;
}

/* Ligaments in parts; the parts' results are put together in order. */
typedef struct ligament_part {
    pp_count_rule rule;
    pp_section section;
    share found;
    pp_sum sum;
    const pp_ligament *smallest;
} ligament_part;

typedef struct ligament_folding {
    const pp_judging *j;
    bool judged;
    ligament_part parts[PARTS];
} ligament_folding;

/* First ligament of a part, moved on to where a pair begins. */
static size_t pair_begin(const pp_measures *m, size_t part)
{
    size_t i = pp_part_begin(m->ligament_count, PARTS, part);
    while (i > 0 && i < m->ligament_count && pp_same_pair(m, i - 1, i)) i++;
    return i;
}

static pp_status fold_ligament_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    ligament_folding *f = context;
    const pp_measures *m = f->j->measures;
    ligament_part *p = &f->parts[part];
    size_t block = f->j->out->first[PP_LIGAMENT], end = pair_begin(m, part + 1);
    for (size_t i = pair_begin(m, part); i < end;) {
        const pp_ligament *worst = NULL;
        pp_item item = {0};
        size_t first = i;
        for (; i < end && pp_same_pair(m, first, i); i++) {
            if (f->judged) item = item_add(item, &f->j->findings[block + i]);
            if (pp_passed_over(f->j, i)) continue;
            if (!worst || m->ligaments[i].value < worst->value) worst = &m->ligaments[i];
        }
        pp_sum_add(&p->sum, worst->value);
        if (!p->smallest || worst->value < p->smallest->value) p->smallest = worst;
        count_item(&p->rule, &p->section, &p->found, item);
    }
    return PP_OK;
}

static void merge_ligament_part(ligament_part *all, const ligament_part *p)
{
    all->rule.in += p->rule.in;
    all->rule.remainder += p->rule.remainder;
    all->rule.out += p->rule.out;
    all->rule.unclassed += p->rule.unclassed;
    all->section.judged += p->section.judged;
    all->section.not_proven += p->section.not_proven;
    all->section.failed += p->section.failed;
    all->section.proven_in += p->section.proven_in;
    all->section.open += p->section.open;
    all->section.verdict = pp_worse(all->section.verdict, p->section.verdict);
    all->found.proven_bad += p->found.proven_bad;
    all->found.perhaps_bad += p->found.perhaps_bad;
    pp_sum_merge(&all->sum, p->sum);
    if (!all->smallest || (p->smallest && p->smallest->value < all->smallest->value))
        all->smallest = p->smallest;
}

pp_status pp_fold_ligaments(pp_judging *j, pp_characteristic which, pp_error *error)
{
    const pp_measures *m = j->measures;
    pp_judgement *out = j->out;
    if (!m) return PP_OK;
    size_t first = out->first[which];
    ligament_folding f = {.j = j, .judged = out->first[which + 1] > first};
    ligament_part all = {0};
    PP_TRY(pp_parallel(j->threads, PARTS, fold_ligament_part, &f, error));
    for (size_t part = 0; part < PARTS; part++) merge_ligament_part(&all, &f.parts[part]);
    out->ligament_fold.rule = all.rule;
    out->section[which] = all.section;
    out->section[which].u = all.smallest ? (double)all.smallest->u : NAN;
    out->ligament_fold.mean = mean_of(all.sum, m->pairs_measured);
    out->ligament_fold.smallest = all.smallest ? all.smallest->value : NAN;
    out->ligament_fold.smallest_a = all.smallest ? all.smallest->a : PP_NONE;
    out->ligament_fold.smallest_b = all.smallest ? all.smallest->b : PP_NONE;
    out->ligament_fold.smallest_face = all.smallest ? all.smallest->face : PP_ENTRY;
    settle_rule(j, &out->ligament_fold.rule, &out->section[which], all.found,
                pp_given(pp_ligament_limits(j->limits).standard) &&
                    (were_sized(j) || m->ligament_count > 0),
                m->pairs_measured, m->pairs_unmeasured);
    return PP_OK;
}

/* --- assurance -------------------------------------------------------------------------------- */

static pp_status assure(pp_judging *j, pp_error *error)
{
    pp_sample_state_positions(j, &j->out->position_fold.assurance);
    PP_TRY(pp_assure_diameters(j, &j->out->diameter_fold.assurance, error));
    return pp_assure_ligaments(j, &j->out->ligament_fold.assurance, error);
}

/* --- all -------------------------------------------------------------------------------------- */

static bool holes_judged(const pp_judgement *out)
{
    for (int which = 0; which < PP_CHARACTERISTICS; which++)
        if (!pp_is_of_plate(which) && out->section[which].verdict != PP_NOT_JUDGED) return true;
    return false;
}

static pp_status fold_one(void *context, size_t which, int worker, pp_error *error)
{
    (void)worker;
    return pp_characteristic_of((int)which)->fold(context, (pp_characteristic)which, error);
}

pp_status pp_fold_all(pp_judging *j, pp_error *error)
{
    pp_judgement *out = j->out;
    PP_TRY(take_straightedges(j, error));
    PP_TRY(pp_parallel(j->threads, PP_CHARACTERISTICS, fold_one, j, error));
    if (j->measures) {
        PP_TRY(pp_list_beside(j, error));
        PP_TRY(assure(j, error));
    }
    PP_TRY(pp_reserve(j, error));
    for (int which = 0; which < PP_CHARACTERISTICS; which++)
        out->verdict = pp_worse(out->verdict, out->section[which].verdict);
    for (size_t i = 0; i < out->reservation_count; i++)
        if (out->reservations[i].which == PP_CHARACTERISTICS && out->verdict != PP_NOT_JUDGED)
            out->verdict = pp_worse(out->verdict, PP_NOT_PROVEN);
    out->verdict = pp_worse(out->verdict, out->others_section.verdict);
    if (j->measures && pp_were_measured(j) && holes_judged(out) &&
        j->measures->unmeasured_count > 0 && j->job->holes.coverage == PP_EVERY_HOLE)
        out->verdict = pp_worse(out->verdict, PP_NOT_PROVEN);
    return PP_OK;
}

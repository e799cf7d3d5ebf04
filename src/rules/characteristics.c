#include "rules/characteristics.h"

#include <string.h>

#include "rules/judging.h"

/* ---- limits ---- */

static double flatness_limit(const pp_judgement *j, const pp_finding *f)
{
    (void)f;
    return j->limits->flatness_limit.value;
}

static double straightedge_limit(const pp_judgement *j, const pp_finding *f)
{
    bool given = f->subject < j->limits->straightedge_count;
    return given ? j->limits->straightedge[f->subject].value : NAN;
}

static double parallelism_limit(const pp_judgement *j, const pp_finding *f)
{
    (void)f;
    return j->limits->parallelism_limit.value;
}

static double position_limit(const pp_judgement *j, const pp_finding *f)
{
    return pp_position_limit_of(j, j->limits->position_limit.value, f->subject, f->face);
}

static double pattern_limit(const pp_judgement *j, const pp_finding *f)
{
    return pp_position_limit_of(j, j->limits->pattern_limit.value, f->subject, f->face);
}

static double smallest_diameter(const pp_judgement *j, const pp_finding *f)
{
    return pp_bounds_of_hole(j->limits, j->measures->nominal, f->subject).lower;
}

static double largest_diameter(const pp_judgement *j, const pp_finding *f)
{
    return pp_bounds_of_hole(j->limits, j->measures->nominal, f->subject).outer;
}

static double standard_diameter(const pp_judgement *j, const pp_finding *f)
{
    return pp_bounds_of_hole(j->limits, j->measures->nominal, f->subject).upper;
}

static double smallest_ligament(const pp_judgement *j, const pp_finding *f)
{
    (void)f;
    return pp_ligament_limits(j->limits).minimum;
}

static double standard_ligament(const pp_judgement *j, const pp_finding *f)
{
    (void)f;
    return pp_ligament_limits(j->limits).standard;
}

static double edge_minimum(const pp_judgement *j, const pp_finding *f)
{
    (void)f;
    return j->limits->edge_minimum.value;
}

static double drift_limit(const pp_judgement *j, const pp_finding *f)
{
    (void)f;
    return j->limits->drift_limit.value;
}

static double pair_limit(const pp_judgement *j, const pp_finding *f)
{
    return pp_pair_limit(j, f->characteristic)->value;
}

static double other_minimum(const pp_judgement *j, const pp_finding *f)
{
    (void)f;
    return j->limits->other_minimum.value;
}

static double check_low(const pp_judgement *j, const pp_finding *f)
{
    return j->files->checks[f->subject].low;
}

static double check_high(const pp_judgement *j, const pp_finding *f)
{
    return j->files->checks[f->subject].high;
}

static double close_below(const pp_judgement *j, const pp_finding *f)
{
    (void)f;
    return j->measures->close_below;
}

/* ---- uncertainties of what is by index ---- */

static double position_u(const pp_judgement *j, size_t bore)
{
    return pp_position_error(j->job, j->measures, PP_POSITION, bore).u;
}

static double pattern_u(const pp_judgement *j, size_t bore)
{
    return pp_position_error(j->job, j->measures, PP_PATTERN_POSITION, bore).u;
}

static double diameter_u(const pp_judgement *j, size_t bore)
{
    const pp_bore *b = &j->measures->bores[bore];
    pp_diameter_bounds limit = pp_bounds_of_hole(j->limits, j->measures->nominal, b->hole);
    bool judged = pp_given(limit.lower) || pp_given(limit.upper);
    return judged ? pp_diameter_u(j->job, b) : NAN;
}

static double ligament_u(const pp_judgement *j, size_t ligament)
{
    return (double)j->measures->ligaments[ligament].u;
}

static double edge_u(const pp_judgement *j, size_t bore) { return pp_edge_u_of(j->measures, bore); }

/* ---- widths of tolerance ---- */

static double position_tolerance(const pp_judging *j) { return j->limits->position_limit.value; }

static double pattern_tolerance(const pp_judging *j) { return j->limits->pattern_limit.value; }

static double diameter_tolerance(const pp_judging *j)
{
    pp_diameter_bounds d = pp_bounds_of_hole(j->limits, NULL, PP_NONE);
    return d.upper - (pp_given(d.lower) ? d.lower : j->limits->hole_nominal.value);
}

static double ligament_tolerance(const pp_judging *j)
{
    const pp_limits *l = j->limits;
    if (!j->measures) return NAN;
    return l->metal_nominal - pp_ligament_limits(l).standard;
}

/* ---- what there is ---- */

static bool has_flatness(const pp_judging *j) { return j->flatness != NULL; }

static bool has_straightedges(const pp_judging *j)
{
    return j->flatness && j->flatness->straightedge_count > 0;
}

static bool has_thickness(const pp_judging *j)
{
    return j->flatness && j->flatness->thickness.valid;
}

static bool has_holes(const pp_judging *j) { return j->measures != NULL; }

static bool has_pattern(const pp_judging *j)
{
    return j->measures && pp_given(j->limits->pattern_limit.value);
}

static bool has_pitch_errors(const pp_judging *j)
{
    return j->measures &&
           (j->measures->pitch_errors.count > 0 || pp_given(j->limits->pitch_error_limit.value));
}

static bool has_other_ligaments(const pp_judging *j)
{
    return j->measures && j->measures->other_ligament_count > 0;
}

static bool has_checks(const pp_judging *j) { return j->files && j->files->check_count > 0; }

/* What should not be there is spoken of only where it is; such findings are always judged. */
static bool has_extras(const pp_judging *j) { return j->out->section[PP_EXTRA_HOLE].judged > 0; }

static bool has_doubly_claimed(const pp_judging *j)
{
    return j->out->section[PP_DOUBLY_CLAIMED].judged > 0;
}

static bool has_misdrilled(const pp_judging *j)
{
    return j->out->section[PP_MISDRILLED].judged > 0;
}

/* ---- the table ---- */

static const pp_characteristic_row rows[PP_CHARACTERISTICS] = {
    [PP_FLATNESS] = {.name = "flatness",
                     .subject = PP_OF_PLATE,
                     .coarse = "flatness",
                     .upper = flatness_limit,
                     .has_data = has_flatness,
                     .require = pp_require_flatness,
                     .find = pp_find_flatness,
                     .fold = pp_fold_plate},
    [PP_STRAIGHTEDGE] = {.name = "straightedge",
                         .subject = PP_OF_STRAIGHTEDGE,
                         .coarse = "a straightedge gap",
                         .upper = straightedge_limit,
                         .has_data = has_straightedges,
                         .require = pp_require_straightedges,
                         .find = pp_find_straightedges,
                         .fold = pp_fold_straightedges},
    [PP_PARALLELISM] = {.name = "parallelism",
                        .subject = PP_OF_PLATE,
                        .upper = parallelism_limit,
                        .has_data = has_thickness,
                        .require = pp_require_parallelism,
                        .find = pp_find_parallelism,
                        .fold = pp_fold_plate},
    [PP_POSITION] = {.name = "position",
                     .subject = PP_OF_FACE,
                     .by_index = true,
                     .u = position_u,
                     .coarse = "a position",
                     .tolerance = position_tolerance,
                     .upper = position_limit,
                     .has_data = has_holes,
                     .require = pp_require_positions,
                     .find = pp_find_positions,
                     .fold = pp_fold_positions},
    [PP_PATTERN_POSITION] = {.name = "pattern position",
                             .subject = PP_OF_FACE,
                             .by_index = true,
                             .u = pattern_u,
                             .coarse = "the pattern's place",
                             .tolerance = pattern_tolerance,
                             .upper = pattern_limit,
                             .has_data = has_pattern,
                             .require = pp_require_positions,
                             .find = pp_find_positions,
                             .fold = pp_fold_pattern},
    [PP_DIAMETER] = {.name = "diameter",
                     .in = "in tolerance",
                     .out = "oversize",
                     .subject = PP_OF_FACE,
                     .by_index = true,
                     .u = diameter_u,
                     .coarse = "a diameter",
                     .tolerance = diameter_tolerance,
                     .rule = offsetof(pp_judgement, diameter_fold.rule),
                     .lower = smallest_diameter,
                     .upper = largest_diameter,
                     .standard = standard_diameter,
                     .has_data = has_holes,
                     .require = pp_require_diameters,
                     .find = pp_find_diameters,
                     .fold = pp_fold_diameters},
    [PP_LIGAMENT] = {.name = "ligament",
                     .in = "standard",
                     .out = "thin",
                     .subject = PP_OF_TWO_HOLES,
                     .by_index = true,
                     .u = ligament_u,
                     .coarse = "a ligament",
                     .tolerance = ligament_tolerance,
                     .rule = offsetof(pp_judgement, ligament_fold.rule),
                     .lower = smallest_ligament,
                     .standard = standard_ligament,
                     .has_data = has_holes,
                     .require = pp_require_ligaments,
                     .find = pp_find_ligaments,
                     .fold = pp_fold_ligaments},
    [PP_EDGE] = {.name = "edge",
                 .said = "edge ligament",
                 .subject = PP_OF_FACE,
                 .by_index = true,
                 .u = edge_u,
                 .lower = edge_minimum,
                 .has_data = has_holes,
                 .require = pp_require_edges,
                 .find = pp_find_edges,
                 .fold = pp_fold_edges},
    [PP_DRIFT] = {.name = "drift",
                  .said = "drill drift",
                  .subject = PP_OF_HOLE,
                  .coarse = "a drill drift",
                  .upper = drift_limit,
                  .has_data = has_holes,
                  .require = pp_require_drifts,
                  .find = pp_find_drifts,
                  .fold = pp_fold_drifts},
    [PP_PITCH_ERROR] = {.name = "pitch error",
                        .key = "pitch_error",
                        .limit = offsetof(pp_limits, pitch_error_limit),
                        .by_distance = true,
                        .subject = PP_OF_TWO_HOLES,
                        .coarse = "a pitch error",
                        .pairs = offsetof(pp_measures, pitch_errors),
                        .upper = pair_limit,
                        .has_data = has_pitch_errors,
                        .require = pp_require_pairs,
                        .find = pp_find_pairs,
                        .fold = pp_fold_pairs},
    [PP_OTHER_LIGAMENT] = {.name = "other ligament",
                           .subject = PP_OF_TWO_HOLES,
                           .lower = other_minimum,
                           .has_data = has_other_ligaments,
                           .require = pp_require_other_ligaments,
                           .find = pp_find_other_ligaments,
                           .fold = pp_fold_plain},
    [PP_CHECK] = {.name = "check",
                  .subject = PP_OF_CHECK,
                  .lower = check_low,
                  .upper = check_high,
                  .has_data = has_checks,
                  .find = pp_find_checks,
                  .fold = pp_fold_plain},
    [PP_EXTRA_HOLE] = {.name = "extra hole",
                       .mistake = true,
                       .wrong = "a hole that the drawing does not have",
                       .subject = PP_OF_BORE,
                       .has_data = has_extras,
                       .find = pp_find_extras,
                       .fold = pp_fold_plain},
    [PP_DOUBLY_CLAIMED] = {.name = "doubly claimed",
                           .mistake = true,
                           .wrong = "claimed by two readings",
                           .subject = PP_OF_HOLE,
                           .has_data = has_doubly_claimed,
                           .find = pp_find_doubly_claimed,
                           .fold = pp_fold_plain},
    [PP_MISDRILLED] = {.name = "misdrilled",
                       .said = "overlapping or below half the minimum",
                       .mistake = true,
                       .subject = PP_OF_TWO_BORES,
                       .lower = close_below,
                       .has_data = has_misdrilled,
                       .find = pp_find_misdrilled,
                       .fold = pp_fold_plain},
};

const pp_characteristic_row *pp_characteristic_of(int which) { return &rows[which]; }

bool pp_is_of_plate(int which)
{
    return rows[which].subject == PP_OF_PLATE || rows[which].subject == PP_OF_STRAIGHTEDGE;
}

const char *pp_characteristic_words(pp_characteristic which) { return rows[which].name; }

const char *pp_characteristic_people(pp_characteristic which)
{
    return rows[which].said ? rows[which].said : rows[which].name;
}

const char *pp_characteristic_said(const char *name)
{
    for (int which = 0; which < PP_CHARACTERISTICS; which++)
        if (strcmp(rows[which].name, name) == 0)
            return pp_characteristic_people((pp_characteristic)which);
    return name;
}

/* ---- what else a finding has ---- */

/* Its place among those of its characteristic. */
static size_t item_of(const pp_judgement *j, const pp_finding *f)
{
    return (size_t)(f - j->findings) - j->first[f->characteristic];
}

float pp_finding_u(const pp_judgement *judgement, const pp_finding *finding)
{
    int which = finding->characteristic;
    size_t item = item_of(judgement, finding);
    if (rows[which].u) return (float)rows[which].u(judgement, item);
    return judgement->rest[judgement->rest_first[which] + item].u;
}

uint32_t pp_finding_other(const pp_judgement *judgement, const pp_finding *finding)
{
    int which = finding->characteristic;
    size_t item = item_of(judgement, finding);
    if (which == PP_LIGAMENT) return judgement->measures->ligaments[item].b;
    if (rows[which].by_index) return PP_NONE;
    return judgement->rest[judgement->rest_first[which] + item].other;
}

/* ---- a finding's limits ---- */

static double limit_by(pp_limit_of *limit, const pp_judgement *j, const pp_finding *f)
{
    return limit ? limit(j, f) : NAN;
}

double pp_finding_lower(const pp_judgement *judgement, const pp_finding *finding)
{
    return limit_by(rows[finding->characteristic].lower, judgement, finding);
}

double pp_finding_upper(const pp_judgement *judgement, const pp_finding *finding)
{
    return limit_by(rows[finding->characteristic].upper, judgement, finding);
}

double pp_finding_standard(const pp_judgement *judgement, const pp_finding *finding)
{
    return limit_by(rows[finding->characteristic].standard, judgement, finding);
}

double pp_finding_excess(const pp_judgement *judgement, const pp_finding *finding)
{
    double below = pp_finding_lower(judgement, finding) - finding->value;
    double above = finding->value - pp_finding_upper(judgement, finding);
    double excess = fmax(below, above); /* ignores a NaN */
    return isnan(excess) ? 0 : excess;
}

const pp_pair_list *pp_pair_list_of(const pp_measures *measures, int which)
{
    size_t offset = rows[which].pairs;
    return offset && measures ? (const pp_pair_list *)((const char *)measures + offset) : NULL;
}

const pp_limit *pp_pair_limit(const pp_judgement *judgement, int which)
{
    return (const pp_limit *)((const char *)judgement->limits + rows[which].limit);
}

const pp_count_rule *pp_count_rule_of(const pp_judgement *judgement, int which)
{
    size_t offset = rows[which].rule;
    return offset ? (const pp_count_rule *)((const char *)judgement + offset) : NULL;
}

pp_verdict pp_proof_verdict(const pp_finding *finding)
{
    bool open = finding->verdict == PP_CONFORMS && finding->proven_standard == 0;
    return open ? PP_NOT_PROVEN : (pp_verdict)finding->verdict;
}

pp_verdict pp_exception_verdict(const pp_judgement *judgement, const pp_finding *finding)
{
    pp_verdict own = (pp_verdict)finding->verdict;
    const pp_count_rule *rule = pp_count_rule_of(judgement, finding->characteristic);
    if (own != PP_CONFORMS || finding->proven_standard == 1) return own;
    return finding->proven_standard == 0 ? PP_NOT_PROVEN : rule ? rule->share : own;
}

const pp_finding *pp_finding_of(const pp_judgement *judgement, pp_characteristic which,
                                size_t index)
{
    size_t first = judgement->first[which], end = judgement->first[which + 1];
    return rows[which].by_index && index < end - first ? &judgement->findings[first + index] : NULL;
}

#include "rules/judging.h"

pp_diameter_bounds pp_bounds_of_hole(const pp_limits *limits, const pp_nominal *nominal,
                                     uint32_t hole)
{
    if (nominal && nominal->kind[hole] != PP_TUBE_HOLE) {
        double size = nominal->diameter ? nominal->diameter[hole] : NAN;
        double upper = size + (nominal->over ? nominal->over[hole] : NAN);
        return (pp_diameter_bounds){size - (nominal->under ? nominal->under[hole] : NAN), upper,
                                    upper};
    }
    double upper = limits->diameter_upper, outer = limits->diameter_upper_limit;
    return (pp_diameter_bounds){limits->diameter_lower, pp_given(upper) ? upper : outer,
                                pp_given(outer) ? outer : upper};
}

pp_ligament_bounds pp_ligament_limits(const pp_limits *limits)
{
    double standard = limits->ligament_standard.value, minimum = limits->ligament_minimum.value;
    return (pp_ligament_bounds){pp_given(standard) ? standard : minimum,
                                pp_given(minimum) ? minimum : standard};
}

bool pp_passed_over(const pp_judging *j, size_t i)
{
    const pp_measures *m = j->measures;
    return j->job->rules.ligament_face == PP_LIGAMENT_EXIT && m->ligaments[i].face == PP_ENTRY &&
           i + 1 < m->ligament_count && pp_same_pair(m, i, i + 1);
}

double pp_pattern_limit(const pp_judging *j)
{
    return j->job->holes.align == PP_ALIGN_BEST_FIT ? NAN : j->limits->pattern_limit.value;
}

bool pp_counts(const pp_measures *measures, const pp_bore *bore)
{
    return bore->hole != PP_NONE && measures->nominal->kind[bore->hole] == PP_TUBE_HOLE &&
           !measures->plugged[bore->hole];
}

/* --- a finding's limits ----------------------------------------------------------------------- */

double pp_position_limit_of(const pp_judgement *judgement, double limit, uint32_t hole,
                            uint8_t face)
{
    const pp_measures *m = judgement->measures;
    if (judgement->job->holes.material_condition != PP_MAXIMUM_MATERIAL) return limit;
    double least = pp_bounds_of_hole(judgement->limits, m->nominal, hole).lower;
    uint32_t bore = m->bore_of[face][hole];
    double bonus = bore == PP_NONE ? 0 : m->bores[bore].diameter_min - least;
    return bonus > 0 ? limit + bonus : limit; /* NaN: no bonus */
}

double pp_finding_lower(const pp_judgement *judgement, const pp_finding *finding)
{
    const pp_limits *limits = judgement->limits;
    switch ((pp_characteristic)finding->characteristic) {
    case PP_DIAMETER:
        return pp_bounds_of_hole(limits, judgement->measures->nominal, finding->subject).lower;
    case PP_LIGAMENT:
        return pp_ligament_limits(limits).minimum;
    case PP_EDGE:
        return limits->edge_minimum.value;
    case PP_OTHER_LIGAMENT:
        return limits->other_minimum.value;
    case PP_MISDRILLED:
        return judgement->measures->close_below;
    case PP_CHECK:
        return judgement->files->checks[finding->subject].low;
    default:
        return NAN;
    }
}

double pp_finding_upper(const pp_judgement *judgement, const pp_finding *finding)
{
    const pp_limits *limits = judgement->limits;
    switch ((pp_characteristic)finding->characteristic) {
    case PP_FLATNESS:
        return limits->flatness_limit.value;
    case PP_STRAIGHTEDGE:
        return finding->subject < limits->straightedge_count
                   ? limits->straightedge[finding->subject].value
                   : NAN;
    case PP_PARALLELISM:
        return limits->parallelism_limit.value;
    case PP_POSITION:
        return pp_position_limit_of(judgement, limits->position_limit.value, finding->subject,
                                    finding->face);
    case PP_PATTERN_POSITION:
        return pp_position_limit_of(judgement, limits->pattern_limit.value, finding->subject,
                                    finding->face);
    case PP_DIAMETER:
        return pp_bounds_of_hole(limits, judgement->measures->nominal, finding->subject).outer;
    case PP_DRIFT:
        return limits->drift_limit.value;
    case PP_CHECK:
        return judgement->files->checks[finding->subject].high;
    default:
        return NAN;
    }
}

double pp_finding_standard(const pp_judgement *judgement, const pp_finding *finding)
{
    const pp_limits *limits = judgement->limits;
    if (finding->characteristic == PP_DIAMETER)
        return pp_bounds_of_hole(limits, judgement->measures->nominal, finding->subject).upper;
    return finding->characteristic == PP_LIGAMENT ? pp_ligament_limits(limits).standard : NAN;
}

pp_verdict pp_exception_verdict(const pp_judgement *judgement, const pp_finding *finding)
{
    pp_verdict own = (pp_verdict)finding->verdict;
    pp_verdict share = finding->characteristic == PP_DIAMETER ? judgement->diameter_fold.rule.share
                       : finding->characteristic == PP_LIGAMENT
                           ? judgement->ligament_fold.rule.share
                           : own;
    if (own != PP_CONFORMS || finding->proven_standard == 1) return own;
    return finding->proven_standard == 0 ? PP_NOT_PROVEN : share;
}

const pp_finding *pp_finding_of(const pp_judgement *judgement, pp_characteristic which,
                                size_t index)
{
    size_t first = judgement->first[which], end = judgement->first[which + 1];
    bool by_index = which == PP_POSITION || which == PP_PATTERN_POSITION || which == PP_DIAMETER ||
                    which == PP_EDGE || which == PP_LIGAMENT;
    return by_index && index < end - first ? &judgement->findings[first + index] : NULL;
}

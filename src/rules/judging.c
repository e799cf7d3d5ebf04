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

double pp_height_difference_u(const pp_judging *j)
{
    return sqrt(2) * j->job->survey.uncertainty / 2;
}

pp_distance_error pp_position_error(const pp_job *job, const pp_measures *measures,
                                    pp_characteristic which, size_t bore)
{
    pp_distance_error e = which == PP_POSITION ? pp_position_error_of(measures, bore)
                                               : pp_bore_error_of(measures, bore).position;
    if (job->holes.material_condition == PP_MAXIMUM_MATERIAL && !measures->bores[bore].gauged)
        e.u = hypot(e.u, job->holes.uncertainty_diameter / 2);
    return e;
}

double pp_diameter_u(const pp_job *job, const pp_bore *bore)
{
    return bore->gauged ? 0 : job->holes.uncertainty_diameter / 2;
}

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

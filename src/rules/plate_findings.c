/* Findings of the plate: flatness, straightedges, parallelism. */
#include "rules/making.h"

pp_status pp_find_flatness(pp_finding_maker *m, pp_characteristic which, pp_error *error)
{
    (void)which, (void)error;
    const pp_judging *j = m->j;
    const pp_flatness *f = j->flatness;
    if (!f || !pp_given(j->limits->flatness_limit.value)) return PP_OK;
    double value = j->job->survey.flatness_zone == PP_ZONE_MINIMUM ? f->minimum_zone.flatness
                                                                   : f->least_squares.flatness;
    double u = pp_height_difference_u(j), limit = j->limits->flatness_limit.value;
    const pp_flatness_interval *i = &f->interval;
    if (i->valid)
        pp_findings_add(m, pp_finding_between(j, PP_FLATNESS, 0, value, u, i->low, i->high, limit));
    else
        pp_findings_add(m, pp_finding_upper_side(j, PP_FLATNESS, 0, value, u, limit));
    return PP_OK;
}

pp_status pp_find_straightedges(pp_finding_maker *m, pp_characteristic which, pp_error *error)
{
    (void)which, (void)error;
    const pp_judging *j = m->j;
    if (!j->flatness) return PP_OK;
    for (size_t i = 0; i < j->flatness->straightedge_count; i++) {
        if (i >= j->limits->straightedge_count) return PP_OK;
        double limit = j->limits->straightedge[i].value;
        if (pp_given(limit))
            pp_findings_add(m, pp_finding_upper_side(j, PP_STRAIGHTEDGE, (uint32_t)i,
                                                     j->flatness->straightedge[i].gap,
                                                     pp_height_difference_u(j), limit));
    }
    return PP_OK;
}

pp_status pp_find_parallelism(pp_finding_maker *m, pp_characteristic which, pp_error *error)
{
    (void)which, (void)error;
    const pp_judging *j = m->j;
    double limit = j->limits->parallelism_limit.value;
    if (!j->flatness || !j->flatness->thickness.valid || !pp_given(limit)) return PP_OK;
    pp_findings_add(m,
                    pp_finding_upper_side(j, PP_PARALLELISM, 0, j->flatness->thickness.parallelism,
                                          pp_height_difference_u(j), limit));
    return PP_OK;
}

#include "rules/judging.h"

static pp_status need(const pp_judging *j, double given, const char *key, const char *section,
                      const char *what, pp_error *error)
{
    if (pp_given(given)) return PP_OK;
    return pp_fail_at(
        error, PP_EINPUT, j->job->path, pp_job_key_line(j->job, "rules", "decision"), 0,
        "decision = guarded needs %s to judge %s; give it under [%s], or say decision "
        "= simple",
        key, what, section);
}

/* Is some reading of a hole of kind other held against that hole's own size? */
static bool other_is_sized(const pp_judging *j)
{
    const pp_measures *m = j->measures;
    for (size_t b = 0; b < m->extra_first; b++) {
        const pp_bore *bore = &m->bores[b];
        if (m->nominal->kind[bore->hole] == PP_TUBE_HOLE || bore->gauged) continue;
        pp_diameter_bounds own = pp_bounds_of_hole(j->limits, m->nominal, bore->hole);
        if (pp_given(own.lower) || pp_given(own.upper)) return true;
    }
    return false;
}

static pp_status need_holes(const pp_judging *j, pp_error *error)
{
    const pp_limits *l = j->limits;
    const pp_measures *m = j->measures;
    double position = j->job->holes.uncertainty_position;
    double diameter = j->job->holes.uncertainty_diameter;
    bool maximum = j->job->holes.material_condition == PP_MAXIMUM_MATERIAL;
    bool placed = pp_given(l->position_limit.value) || pp_given(l->pattern_limit.value);
    bool gauged = true, direct = false, computed = false;
    for (size_t b = 0; b < m->extra_first && gauged; b++) gauged = m->bores[b].gauged;
    for (size_t i = 0; i < m->ligament_count && !(direct && computed); i++) {
        direct = direct || m->ligaments[i].direct;
        computed = computed || !m->ligaments[i].direct;
    }
    bool webs = pp_given(pp_ligament_limits(l).standard);
    pp_diameter_bounds bounds = pp_bounds_of_hole(l, NULL, PP_NONE);
    bool sized = pp_given(bounds.lower) || pp_given(bounds.upper);

    if (placed) PP_TRY(need(j, position, "uncertainty_position", "holes", "position", error));
    if (placed && maximum)
        PP_TRY(need(j, diameter, "uncertainty_diameter", "holes", "position at maximum material",
                    error));
    if ((sized && !gauged) || other_is_sized(j))
        PP_TRY(need(j, diameter, "uncertainty_diameter", "holes", "diameters", error));
    if (webs && computed) {
        PP_TRY(need(j, position, "uncertainty_position", "holes", "ligaments", error));
        if (!gauged) PP_TRY(need(j, diameter, "uncertainty_diameter", "holes", "ligaments", error));
    }
    if (webs && direct)
        PP_TRY(need(j, j->job->holes.uncertainty_ligament, "uncertainty_ligament", "holes",
                    "ligaments measured directly", error));
    if (pp_given(l->drift_limit.value) && m->faces[PP_ENTRY] && m->faces[PP_EXIT])
        PP_TRY(need(j, position, "uncertainty_position", "holes", "drift", error));
    if (pp_given(l->edge_minimum.value) && m->edge) {
        PP_TRY(need(j, position, "uncertainty_position", "holes", "edge ligaments", error));
        PP_TRY(need(j, diameter, "uncertainty_diameter", "holes", "edge ligaments", error));
    }
    if (!pp_given(l->other_minimum.value)) return PP_OK;
    for (size_t i = 0; i < m->other_ligament_count; i++) {
        const char *what = "the metal around holes of kind other";
        if (m->other_ligaments[i].direct) {
            PP_TRY(need(j, j->job->holes.uncertainty_ligament, "uncertainty_ligament", "holes",
                        what, error));
        } else {
            PP_TRY(need(j, position, "uncertainty_position", "holes", what, error));
            PP_TRY(need(j, diameter, "uncertainty_diameter", "holes", what, error));
        }
    }
    return PP_OK;
}

pp_status pp_require_uncertainties(const pp_judging *j, pp_error *error)
{
    if (j->guard == 0) return PP_OK;
    if (j->flatness) {
        double u = j->job->survey.uncertainty;
        if (pp_given(j->limits->flatness_limit.value))
            PP_TRY(need(j, u, "uncertainty", "survey", "flatness", error));
        if (j->flatness->straightedge_count && j->limits->straightedge_count)
            PP_TRY(need(j, u, "uncertainty", "survey", "straightedge gaps", error));
        if (j->flatness->thickness.valid && pp_given(j->limits->parallelism_limit.value))
            PP_TRY(need(j, u, "uncertainty", "survey", "parallelism", error));
    }
    return j->measures ? need_holes(j, error) : PP_OK;
}

#include "rules/judging.h"

#include "input/lists/sizes.h"

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

static pp_status need_height(const pp_judging *j, bool judged, const char *what, pp_error *error)
{
    return judged ? need(j, j->job->survey.uncertainty, "uncertainty", "survey", what, error)
                  : PP_OK;
}

static pp_status need_position(const pp_judging *j, const char *what, pp_error *error)
{
    return need(j, j->job->holes.uncertainty_position, "uncertainty_position", "holes", what,
                error);
}

static pp_status need_diameter(const pp_judging *j, const char *what, pp_error *error)
{
    return need(j, j->job->holes.uncertainty_diameter, "uncertainty_diameter", "holes", what,
                error);
}

static pp_status need_ligament(const pp_judging *j, const char *what, pp_error *error)
{
    return need(j, j->job->holes.uncertainty_ligament, "uncertainty_ligament", "holes", what,
                error);
}

/* Every bore was read by plug gauge alone. */
static bool all_gauged(const pp_measures *m)
{
    for (size_t b = 0; b < m->extra_first; b++)
        if (!m->bores[b].gauged) return false;
    return true;
}

pp_status pp_require_flatness(const pp_judging *j, pp_characteristic which, pp_error *error)
{
    (void)which;
    bool judged = j->flatness && pp_given(j->limits->flatness_limit.value);
    return need_height(j, judged, "flatness", error);
}

pp_status pp_require_straightedges(const pp_judging *j, pp_characteristic which, pp_error *error)
{
    (void)which;
    bool judged =
        j->flatness && j->flatness->straightedge_count > 0 && j->limits->straightedge_count > 0;
    return need_height(j, judged, "straightedge gaps", error);
}

pp_status pp_require_parallelism(const pp_judging *j, pp_characteristic which, pp_error *error)
{
    (void)which;
    bool judged =
        j->flatness && j->flatness->thickness.valid && pp_given(j->limits->parallelism_limit.value);
    return need_height(j, judged, "parallelism", error);
}

pp_status pp_require_positions(const pp_judging *j, pp_characteristic which, pp_error *error)
{
    (void)which;
    const pp_limits *l = j->limits;
    if (!j->measures) return PP_OK;
    if (!pp_given(l->position_limit.value) && !pp_given(l->pattern_limit.value)) return PP_OK;
    PP_TRY(need_position(j, "position", error));
    if (j->job->holes.material_condition != PP_MAXIMUM_MATERIAL) return PP_OK;
    return need_diameter(j, "position at maximum material", error);
}

pp_status pp_require_diameters(const pp_judging *j, pp_characteristic which, pp_error *error)
{
    (void)which;
    if (!j->measures) return PP_OK;
    pp_diameter_bounds bounds = pp_bounds_of_hole(j->limits, NULL, PP_NONE);
    bool sized = pp_given(bounds.lower) || pp_given(bounds.upper);
    if ((!sized || all_gauged(j->measures)) && !other_is_sized(j)) return PP_OK;
    return need_diameter(j, "diameters", error);
}

pp_status pp_require_ligaments(const pp_judging *j, pp_characteristic which, pp_error *error)
{
    (void)which;
    const pp_measures *m = j->measures;
    if (!m || !pp_given(pp_ligament_limits(j->limits).standard)) return PP_OK;
    bool direct = false, computed = false;
    for (size_t i = 0; i < m->ligament_count && !(direct && computed); i++) {
        direct = direct || m->ligaments[i].direct;
        computed = computed || !m->ligaments[i].direct;
    }
    if (computed) PP_TRY(need_position(j, "ligaments", error));
    if (computed && !all_gauged(m)) PP_TRY(need_diameter(j, "ligaments", error));
    return direct ? need_ligament(j, "ligaments measured directly", error) : PP_OK;
}

pp_status pp_require_edges(const pp_judging *j, pp_characteristic which, pp_error *error)
{
    (void)which;
    const pp_measures *m = j->measures;
    if (!m || !m->edge || !pp_given(j->limits->edge_minimum.value)) return PP_OK;
    if (!pp_has_sizes(m->readings)) return PP_OK;
    PP_TRY(need_position(j, "edge ligaments", error));
    return need_diameter(j, "edge ligaments", error);
}

pp_status pp_require_drifts(const pp_judging *j, pp_characteristic which, pp_error *error)
{
    (void)which;
    const pp_measures *m = j->measures;
    if (!m || !m->faces[PP_ENTRY] || !m->faces[PP_EXIT]) return PP_OK;
    return pp_given(j->limits->drift_limit.value) ? need_position(j, "drill drift", error) : PP_OK;
}

pp_status pp_require_other_ligaments(const pp_judging *j, pp_characteristic which, pp_error *error)
{
    (void)which;
    static const char what[] = "the metal around holes of kind other";
    const pp_measures *m = j->measures;
    if (!m || !pp_given(j->limits->other_minimum.value)) return PP_OK;
    for (size_t i = 0; i < m->other_ligament_count; i++) {
        if (m->other_ligaments[i].direct) {
            PP_TRY(need_ligament(j, what, error));
        } else {
            PP_TRY(need_position(j, what, error));
            PP_TRY(need_diameter(j, what, error));
        }
    }
    return PP_OK;
}

pp_status pp_require_pairs(const pp_judging *j, pp_characteristic which, pp_error *error)
{
    const pp_pair_list *list = pp_pair_list_of(j->measures, (int)which);
    if (!list || list->count == 0 || !pp_given(pp_pair_limit(j->out, (int)which)->value))
        return PP_OK;
    return need_position(j, pp_characteristic_people(which), error);
}

pp_status pp_require_uncertainties(const pp_judging *j, pp_error *error)
{
    if (j->guard == 0) return PP_OK;
    for (int which = 0; which < PP_CHARACTERISTICS; which++) {
        pp_requirer *require = pp_characteristic_of(which)->require;
        if (require) PP_TRY(require(j, (pp_characteristic)which, error));
    }
    return PP_OK;
}

/* The survey's side of results.json: `flatness` and `holddown`. */
#include "report/json/json_build.h"

static void put_point(pp_json_builder *b, json_t *object, size_t index)
{
    const pp_survey *survey = b->results->survey;
    pp_json_count(b, object, "row", index + 1);
    bool known = survey && index < survey->count;
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"x", known ? survey->x[index] : NAN},
                                 {"y", known ? survey->y[index] : NAN},
                                 {"z", known ? survey->z[index] : NAN}));
}

static void put_triple(pp_json_builder *b, json_t *object, const char *key, const double value[3])
{
    json_t *array = pp_json_array(b, object, key);
    for (int i = 0; i < 3; i++) pp_json_append_real(b, array, value[i]);
}

static void put_plane(pp_json_builder *b, json_t *object, const pp_plane *plane,
                      const pp_slope_form *slope)
{
    put_triple(b, object, "normal", plane->normal);
    put_triple(b, object, "point", plane->point);
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"slope_x", slope->valid ? slope->slope_x : NAN},
                                 {"slope_y", slope->valid ? slope->slope_y : NAN},
                                 {"height", slope->valid ? slope->height : NAN}));
}

static void put_least_squares(pp_json_builder *b, json_t *section, const pp_flatness *flatness)
{
    const pp_least_squares *fit = &flatness->least_squares;
    json_t *object = pp_json_object(b, section, "least_squares");
    put_plane(b, object, &fit->plane, &flatness->least_squares_slope);
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"flatness", fit->flatness}, {"peak", fit->peak},
                                 {"valley", fit->valley}, {"rms", fit->rms}));
    put_point(b, pp_json_object(b, object, "highest"), fit->highest);
    put_point(b, pp_json_object(b, object, "lowest"), fit->lowest);
}

static void put_minimum_zone(pp_json_builder *b, json_t *section, const pp_flatness *flatness)
{
    const pp_minimum_zone *zone = &flatness->minimum_zone;
    json_t *object = pp_json_object(b, section, "minimum_zone");
    put_plane(b, object, &zone->plane, &flatness->minimum_zone_slope);
    pp_json_real(b, object, "flatness", zone->flatness);
    json_t *witnesses = pp_json_array(b, object, "witness");
    for (int i = 0; i < zone->witness_count; i++) {
        json_t *witness = pp_json_append_object(b, witnesses);
        put_point(b, witness, zone->witness[i].index);
        pp_json_text(b, witness, "side", zone->witness[i].side > 0 ? "upper" : "lower");
    }
    pp_json_flag(b, object, "exact", zone->exact);
}

static void put_straightedges(pp_json_builder *b, json_t *section, const pp_flatness *flatness)
{
    const pp_judgement *judgement = b->results->judgement;
    const pp_limits *limits = b->results->limits;
    json_t *array = pp_json_array(b, section, "straightedge");
    for (size_t i = 0; i < flatness->straightedge_count; i++) {
        const pp_straightedge *edge = &flatness->straightedge[i];
        bool limited = limits && i < limits->straightedge_count;
        bool judged = i < judgement->straightedge_count;
        json_t *object = pp_json_append_object(b, array);
        pp_json_real(b, object, "length", edge->length);
        pp_json_real(b, object, "gap", edge->gap);
        pp_json_text(b, object, "side", edge->underside ? "underside" : "top");
        pp_json_reals(b, object,
                      PP_NAMED_REALS({"x", edge->x}, {"y", edge->y},
                                     {"direction_deg", edge->direction_deg},
                                     {"limit", limited ? limits->straightedge[i].value : NAN}));
        pp_json_text(b, object, "verdict",
                     pp_verdict_words(judged ? judgement->straightedge[i].verdict : PP_NOT_JUDGED));
        pp_json_real(b, object, "used_length", edge->used_length);
        pp_json_real(b, object, "error_bound", edge->error_bound);
    }
}

static void put_flatness_areas(pp_json_builder *b, json_t *section, const pp_flatness *flatness)
{
    json_t *array = pp_json_array(b, section, "areas");
    for (size_t i = 0; i < flatness->area_count; i++) {
        const pp_area *area = &flatness->areas[i];
        json_t *object = pp_json_append_object(b, array);
        pp_json_text(b, object, "side", area->side == PP_AREA_HIGH ? "high" : "low");
        pp_json_reals(b, object,
                      PP_NAMED_REALS({"area", area->area}, {"peak", area->peak}, {"x", area->x},
                                     {"y", area->y}, {"xmin", area->xmin}, {"ymin", area->ymin},
                                     {"xmax", area->xmax}, {"ymax", area->ymax}));
        pp_json_count(b, object, "holes", area->holes);
    }
}

static void put_surface(pp_json_builder *b, json_t *section, const pp_surface *surface,
                        const char *key)
{
    json_t *object = pp_json_object(b, section, key);
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"rms", surface->rms}, {"noise", surface->noise},
                                 {"standard_error", surface->standard_error},
                                 {"standard_error_smoother", surface->standard_error_smoother},
                                 {"leave_one_out", surface->check.leave_one_out},
                                 {"leave_block_out", surface->check.leave_block_out}));
    pp_json_flag(b, object, "sharper_than_smoothing", surface->check.sharper);
    pp_json_real(b, object, "degrees_of_freedom", surface->degrees_of_freedom);
    pp_json_flag(b, object, "noisier_than_stated", surface->noisier_than_stated);
    pp_json_flag(b, object, "noise_unreliable", surface->noise_unreliable);
    pp_json_real(b, object, "condition", surface->condition);
    pp_json_count(b, object, "outside_points", surface->outside_count);
    json_t *outliers = pp_json_array(b, object, "outlier_rows");
    for (size_t i = 0; i < surface->outlier_count; i++)
        pp_json_append(b, outliers, json_integer((json_int_t)surface->outliers[i]));
    json_t *left_out = pp_json_array(b, object, "left_out_rows");
    for (size_t i = 0; i < surface->outlier_count && surface->left_out; i++)
        if (surface->left_out[i])
            pp_json_append(b, left_out, json_integer((json_int_t)surface->outliers[i]));
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"unseen_share", surface->unseen_share},
                                 {"unseen_x", surface->unseen_x}, {"unseen_y", surface->unseen_y},
                                 {"unseen_distance", surface->unseen_distance},
                                 {"covered_share", surface->covered_share},
                                 {"survey_pitch", surface->pitch}));
    pp_json_count(b, object, "points_outside", surface->outside_count);
}

static void put_interval(pp_json_builder *b, json_t *section, const pp_flatness_interval *interval)
{
    if (!interval->valid) return;
    json_t *object = pp_json_object(b, section, "uncertainty");
    pp_json_text(b, object, "method", interval->by_surface ? "surface" : "readings");
    pp_json_text(b, object, "why", interval->why);
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"u", interval->u}, {"u_used", interval->u_used},
                                 {"low", interval->low}, {"high", interval->high},
                                 {"estimate", interval->estimate}, {"bias", interval->bias},
                                 {"readings_low", interval->readings_low},
                                 {"readings_high", interval->readings_high},
                                 {"noise_zone_95", interval->noise_zone},
                                 {"smallest_feature", interval->smallest_feature}));
}

static void put_thickness(pp_json_builder *b, json_t *section, const pp_flatness *flatness)
{
    const pp_thickness_map *map = &flatness->thickness;
    if (!map->valid) return;
    json_t *object = pp_json_object(b, section, "thickness");
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"mean", map->mean}, {"smallest", map->smallest},
                                 {"smallest_x", map->smallest_x}, {"smallest_y", map->smallest_y},
                                 {"largest", map->largest}, {"largest_x", map->largest_x},
                                 {"largest_y", map->largest_y}, {"variation", map->variation},
                                 {"parallelism", map->parallelism}));
    const pp_limits *limits = b->results->limits;
    pp_json_real(b, object, "parallelism_limit", limits ? limits->parallelism_limit.value : NAN);
    const pp_section *judged = &b->results->judgement->section[PP_PARALLELISM];
    pp_json_text(b, object, "verdict", pp_verdict_words(judged->verdict));
}

void pp_json_flatness(pp_json_builder *b, json_t *root)
{
    const pp_flatness *flatness = b->results->flatness;
    if (!flatness) return;
    const pp_limits *limits = b->results->limits;
    const pp_section *judged = &b->results->judgement->section[PP_FLATNESS];
    bool least_squares = b->results->job->survey.flatness_zone == PP_ZONE_LEAST_SQUARES;
    json_t *section = pp_json_object(b, root, "flatness");
    pp_json_count(b, section, "points", flatness->points);
    put_least_squares(b, section, flatness);
    put_minimum_zone(b, section, flatness);
    put_interval(b, section, &flatness->interval);
    pp_json_real(b, section, "limit", limits ? limits->flatness_limit.value : NAN);
    pp_json_text(b, section, "judged_on", least_squares ? "least_squares" : "minimum_zone");
    pp_json_text(b, section, "verdict", pp_verdict_words(judged->verdict));
    put_straightedges(b, section, flatness);
    put_flatness_areas(b, section, flatness);
    if (flatness->surface_valid) put_surface(b, section, &flatness->surface, "surface");
    if (flatness->underside) put_surface(b, section, flatness->underside, "underside_surface");
    put_thickness(b, section, flatness);
}

static const char *support_words(pp_support_kind kind)
{
    return kind == PP_SUPPORT_PINS ? "pins" : "table";
}

static void put_gap_areas(pp_json_builder *b, json_t *section, const pp_holddown *study)
{
    json_t *array = pp_json_array(b, section, "areas");
    for (size_t i = 0; i < study->area_count; i++) {
        json_t *object = pp_json_append_object(b, array);
        pp_json_reals(b, object,
                      PP_NAMED_REALS({"area", study->areas[i].area}, {"peak", study->areas[i].peak},
                                     {"x", study->areas[i].x}, {"y", study->areas[i].y}));
        pp_json_count(b, object, "holes", study->areas[i].holes);
    }
}

static const char *nominal_name(const pp_results *results, uint32_t hole)
{
    return results->files ? results->files->nominal.name[hole] : NULL;
}

static void put_clamps(pp_json_builder *b, json_t *object, size_t count, const pp_clamp *clamps)
{
    json_t *array = pp_json_array(b, object, "plan");
    for (size_t i = 0; i < count; i++) {
        const pp_clamp *clamp = &clamps[i];
        json_t *one = pp_json_append_object(b, array);
        pp_json_real(b, one, "x", clamp->x);
        pp_json_real(b, one, "y", clamp->y);
        pp_json_real(b, one, "force", clamp->force);
        if (clamp->name) pp_json_text(b, one, "name", clamp->name);
        if (clamp->edge_stop) pp_json_flag(b, one, "edge_stop", true);
        json_t *blocks = pp_json_array(b, one, "blocks");
        for (size_t k = 0; k < clamp->block_count; k++)
            pp_json_append_text(b, blocks, nominal_name(b->results, clamp->blocks[k]));
    }
}

static void put_plan(pp_json_builder *b, json_t *section, const pp_holddown *study)
{
    const pp_holddown_judgement *judged = b->results->holddown_judgement;
    const pp_holddown_words *words = b->results->holddown_words;
    put_clamps(b, section, study->clamp_count, study->plan);
    pp_json_real(b, section, "plan_worst_gap", study->plan_worst_gap);
    if (study->plan_given) pp_json_flag(b, section, "plan_given", true);
    pp_json_flag(b, section, "plan_found", judged->plan_found);
    pp_json_count(b, section, "plan_redraws", study->plan_redraws);
    pp_json_count(b, section, "plan_holds", study->plan_holds);
    pp_json_real(b, section, "plan_redraw_worst", study->plan_redraw_worst);
    pp_json_flag(b, section, "clamping_advised", judged->clamping_advised);
    pp_json_text(b, section, "advice", words->advice);
    json_t *notes = pp_json_array(b, section, "notes");
    for (size_t i = 0; i < words->note_count; i++) pp_json_append_text(b, notes, words->notes[i]);
}

static void put_time(pp_json_builder *b, json_t *section, const pp_machine_time *t)
{
    if (!t->valid) return;
    json_t *object = pp_json_object(b, section, "machine_time");
    pp_json_reals(
        b, object,
        PP_NAMED_REALS({"drilling_hours", t->drilling}, {"setting_up_hours", t->setting_up},
                       {"reclamping_hours", t->reclamping}, {"total_hours", t->total},
                       {"roughing_hours", t->roughing}, {"finishing_hours", t->finishing}));
    pp_json_put(b, object, "tools", t->tools ? json_integer((json_int_t)t->tools) : json_null());
    pp_json_real(b, object, "stronger_foot", t->stronger_foot);
}

static void put_clamp_numbers(pp_json_builder *b, json_t *object, const char *key, size_t count,
                              const uint32_t *clamps)
{
    json_t *array = pp_json_array(b, object, key);
    for (size_t k = 0; k < count; k++)
        pp_json_append(b, array, json_integer((json_int_t)clamps[k] + 1));
}

/* From the first chuck to the last; the first has all clamps on. Clamps count from 1. The holes of
 * the first are all that no pad covers; drilling.csv lists them. */
static void put_setups(pp_json_builder *b, json_t *section, const pp_holddown *study)
{
    const pp_setup_list *list = &study->setups;
    if (!list->count) return;
    json_t *array = pp_json_array(b, section, "setups");
    for (size_t i = 0; i < list->count; i++) {
        const pp_drill_setup *setup = &list->setups[i];
        json_t *object = pp_json_append_object(b, array);
        put_clamp_numbers(b, object, "lifted_clamps", setup->lifted_count, setup->lifted);
        pp_json_count(b, object, "holes", setup->hole_count);
        pp_json_real(b, object, "worst_gap", setup->worst_gap);
        pp_json_text(b, object, "worst_hole",
                     setup->worst_hole == PP_NONE ? NULL
                                                  : nominal_name(b->results, setup->worst_hole));
        pp_json_real(b, object, "largest_support_force", setup->largest_support_force);
        pp_json_text(b, object, "verdict",
                     pp_verdict_words(b->results->holddown_judgement->setups[i]));
        pp_json_count(b, object, "sweeps", (size_t)setup->sweeps);
        pp_json_real(b, object, "travel", setup->travel);
        pp_json_real(b, object, "travel_by_rows", setup->travel_by_rows);
        if (!setup->lifted_count) continue;
        json_t *names = pp_json_array(b, object, "list");
        for (size_t k = 0; k < setup->hole_count; k++)
            pp_json_append_text(b, names, nominal_name(b->results, setup->holes[k]));
    }
    put_clamp_numbers(b, section, "tighten", study->clamp_count, list->tighten);
    put_time(b, section, &study->time);
}

static void put_hold_counts(pp_json_builder *b, json_t *object, const pp_hold_counts *counts)
{
    pp_json_count(b, object, "seated", counts->seated);
    pp_json_count(b, object, "seats_under_foot", counts->seats_under_foot);
    pp_json_count(b, object, "needs_holddown", counts->needs_holddown);
    pp_json_count(b, object, "sags", counts->sags);
    pp_json_count(b, object, "uncertain", counts->uncertain);
}

static void put_shims(pp_json_builder *b, json_t *section, const pp_holddown *study)
{
    if (!study->shim_count) return;
    json_t *array = pp_json_array(b, section, "shims");
    for (size_t i = 0; i < study->shim_count; i++) {
        const pp_shim *shim = &study->shims[i];
        json_t *object = pp_json_append_object(b, array);
        pp_json_real(b, object, "x", shim->x);
        pp_json_real(b, object, "y", shim->y);
        pp_json_put(b, object, "pin_row",
                    shim->pin < 0 ? json_null() : json_integer(shim->pin + 1));
        pp_json_text(b, object, "under_hole",
                     shim->hole == PP_NONE ? NULL : nominal_name(b->results, shim->hole));
        pp_json_real(b, object, "gap", shim->gap);
        pp_json_real(b, object, "thickness", shim->thickness);
        json_t *pieces = pp_json_array(b, object, "pieces");
        for (size_t k = 0; k < shim->piece_count; k++)
            pp_json_append_real(b, pieces, shim->pieces[k]);
    }
    if (!study->with_shims) return;
    json_t *with = pp_json_object(b, section, "with_shims");
    put_hold_counts(b, with, &b->results->holddown_judgement->with_shims);
    pp_json_real(b, with, "worst_gap", study->with_shims_worst_gap);
}

static void put_turned_over(pp_json_builder *b, json_t *section, const pp_holddown *study)
{
    const pp_holddown_judgement *judged = b->results->holddown_judgement;
    if (!study->turned_over.gaps) return;
    json_t *object = pp_json_object(b, section, "turned_over");
    put_hold_counts(b, object, &judged->turned);
    pp_json_real(b, object, "worst_gap", study->turned_over.worst_gap);
    pp_json_flag(b, object, "clearly_better", judged->turn_over);
    pp_json_text(b, object, "about", study->turned_over.about_x ? "x" : "y");
    if (!study->turned_over.plan_wanted) return;
    const pp_plan *plan = &study->turned_over.plan;
    put_clamps(b, object, plan->clamp_count, plan->clamps);
    pp_json_flag(b, object, "plan_found", plan->found);
    pp_json_real(b, object, "plan_worst_gap", plan->found ? plan->worst_gap : NAN);
    pp_json_count(b, object, "plan_redraws", plan->redraws);
    pp_json_count(b, object, "plan_holds", plan->holds);
    pp_json_count(b, object, "setups", study->turned_over.setups.count);
}

/* Sensitivity: the largest gap under the foot if touching points could not lift. */
static double largest_held_gap(const pp_holddown *study)
{
    double largest = NAN;
    for (size_t i = 0; i < study->count; i++)
        if (!(study->holes[i].held_gap_under_foot <= largest) &&
            !isnan(study->holes[i].held_gap_under_foot))
            largest = study->holes[i].held_gap_under_foot;
    return largest;
}

static void put_fixture_pin(pp_json_builder *b, json_t *object, const pp_fixture_pin *pin,
                            const pp_pin_verdicts *judged)
{
    pp_json_count(b, object, "row", pin->number);
    pp_json_reals(b, object,
                  PP_NAMED_REALS({"height", pin->height}, {"pressure", pin->pressure},
                                 {"metal", isinf(pin->metal) ? NAN : pin->metal}));
    pp_json_text(b, object, "nearest_hole",
                 pin->nearest == PP_NONE ? NULL : nominal_name(b->results, pin->nearest));
    pp_json_text(b, object, "load_verdict", pp_verdict_words(judged->load));
    pp_json_text(b, object, "pressure_verdict", pp_verdict_words(judged->pressure));
    pp_json_text(b, object, "clearance_verdict", pp_verdict_words(judged->clearance));
}

static void put_pins(pp_json_builder *b, json_t *section, const pp_holddown *study)
{
    if (!study->pin_count) return;
    json_t *array = pp_json_array(b, section, "pins");
    for (size_t i = 0; i < study->pin_count; i++) {
        json_t *object = pp_json_append_object(b, array);
        pp_json_reals(b, object,
                      PP_NAMED_REALS({"x", study->pin_x[i]}, {"y", study->pin_y[i]},
                                     {"force", study->pin_force[i]}));
        if (study->solid.valid) pp_json_real(b, object, "force_solid", study->solid.pin_force[i]);
        if (study->drilled.valid)
            pp_json_real(b, object, "force_drilled", study->drilled.pin_force[i]);
        if (study->fixture)
            put_fixture_pin(b, object, &study->fixture[i],
                            &b->results->holddown_judgement->pins[i]);
    }
}

static void put_phase(pp_json_builder *b, json_t *section, const char *key,
                      const pp_hold_phase *phase, const pp_hold_counts *counts)
{
    if (!phase->valid) return;
    json_t *object = pp_json_object(b, section, key);
    put_hold_counts(b, object, counts);
    pp_json_real(b, object, "sag", phase->sag);
    pp_json_real(b, object, "largest_support_force", phase->largest_support_force);
}

static void put_study_figures(pp_json_builder *b, json_t *section, const pp_holddown *study)
{
    const pp_holddown_judgement *judged = b->results->holddown_judgement;
    pp_json_count(b, section, "holes", study->count);
    put_hold_counts(b, section, &judged->counts);
    pp_json_reals(b, section,
                  PP_NAMED_REALS({"largest_gap", study->largest_gap},
                                 {"largest_gap_under_foot", study->largest_gap_under_foot},
                                 {"largest_force_to_close", study->largest_force_to_close},
                                 {"largest_support_force", study->largest_support_force},
                                 {"flattening_stress", study->flattening_stress},
                                 {"flattening_stress_as_fitted", study->flattening_as_fitted},
                                 {"flattening_stress_low", study->flattening_low},
                                 {"flattening_stress_high", study->flattening_high},
                                 {"plan_stress", study->plan_stress},
                                 {"largest_tilt", study->largest_tilt},
                                 {"tilt_limit", study->tilt_limit}));
    pp_json_count(b, section, "leaning", judged->leaning);
    pp_json_flag(b, section, "rocks", judged->rocks);
    pp_json_flag(b, section, "lies_two_ways", judged->balances);
    pp_json_real(b, section, "tip_distance", study->tip_distance);
    pp_json_real(b, section, "shortest_wave", study->shortest_wave);
    pp_json_count(b, section, "survey_points_wanted",
                  judged->survey_sparse ? study->points_wanted : 0);
    pp_json_reals(b, section,
                  PP_NAMED_REALS({"largest_shift", study->largest_shift},
                                 {"largest_spring_back", study->largest_spring_back},
                                 {"largest_held_gap_under_foot", largest_held_gap(study)}));
    pp_json_flag(b, section, "forces_low", judged->forces_low);
    pp_json_real(b, section, "von_karman_factor", study->stiffening);
    pp_json_flag(b, section, "pin_overloaded", judged->pin_load == PP_DOES_NOT_CONFORM);
    pp_json_flag(b, section, "touch_gap_grown", study->touch_gap_grown);
    pp_json_flag(b, section, "gap_limit_small", judged->gap_limit_small);
    pp_json_flag(b, section, "underside_used", study->underside_used);
    pp_json_reals(b, section,
                  PP_NAMED_REALS({"elastic_modulus", study->elastic_modulus},
                                 {"poisson_ratio", study->poisson_ratio},
                                 {"softened_share", study->softened_share}));
    pp_json_count(b, section, "mesh_check_cells", study->mesh_check.cells);
    pp_json_count(b, section, "mesh_check_holes", study->mesh_check.solved);
    pp_json_real(b, section, "mesh_moves", study->mesh_check.cells ? study->mesh_check.moves : NAN);
    pp_json_real(b, section, "mesh_unsettled",
                 study->mesh_check.cells ? study->mesh_check.unsettled : NAN);
    pp_json_real(b, section, "condition", study->condition);
    pp_json_count(b, section, "contact_points", study->contact_points);
    pp_json_count(b, section, "touching", study->touching);
}

void pp_json_holddown(pp_json_builder *b, json_t *root)
{
    const pp_holddown *study = b->results->holddown;
    if (!study) return;
    json_t *section = pp_json_object(b, root, "holddown");
    pp_json_text(b, section, "support", support_words(study->support));
    pp_json_text(b, section, "laid", pp_json_laid_words(study->laid));
    pp_json_real(b, section, "plate_weight", study->plate_weight);
    pp_json_real(b, section, "plate_weight_drilled", study->weight_drilled);
    pp_json_count(b, section, "thickness_readings", study->thickness.count);
    pp_json_count(b, section, "thickness_terms", (size_t)study->thickness.terms);
    pp_json_reals(b, section,
                  PP_NAMED_REALS({"thickness_scatter", study->thickness.variation},
                                 {"thickness_mean",
                                  study->thickness.terms ? study->thickness.plate_mean : NAN},
                                 {"touch_gap", study->touch_gap}, {"gap_limit", study->gap_limit},
                                 {"foot_force", study->foot_force}));
    pp_json_flag(b, section, "ready", b->results->holddown_judgement->ready);
    json_t *fit = pp_json_object(b, section, "fit");
    const pp_flatness *flatness = b->results->flatness;
    bool fitted = flatness && flatness->surface_valid;
    pp_json_reals(
        b, fit,
        PP_NAMED_REALS({"rms", fitted ? flatness->surface.rms : NAN},
                       {"noise", fitted ? flatness->surface.noise : NAN},
                       {"standard_error", fitted ? flatness->surface.standard_error : NAN}));
    put_study_figures(b, section, study);
    put_gap_areas(b, section, study);
    put_plan(b, section, study);
    put_setups(b, section, study);
    put_shims(b, section, study);
    put_turned_over(b, section, study);
    put_phase(b, section, "solid", &study->solid, &b->results->holddown_judgement->solid);
    put_phase(b, section, "drilled", &study->drilled, &b->results->holddown_judgement->drilled);
    put_pins(b, section, study);
}

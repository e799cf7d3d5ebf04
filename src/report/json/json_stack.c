/* The stack's side of results.json: `stack`. */
#include "answer/machine_names.h"
#include "report/json/json_build.h"

static void put_way(pp_json_builder *b, json_t *object, const pp_stack_way *way)
{
    pp_json_text(b, object, "face", way->over ? "over" : "up");
    pp_json_real(b, object, "turn_deg", way->turn_deg);
}

static void put_layers(pp_json_builder *b, json_t *section, const pp_stack *stack)
{
    json_t *array = pp_json_array(b, section, "layers");
    for (size_t k = 0; k < stack->layer_count; k++) {
        const pp_stack_layer *layer = &stack->layers[k];
        const pp_layer *given = &b->results->job->layers[layer->way.layer];
        json_t *object = pp_json_append_object(b, array);
        pp_json_text(b, object, "name", layer->name);
        pp_json_count(b, object, "place", k + 1);
        put_way(b, object, &layer->way);
        pp_json_flag(b, object, "surveyed", layer->surveyed);
        pp_json_text(b, object, "laid", layer->surveyed ? pp_json_laid_words(layer->laid) : NULL);
        pp_json_reals(b, object,
                      PP_NAMED_REALS({"thickness", layer->thickness}, {"weight", layer->weight},
                                     {"bow", layer->surveyed ? layer->bow : NAN},
                                     {"hidden_bow", layer->hidden_bow}));
        pp_json_flag(b, object, "forces_low", layer->forces_low);
        pp_json_reals(b, object,
                      PP_NAMED_REALS({"stiffer_share", layer->stiffer},
                                     {"standard_error", layer->standard_error},
                                     {"unseen_share", layer->unseen_share}));
        pp_json_flag(b, object, "noisier_than_stated", layer->noisier);
        pp_json_count(b, object, "points_left_out", layer->left_out);
        if (given->plate_id) pp_json_text(b, object, "plate_id", given->plate_id);
        if (given->serial) pp_json_text(b, object, "serial", given->serial);
        if (given->heat_number) pp_json_text(b, object, "heat_number", given->heat_number);
    }
}

static void put_interfaces(pp_json_builder *b, json_t *section, const pp_stack *stack)
{
    json_t *array = pp_json_array(b, section, "interfaces");
    for (size_t k = 0; k < stack->layer_count; k++) {
        const pp_stack_interface *interface = &stack->interfaces[k];
        json_t *object = pp_json_append_object(b, array);
        pp_json_text(b, object, "below", interface->below);
        pp_json_text(b, object, "above", interface->above);
        pp_json_reals(b, object,
                      PP_NAMED_REALS({"largest_gap", interface->largest_gap},
                                     {"largest_gap_under_foot", interface->largest_gap_under_foot},
                                     {"mean_gap", interface->mean_gap}));
    }
}

static json_t *put_arranged(pp_json_builder *b, json_t *section, const char *key,
                            const pp_stack_arranged *arranged)
{
    const pp_stack *stack = b->results->stack;
    json_t *object = pp_json_object(b, section, key);
    json_t *order = pp_json_array(b, object, "order");
    for (size_t k = 0; k < stack->layer_count; k++) {
        json_t *layer = pp_json_append_object(b, order);
        pp_json_text(b, layer, "name", b->results->job->layers[arranged->way[k].layer].name);
        put_way(b, layer, &arranged->way[k]);
    }
    pp_json_reals(
        b, object,
        PP_NAMED_REALS({"largest_gap_under_foot", arranged->largest_gap_under_foot},
                       {"largest_force_to_close", arranged->largest_force_to_close},
                       {"largest_force_to_close_all", arranged->largest_force_to_close_all}));
    return object;
}

static void put_counts(pp_json_builder *b, json_t *section)
{
    const pp_stack_judgement *judged = b->results->stack_judgement;
    pp_json_flag(b, section, "ready", judged->ready);
    pp_json_count(b, section, "holes", b->results->stack->count);
    pp_json_count(b, section, "seated", judged->counts.seated);
    pp_json_count(b, section, "seats_under_foot", judged->counts.seats_under_foot);
    pp_json_count(b, section, "needs_holddown", judged->counts.needs_holddown);
    pp_json_count(b, section, "sags", judged->counts.sags);
    pp_json_count(b, section, "uncertain", judged->counts.uncertain);
}

static void put_figures(pp_json_builder *b, json_t *section, const pp_stack *s)
{
    pp_json_real(b, section, "largest_gap", s->largest_gap);
    pp_json_real(b, section, "largest_gap_under_foot", s->largest_gap_under_foot);
    pp_json_count(b, section, "largest_interface", s->largest_interface + 1);
    pp_json_text(b, section, "worst_hole", b->results->files->nominal.name[s->worst_hole]);
    pp_json_reals(b, section,
                  PP_NAMED_REALS({"largest_table_gap", s->largest_table_gap},
                                 {"largest_table_gap_under_foot", s->largest_table_gap_under_foot},
                                 {"largest_force_to_close", s->largest_force_to_close},
                                 {"largest_force_to_close_all", s->largest_force_to_close_all},
                                 {"largest_tilt", s->largest_tilt},
                                 {"largest_shift", s->largest_shift}));
}

static void put_contact(pp_json_builder *b, json_t *section, const pp_stack *s)
{
    json_t *contact = pp_json_object(b, section, "contact");
    pp_json_count(b, contact, "cells", s->cells);
    pp_json_count(b, contact, "points", s->points);
    pp_json_count(b, contact, "touching", s->touching);
    pp_json_count(b, contact, "fallbacks", s->fallbacks);
    pp_json_real(b, contact, "condition", s->condition);
    pp_json_real(b, contact, "equilibrium", s->section.equilibrium);
}

/* Clamps for the order as listed; an empty plan: none were looked for, or no place helps. */
static void put_plan(pp_json_builder *b, json_t *section, const pp_stack *s)
{
    const pp_stack_plan *plan = &s->plan;
    json_t *array = pp_json_array(b, section, "plan");
    for (size_t i = 0; i < plan->count; i++) {
        json_t *object = pp_json_append_object(b, array);
        pp_json_reals(b, object,
                      PP_NAMED_REALS({"x", plan->clamp[i].x}, {"y", plan->clamp[i].y},
                                     {"force", plan->clamp[i].force}));
    }
    if (!plan->asked) return;
    pp_json_real(b, section, "plan_worst_gap", plan->worst_gap);
    pp_json_real(b, section, "plan_worst_table_gap", plan->worst_table_gap);
    pp_json_flag(b, section, "plan_found", plan->found);
}

void pp_json_stack(pp_json_builder *b, json_t *root)
{
    const pp_stack *s = b->results->stack;
    if (!s) return;
    json_t *section = pp_json_object(b, root, "stack");
    pp_json_text(b, section, "support", s->support == PP_SUPPORT_PINS ? "pins" : "table");
    pp_json_reals(b, section,
                  PP_NAMED_REALS({"gap_limit", s->gap_limit},
                                 {"table_gap_limit", s->table_gap_limit},
                                 {"foot_force", s->foot_force}));
    if (s->softened_share > 0) pp_json_real(b, section, "softened_share", s->softened_share);
    put_counts(b, section);
    put_figures(b, section, s);
    json_t *unsurveyed = pp_json_array(b, section, "unsurveyed");
    for (size_t k = 0; k < s->layer_count; k++)
        if (!s->layers[k].surveyed) pp_json_append_text(b, unsurveyed, s->layers[k].name);
    put_contact(b, section, s);
    put_layers(b, section, s);
    put_interfaces(b, section, s);
    put_arranged(b, section, "listed", &s->listed);
    put_plan(b, section, s);
    if (s->searched) {
        json_t *found = put_arranged(b, section, "found", &s->found);
        pp_json_count(b, found, "evaluated", s->evaluated);
        pp_json_flag(b, found, "all_tried", s->all_tried);
    }
    pp_json_text(b, section, "advice", b->results->stack_words->advice);
    json_t *notes = pp_json_array(b, section, "notes");
    for (size_t i = 0; i < b->results->stack_words->note_count; i++)
        pp_json_append_text(b, notes, b->results->stack_words->notes[i]);
}

/* `stack_holes`, a stack once it is drilled, and `roughing` of results.json. */
#include "answer/machine_names.h"
#include "report/json/json_build.h"

static const char *source_words(pp_wander_source source)
{
    return source == PP_WANDER_JOB      ? "job file"
           : source == PP_WANDER_LAYERS ? "measured layers"
                                        : NULL;
}

static const char *layer_name(const pp_json_builder *b, size_t place)
{
    return b->results->job->layers[b->results->drilled->layer[place]].name;
}

static void put_checks(pp_json_builder *b, json_t *section, const pp_drilled *drilled)
{
    json_t *array = pp_json_array(b, section, "checks");
    for (size_t i = 0; i < drilled->check_count; i++) {
        const pp_drilled_check *check = &drilled->checks[i];
        json_t *object = pp_json_append_object(b, array);
        pp_json_text(b, object, "layer", layer_name(b, check->place));
        pp_json_text(b, object, "face", pp_named_face(check->face));
        pp_json_count(b, object, "holes", check->holes);
        pp_json_reals(b, object,
                      PP_NAMED_REALS({"slip_x", check->slip_x}, {"slip_y", check->slip_y},
                                     {"slip_p", check->slip_p}, {"wander", check->wander},
                                     {"wander_upper", check->wander_upper}));
    }
}

static void put_diameter(pp_json_builder *b, json_t *object, const pp_judgement *own)
{
    const pp_section *judged = &own->section[PP_DIAMETER];
    json_t *diameter = pp_json_object(b, object, "diameter");
    pp_json_reals(b, diameter,
                  PP_NAMED_REALS({"smallest", own->diameter_fold.smallest},
                                 {"largest", own->diameter_fold.largest},
                                 {"mean", own->diameter_fold.mean}));
    pp_json_count(b, diameter, "undersize", own->diameter_fold.rule.under);
    pp_json_count(b, diameter, "in_remainder", own->diameter_fold.rule.remainder);
    pp_json_count(b, diameter, "oversize", own->diameter_fold.rule.out);
    pp_json_count(b, diameter, "not_proven", judged->not_proven);
    pp_json_text(b, diameter, "verdict", pp_verdict_words(judged->verdict));
}

static void put_layer(pp_json_builder *b, json_t *array, size_t place)
{
    static const char *const how[] = {"measured", "between", "beyond"};
    const pp_drilled *drilled = b->results->drilled;
    const pp_drilled_layer *layer = &b->results->drilled_judgement->layers[place];
    json_t *object = pp_json_append_object(b, array);
    pp_json_text(b, object, "name", layer_name(b, place));
    pp_json_count(b, object, "place", place + 1);
    pp_json_text(b, object, "how", how[drilled->how[place]]);
    pp_json_count(b, object, "holes", layer->holes);
    json_t *position = pp_json_object(b, object, "position");
    pp_json_real(b, position, "limit", layer->limit);
    pp_json_real(b, position, "largest", layer->largest);
    pp_json_text(b, position, "largest_hole",
                 layer->largest_hole == PP_NONE
                     ? NULL
                     : b->results->files->nominal.name[layer->largest_hole]);
    pp_json_real(b, position, "mean", layer->mean);
    pp_json_count(b, position, "out", layer->out);
    pp_json_count(b, position, "not_proven", layer->not_proven);
    pp_json_text(b, position, "verdict", pp_verdict_words(layer->position));
    if (layer->own) put_diameter(b, object, layer->own);
    pp_json_text(b, object, "verdict", pp_verdict_words(layer->verdict));
}

void pp_json_drilled(pp_json_builder *b, json_t *root)
{
    const pp_drilled *drilled = b->results->drilled;
    const pp_drilled_judgement *judged = b->results->drilled_judgement;
    if (!drilled) return;
    json_t *section = pp_json_object(b, root, "stack_holes");
    pp_json_text(b, section, "verdict", pp_verdict_words(judged->verdict));
    pp_json_text(b, section, "basis", judged->basis);
    pp_json_real(b, section, "wander", drilled->wander);
    pp_json_text(b, section, "wander_source", source_words(drilled->wander_source));
    pp_json_flag(b, section, "wanders_more", drilled->wanders_more);
    pp_json_count(b, section, "holes_missing", drilled->lost);
    put_checks(b, section, drilled);
    json_t *layers = pp_json_array(b, section, "layers");
    for (size_t k = 0; k < drilled->layer_count; k++) put_layer(b, layers, k);
}

void pp_json_roughing(pp_json_builder *b, json_t *root)
{
    const pp_roughing *r = b->results->roughing;
    if (!r) return;
    json_t *section = pp_json_object(b, root, "roughing");
    pp_json_text(b, section, "sufficient", pp_sufficient_words(r->sufficient));
    pp_json_reals(
        b, section,
        PP_NAMED_REALS({"lower", r->lower}, {"upper", r->upper}, {"upper_limit", r->outer}));
    pp_json_count(b, section, "holes", r->holes);
    pp_json_count(b, section, "measured", r->measured);
    pp_json_count(b, section, "undersize", r->undersize);
    pp_json_count(b, section, "in_remainder", r->in_remainder);
    pp_json_count(b, section, "oversize", r->oversize);
    pp_json_count(b, section, "remainder_allowed", r->remainder_allowed);
    pp_json_reals(
        b, section,
        PP_NAMED_REALS({"mean", r->mean}, {"standard_deviation", r->deviation},
                       {"confidence", r->confidence}, {"tolerance_factor", r->tolerance_factor},
                       {"tolerance_low", r->tolerance_low}, {"tolerance_high", r->tolerance_high}));
    pp_json_flag(b, section, "tolerance_inside", r->tolerance_inside);
    pp_json_reals(b, section,
                  PP_NAMED_REALS({"share_outside_bound", r->share_outside_bound},
                                 {"probability_conforms", r->probability},
                                 {"expected_undersize", r->expected_undersize},
                                 {"expected_oversize", r->expected_oversize},
                                 {"expected_in_remainder", r->expected_in_remainder},
                                 {"normal_p", r->normal_p}, {"trend_p", r->trend_p},
                                 {"time_finishing", r->time_finishing},
                                 {"time_saved", r->time_saved}));
    pp_json_text(b, section, "advice", b->results->roughing_words.advice);
    json_t *notes = pp_json_array(b, section, "notes");
    for (size_t i = 0; i < b->results->roughing_words.note_count; i++)
        pp_json_append_text(b, notes, b->results->roughing_words.notes[i]);
}

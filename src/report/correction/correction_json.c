#include <math.h>

#include "report/correction/correction_report.h"
#include "report/json/json_build.h"

static const char *unit_of(int term)
{
    return term == PP_STATIC_SQUARENESS ? "rad" : pp_static_is_bow(term) ? "mm" : "1";
}

static void put_plates(pp_json_builder *b, json_t *root, const pp_correction *c)
{
    json_t *array = pp_json_array(b, root, "plates");
    for (size_t p = 0; p < c->plate_count; p++) {
        const pp_kept_report *r = &c->plates[p].report;
        json_t *plate = pp_json_append_object(b, array);
        pp_json_text(b, plate, "plate_id", r->plate_id[0] ? r->plate_id : r->serial);
        pp_json_text(b, plate, "date", r->drilled_date ? r->drilled_date : r->inspection_date);
        pp_json_count(b, plate, "holes", c->plates[p].count);
        pp_json_real(b, plate, "rms", c->plates[p].rms);
        pp_json_text(b, plate, "results_sha256", r->results_sha256);
    }
}

static void put_terms(pp_json_builder *b, json_t *root, const pp_correction *c)
{
    json_t *array = pp_json_array(b, root, "terms");
    for (int k = 0; k < PP_STATIC_TERMS; k++) {
        const pp_learned_term *t = &c->terms[k];
        json_t *term = pp_json_append_object(b, array);
        pp_json_text(b, term, "name", pp_static_names[k]);
        pp_json_text(b, term, "unit", unit_of(k));
        pp_json_reals(b, term,
                      PP_NAMED_REALS({"mean", t->mean}, {"between_sd", t->between},
                                     {"within_se", t->within}, {"applied", t->applied},
                                     {"probability_better", t->probability_better}));
        pp_json_text(b, term, "state", pp_correction_state_words(t->state));
        json_t *values = pp_json_array(b, term, "per_plate");
        for (size_t p = 0; p < c->plate_count; p++)
            pp_json_append_real(b, values, c->series[k].value[p]);
    }
}

static void put_settings(pp_json_builder *b, json_t *root, const pp_correction *c)
{
    pp_machine_setting settings[PP_MACHINE_SETTINGS_MAX];
    size_t count = pp_machine_settings(c, settings);
    json_t *array = pp_json_array(b, root, "machine_settings");
    for (size_t i = 0; i < count; i++) {
        json_t *s = pp_json_append_object(b, array);
        pp_json_text(b, s, "setting", settings[i].setting);
        pp_json_real(b, s, "value", settings[i].value);
        pp_json_text(b, s, "unit", settings[i].unit);
        pp_json_text(b, s, "text", settings[i].text);
    }
}

static void put_field(pp_json_builder *b, json_t *root, const pp_correction *c)
{
    json_t *field = pp_json_object(b, root, "field");
    pp_json_flag(b, field, "used", c->field_used);
    json_t *groups = pp_json_array(b, field, "groups");
    for (int g = 0; c->field_used && g < PP_FIELD_GROUPS; g++) {
        json_t *group = pp_json_append_object(b, groups);
        pp_json_text(b, group, "group", c->groups[g].name);
        pp_json_count(b, group, "coefficients", c->groups[g].coefficients);
        pp_json_real(b, group, "weight", c->groups[g].weight);
        pp_json_real(b, group, "p", c->groups[g].p);
    }
}

static void put_range(pp_json_builder *b, json_t *object, const char *key, const pp_range3 *r)
{
    json_t *array = pp_json_array(b, object, key);
    pp_json_append_real(b, array, r->median);
    pp_json_append_real(b, array, r->low);
    pp_json_append_real(b, array, r->high);
}

static void put_promise(pp_json_builder *b, json_t *root, const pp_correction *c)
{
    if (c->promised) {
        json_t *promise = pp_json_object(b, root, "promise");
        pp_json_real(b, promise, "level", 0.90);
        put_range(b, promise, "rms_before", &c->promise.rms_before);
        put_range(b, promise, "rms_after", &c->promise.rms_after);
        put_range(b, promise, "share_out_before", &c->promise.out_before);
        put_range(b, promise, "share_out_after", &c->promise.out_after);
        pp_json_real(b, promise, "probability_better", c->promise.probability_better);
    } else {
        pp_json_put(b, root, "promise", json_null());
    }
    json_t *again = pp_json_object(b, root, "if_it_repeats");
    pp_json_real(b, again, "rms_before", c->rms_now);
    pp_json_real(b, again, "rms_after", c->rms_then);
    json_t *left_out = pp_json_array(b, root, "left_out");
    for (size_t p = 0; p < c->left_out_count; p++) {
        const pp_kept_report *r = &c->plates[p].report;
        json_t *plate = pp_json_append_object(b, left_out);
        pp_json_text(b, plate, "plate_id", r->plate_id[0] ? r->plate_id : r->serial);
        pp_json_real(b, plate, "rms_before", c->left_out[p].rms_before);
        pp_json_real(b, plate, "rms_after", c->left_out[p].rms_after);
    }
}

static void put_shift(pp_json_builder *b, json_t *root, const pp_correction *c,
                      const pp_correct_options *options)
{
    json_t *shift = pp_json_object(b, root, "shift");
    pp_json_real(b, shift, "largest", c->largest);
    pp_json_text(b, shift, "largest_hole", c->next->name[c->largest_hole]);
    pp_json_reals(b, shift,
                  PP_NAMED_REALS({"largest_neighbour_change", c->neighbour_change},
                                 {"smallest_ligament", c->ligament},
                                 {"ligament_minimum", options->ligament_minimum}, {"cap", c->cap},
                                 {"factor", c->factor}, {"step", options->step}));
}

pp_status pp_correction_json(const pp_correction *c, const pp_correct_options *options,
                             pp_text *text, pp_error *error)
{
    pp_json_builder b = {0};
    json_t *root = json_object();
    if (!root) return pp_fail_memory(error);
    pp_json_text(&b, root, "format", "plateproof-correction");
    pp_json_count(&b, root, "version", 1);
    pp_json_text(&b, root, "decision", c->correct ? "correct" : "do not correct");
    pp_json_texts(&b, root, "why", c->why_count, c->why);
    pp_json_text(&b, root, "machine", c->machine);
    put_plates(&b, root, c);
    put_terms(&b, root, c);
    put_settings(&b, root, c);
    json_t *sets = pp_json_array(&b, root, "machine_sets");
    for (int k = 0; k < PP_STATIC_TERMS; k++)
        if (options->machine_sets & 1u << k) pp_json_append_text(&b, sets, pp_static_names[k]);
    put_field(&b, root, c);
    if (c->correct) put_shift(&b, root, c, options);
    put_promise(&b, root, c);
    return pp_json_end(&b, root, text, error);
}

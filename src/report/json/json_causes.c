/* The patterns of the diagnosis, and all it says, in results.json. */
#include "answer/machine_names.h"
#include "report/json/json_build.h"

static const char *state_words(pp_term_state state)
{
    return state == PP_TERM_FOUND       ? "found"
           : state == PP_TERM_NOT_FOUND ? "not found"
                                        : "not tested";
}

static const char *statement_words(pp_statement_kind kind)
{
    switch (kind) {
    case PP_SAYS_CAUSE:
        return "cause";
    case PP_SAYS_UNCLEAR:
        return "unclear";
    case PP_SAYS_STRUCTURE:
        return "structure left";
    case PP_SAYS_INFORMATION:
        return "for information";
    }
    return "";
}

static void put_part(pp_json_builder *b, json_t *list, const pp_error_pattern *p,
                     const pp_error_pattern_part *part)
{
    json_t *entry = pp_json_append_object(b, list);
    if (p->kind == PP_PATTERN_STEP || p->kind == PP_PATTERN_BLOCKS) {
        pp_json_count(b, entry, "place", part->place);
        pp_json_text(b, entry, "hole", pp_named_hole(b->results->measures, part->hole));
    } else if (p->kind == PP_PATTERN_HALF_PLATE) {
        pp_json_text(b, entry, "axis", part->axis == 'x' ? "x" : "y");
        pp_json_real(b, entry, "split", part->split);
    } else if (p->kind == PP_PATTERN_OSCILLATION) {
        pp_json_real(b, entry, "periods", part->periods);
    } else if (part->label) {
        pp_json_text(b, entry, "label", part->label);
        pp_json_text(b, entry, "reference", part->reference);
    }
    json_t *estimate = pp_json_array(b, entry, "estimate");
    json_t *error = pp_json_array(b, entry, "standard_error");
    for (int i = 0; i < part->estimates; i++) {
        pp_json_append_real(b, estimate, part->estimate[i]);
        pp_json_append_real(b, error, part->standard_error[i]);
    }
}

static void put_pattern(pp_json_builder *b, json_t *list, const pp_error_pattern *p)
{
    json_t *entry = pp_json_append_object(b, list);
    pp_json_text(b, entry, "name", p->name);
    pp_json_text(b, entry, "state", state_words(p->state));
    pp_json_reals(b, entry,
                  PP_NAMED_REALS({"p", p->p}, {"p_adjusted", p->p_adjusted},
                                 {"worst_effect", p->worst_effect}));
    pp_json_flag(b, entry, "is_cause", p->is_cause);
    if (p->unclear) pp_json_text(b, entry, "or", p->unclear);
    if (p->partner) pp_json_text(b, entry, "partner", p->partner);
    if (p->sentence) pp_json_text(b, entry, "sentence", p->sentence);
    json_t *parts = pp_json_array(b, entry, "parts");
    for (size_t k = 0; k < p->part_count; k++) put_part(b, parts, p, &p->parts[k]);
}

static void put_structure(pp_json_builder *b, json_t *object, const char *key,
                          const pp_structure *s)
{
    json_t *entry = pp_json_object(b, object, key);
    pp_json_reals(b, entry, PP_NAMED_REALS({"p", s->p}, {"f", s->f}, {"rms", s->rms}));
    pp_json_flag(b, entry, "left", s->left);
}

void pp_json_patterns(pp_json_builder *b, json_t *object, const pp_diagnosis *d)
{
    json_t *patterns = pp_json_array(b, object, "patterns");
    for (size_t i = 0; i < d->pattern_count; i++) put_pattern(b, patterns, &d->patterns[i]);
    json_t *structure = pp_json_object(b, object, "structure");
    put_structure(b, structure, "order", &d->left_order);
    put_structure(b, structure, "place", &d->left_place);
    put_structure(b, structure, "cells", &d->left_cells);
    json_t *wander = pp_json_object(b, object, "wander");
    pp_json_flag(b, wander, "explains", d->wandered);
    pp_json_real(b, wander, "rms", d->wander_rms);
    json_t *uneven = pp_json_object(b, object, "uneven_scatter");
    pp_json_real(b, uneven, "p", d->uneven_p);
    pp_json_flag(b, uneven, "weighed", d->uneven_weighed);
    pp_json_reals(b, uneven,
                  PP_NAMED_REALS({"centre", d->scatter_centre}, {"rim", d->scatter_rim},
                                 {"first", d->scatter_first}, {"last", d->scatter_last}));
    json_t *says = pp_json_array(b, object, "says");
    for (size_t i = 0; i < d->statement_count; i++) {
        json_t *entry = pp_json_append_object(b, says);
        pp_json_text(b, entry, "kind", statement_words(d->statements[i].kind));
        pp_json_text(b, entry, "text", d->statements[i].text);
    }
}

void pp_json_tool_runs(pp_json_builder *b, json_t *object, const pp_diagnosis *d)
{
    json_t *runs = pp_json_array(b, object, "tool_runs");
    for (size_t i = 0; i < d->tool_run_count; i++) {
        const pp_tool_run *run = &d->tool_runs[i];
        json_t *entry = pp_json_append_object(b, runs);
        pp_json_text(b, entry, "tool", run->tool);
        pp_json_count(b, entry, "first_order", run->first_order);
        pp_json_count(b, entry, "holes", run->holes);
        pp_json_count(b, entry, "used_before", (size_t)run->used_before);
        pp_json_reals(b, entry,
                      PP_NAMED_REALS({"level", run->level}, {"slope", run->slope},
                                     {"slope_se", run->slope_se}, {"scatter", run->scatter}));
    }
}

#include "answer/stack_words.h"

#include <math.h>
#include <string.h>

#include "answer/for_people.h"

enum { NOTES_MAX = 12 + 3 * PP_LAYERS_MAX };

typedef struct saying {
    const pp_job *job;
    const pp_nominal *nominal;
    const pp_stack *stack;
    const pp_stack_judgement *judged;
    pp_arena *keep;
    const char **notes;
    size_t note_count;
} saying;

static pp_status keep_text(const saying *s, pp_text *text, const char **kept, pp_error *error)
{
    *kept = text->failed || !text->data ? NULL : pp_arena_text(s->keep, text->data, text->length);
    pp_text_free(text);
    *text = (pp_text){0};
    return *kept ? PP_OK : pp_fail_memory(error);
}

void pp_stack_order_words(pp_text *text, const pp_job *job, const pp_stack_way *way, size_t count)
{
    for (size_t k = 0; k < count; k++) {
        pp_text_print(text, "%s%s%s", k ? ", " : "", job->layers[way[k].layer].name,
                      way[k].over ? " over" : "");
        if (way[k].turn_deg == 0) continue;
        pp_text_add(text, " at ");
        pp_text_add_number(text, way[k].turn_deg);
        pp_text_add(text, " deg");
    }
}

/* Advice -------------------------------------------------------------------------------- */

static void say_worst(const saying *s, pp_text *t)
{
    const pp_stack *r = s->stack;
    const pp_stack_interface *at = &r->interfaces[r->largest_interface];
    pp_length_unit units = s->job->units;
    pp_text_print(t, "Between %s and %s a gap of ", at->below, at->above);
    pp_people_against(t, units, r->largest_gap_under_foot, r->gap_limit);
    pp_text_print(t, " is left at %s with the foot at ", s->nominal->name[r->worst_hole]);
    pp_people_force(t, units, r->foot_force);
    pp_text_add(t, "; ");
    if (pp_given(r->largest_force_to_close)) {
        pp_people_force(t, units, r->largest_force_to_close);
        pp_text_add(t, " would close every gap between layers to the limit. ");
    } else {
        pp_text_add(t, "no force up to the cap closes every gap between layers. ");
    }
}

static void say_support(const saying *s, pp_text *t)
{
    const pp_stack *r = s->stack;
    pp_text_print(t, "Between layers every gap closes under the foot, but %s lies ",
                  r->layers[0].name);
    pp_people_against(t, s->job->units, r->largest_table_gap_under_foot, r->table_gap_limit);
    pp_text_add(t, " above its support there: shim or level the stack, or accept the tilt. ");
}

static void say_found(const saying *s, pp_text *t)
{
    const pp_stack *r = s->stack;
    if (!r->searched) return;
    if (!r->found_better) {
        pp_text_add(t, r->all_tried ? "No other order, face or turn allowed does better. "
                                    : "No better order, face or turn was found. ");
        return;
    }
    pp_text_add(t, "With the order ");
    pp_stack_order_words(t, s->job, r->found.way, r->layer_count);
    if (pp_given(r->found.largest_force_to_close)) {
        pp_text_add(t, " ");
        pp_people_force(t, s->job->units, r->found.largest_force_to_close);
        pp_text_print(t, " closes every gap between layers%s. ", r->all_tried ? "" : " found");
    } else {
        pp_text_add(t, " the worst gap left is ");
        pp_people_length(t, s->job->units, r->found.largest_gap_under_foot);
        pp_text_add(t, ". ");
    }
}

/* Clamps for the order as listed: enough, not enough, or how to have them looked for. */
static void say_clamps(const saying *s, pp_text *t)
{
    const pp_stack *r = s->stack;
    const pp_stack_plan *plan = &r->plan;
    double most = 0;
    if (!plan->asked) {
        if (s->judged->counts.needs_holddown)
            pp_text_add(t, "To have clamps looked for, say how strongly one presses: [holddown] "
                           "clamp_force_limit. ");
        return;
    }
    for (size_t i = 0; i < plan->count; i++) most = fmax(most, plan->clamp[i].force);
    if (plan->found) {
        pp_text_print(t, "As listed, %zu clamp%s of at most ", plan->count,
                      plan->count == 1 ? "" : "s");
        pp_people_force(t, s->job->units, most);
        pp_text_add(t, " close every gap under the foot. ");
        return;
    }
    if (plan->count)
        pp_text_print(t, "Clamps are not enough: with the best %zu found ", plan->count);
    else
        pp_text_add(t,
                    "Clamps are not enough: none was found that closes more than the foot does; ");
    pp_people_against(t, s->job->units, plan->worst_gap, r->gap_limit);
    pp_text_add(t, " is left between layers and ");
    pp_people_against(t, s->job->units, plan->worst_table_gap, r->table_gap_limit);
    pp_text_add(t, " to the support; shims between layers are no remedy. Take a larger foot force, "
                   "other plates or fewer layers. ");
}

static pp_status say_advice(const saying *s, const char **advice, pp_error *error)
{
    const pp_stack *r = s->stack;
    pp_text t = {0};
    size_t open = s->judged->counts.needs_holddown + s->judged->counts.sags;
    if (open == 0 && !s->judged->ready && !r->unsurveyed_count) {
        pp_text_add(&t,
                    "Every gap closes under the foot as far as the surveys go, which is not all "
                    "over the layers: see the notes. ");
    } else if (open == 0) {
        pp_text_add(&t,
                    r->unsurveyed_count
                        ? "As far as the layers were surveyed, every gap closes under the foot. "
                        : "Every gap closes under the foot; no extra hold-down is needed. ");
    } else if (s->judged->counts.needs_holddown == 0) {
        pp_text_add(&t, "The lowest layer sags between the pins; add pins or move them closer. ");
    } else if (s->judged->foot_closes) {
        say_support(s, &t);
    } else {
        say_worst(s, &t);
    }
    say_clamps(s, &t);
    say_found(s, &t);
    if (r->unsurveyed_count) {
        pp_text_add(&t, "Not surveyed and so reckoned flat: ");
        for (size_t k = 0, said = 0; k < r->layer_count; k++)
            if (!r->layers[k].surveyed)
                pp_text_print(&t, "%s%s", said++ ? ", " : "", r->layers[k].name);
        pp_text_add(&t, "; survey them before trusting this.");
    }
    while (t.length && t.data[t.length - 1] == ' ') t.data[--t.length] = '\0';
    return keep_text(s, &t, advice, error);
}

/* Notes --------------------------------------------------------------------------------- */

static void note_if(saying *s, bool applies, const char *sentence)
{
    if (applies) s->notes[s->note_count++] = sentence;
}

static pp_status note_stiff(saying *s, pp_error *error)
{
    double most = 0;
    const char *kept, *who = NULL;
    for (size_t k = 0; k < s->stack->layer_count; k++)
        if (s->stack->layers[k].stiffer > most)
            most = s->stack->layers[k].stiffer, who = s->stack->layers[k].name;
    if (!who) return PP_OK;
    pp_text t = {0};
    pp_text_print(&t,
                  "Layers out of flat both ways by more than half their thickness stiffen as "
                  "they are flattened: %s begins up to ",
                  who);
    pp_people_share(&t, most);
    pp_text_add(&t, " stiffer than reckoned, so forces to close read low by up to that.");
    PP_TRY(keep_text(s, &t, &kept, error));
    note_if(s, true, kept);
    return PP_OK;
}

/* How well each layer is known. */
static pp_status note_surveys(saying *s, pp_error *error)
{
    for (size_t k = 0; k < s->stack->layer_count; k++) {
        const pp_stack_layer *layer = &s->stack->layers[k];
        const char *kept;
        pp_text t = {0};
        if (layer->surveyed && layer->unseen_share > PP_STACK_UNSEEN_MOST) {
            pp_people_share(&t, layer->unseen_share);
            pp_text_print(&t,
                          " of layer %s lies far from any point of its survey, so that gaps "
                          "there are guesses: check its unit and outline, and survey the rest.",
                          layer->name);
            PP_TRY(keep_text(s, &t, &kept, error));
            note_if(s, true, kept);
        }
        if (layer->noisier) {
            pp_text_print(&t, "The survey of layer %s scatters more than its stated uncertainty.",
                          layer->name);
            PP_TRY(keep_text(s, &t, &kept, error));
            note_if(s, true, kept);
        }
        if (layer->left_out) {
            pp_text_print(&t,
                          "%zu points of the survey of layer %s stand alone far off the others "
                          "and were left out.",
                          layer->left_out, layer->name);
            PP_TRY(keep_text(s, &t, &kept, error));
            note_if(s, true, kept);
        }
    }
    return PP_OK;
}

static pp_status say_notes(saying *s, pp_error *error)
{
    const pp_stack *r = s->stack;
    PP_TAKE(s->notes, s->keep, NOTES_MAX);
    PP_TRY(note_surveys(s, error));
    PP_TRY(note_stiff(s, error));
    note_if(s, s->judged->within_error,
            "The surveys are known no better than a third of the gap limit: order and turns found "
            "are within the survey's error.");
    note_if(s, s->judged->hides_bow,
            "A layer that was surveyed lying on its supports may hide a bow larger than the gap "
            "limit: survey it on three points or on edge before trusting face and turn.");
    note_if(s, s->judged->counts.uncertain > 0,
            "Some classes hang on the layers' thickness variation; they are marked uncertain.");
    note_if(s, r->searched && !r->all_tried,
            "The arrangement is the best one found, not proven to be the best there is.");
    note_if(s, r->softened_share > 0,
            "The drilled part is reckoned softened by its holes in every layer: as the stack is at "
            "the end, not at the first hole.");
    note_if(s, true,
            "Friction, chips and burrs between layers, tack welds, dowels, the drill's thrust and "
            "slip are not reckoned. A force that closes a gap says nothing of a burr that is "
            "higher than the gap limit: deburr, and set the limit above the burr you accept.");
    note_if(s, true,
            "A stack held down stores the energy of every layer: release clamps evenly, stay clear "
            "of the edges, and follow a qualified person's instructions. " PP_SAFETY_WORDS);
    return PP_OK;
}

/* The card ------------------------------------------------------------------------------ */

static void say_mark(pp_text *t, double turn)
{
    static const char *const ALONG[] = {"+x", "+y", "-x", "-y"};
    for (int k = 0; k < 4; k++)
        if (turn == 90.0 * k) {
            pp_text_print(t, "its +x mark to %s", ALONG[k]);
            return;
        }
    pp_text_add(t, "its +x mark ");
    pp_text_add_number(t, turn);
    pp_text_add(t, " deg from +x towards +y");
}

static pp_status say_card(const saying *s, pp_stack_words *words, pp_error *error)
{
    size_t n = s->stack->layer_count;
    const pp_stack_way *way = s->stack->found_better ? s->stack->found.way : s->stack->listed.way;
    const char **card;
    PP_TAKE(card, s->keep, n);
    for (size_t k = 0; k < n; k++) {
        pp_text t = {0};
        pp_text_print(&t, "%zu%s: %s, %s, ", k + 1,
                      k == 0       ? " bottom"
                      : k + 1 == n ? " top"
                                   : "",
                      s->job->layers[way[k].layer].name,
                      way[k].over ? "turned over about its x axis" : "as surveyed");
        if (way[k].turn_deg != 0) {
            pp_text_add_number(&t, way[k].turn_deg);
            pp_text_add(&t, " deg; ");
        }
        say_mark(&t, way[k].turn_deg);
        PP_TRY(keep_text(s, &t, &card[k], error));
    }
    words->card = card;
    words->card_count = n;
    return PP_OK;
}

pp_status pp_stack_say(const pp_job *job, const pp_nominal *nominal, const pp_stack *stack,
                       const pp_stack_judgement *judged, pp_memory *memory, pp_stack_words *words,
                       pp_error *error)
{
    saying s = {
        .job = job, .nominal = nominal, .stack = stack, .judged = judged, .keep = &memory->keep};
    pp_stack_words w = {0};
    PP_TRY(say_advice(&s, &w.advice, error));
    PP_TRY(say_notes(&s, error));
    PP_TRY(say_card(&s, &w, error));
    w.notes = s.notes;
    w.note_count = s.note_count;
    *words = w;
    return PP_OK;
}

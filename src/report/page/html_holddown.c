/* The hold-down study on the page: what to do first, then the maps, then how far to trust it. */
#include "answer/for_people.h"
#include "answer/holddown_words.h"
#include "answer/summary.h"
#include "answer/turned_words.h"
#include "report/page/html_parts.h"
#include "report/page/markup.h"

static const char *const HOLD_CAUTIONS[] = {
    "A clamped or held plate stores energy. Release clamps evenly, in small steps, with nobody at "
    "the "
    "rim; withdraw the drill before the foot lifts.",
    "Edge stops keep the plate from sliding; they hold nothing down.",
    "This is a study of a solid, uniform, elastic plate with small slopes. Holes soften the plate; "
    "doubly curved plates that are out of flat by more than half their thickness need more force "
    "than computed. Friction, vibration and the lifting pull of the drill are not included.",
    ("It is not a lifting or guarding calculation. " PP_SAFETY_WORDS),
};

/* A cell of a table of cards, the one before it closed */
static void next_cell(pp_text *out, const char *head)
{
    pp_text_print(out, "</td><td data-label=\"%s\">", head);
}

static void clamp_rows(pp_text *out, const pp_results *r)
{
    const pp_holddown *h = r->holddown;
    static const char *const heads[] = {"Clamp", "x, y", "Force", "Holes under its pad"};
    pp_html_cards(out,
                  h->plan_given ? "Clamps as given"
                  : r->holddown_judgement->plan_found
                      ? "Extra hold-down found (not proven the fewest)"
                      : "Extra hold-down tried; it does not seat every hole",
                  heads, 4);
    for (size_t i = 0; i < h->clamp_count; i++) {
        const pp_clamp *c = &h->plan[i];
        pp_text_print(out, "<tr><td data-label=\"%s\">%zu", heads[0], i + 1);
        if (c->name) pp_text_add(out, ": "), pp_markup_add(out, c->name);
        if (c->edge_stop) pp_text_add(out, " (edge stop)");
        next_cell(out, heads[1]);
        pp_html_place(out, r, c->x, c->y);
        next_cell(out, heads[2]);
        pp_people_force(out, r->job->units, c->force);
        next_cell(out, heads[3]);
        for (size_t k = 0; k < c->block_count && k < 12; k++) {
            if (k) pp_text_add(out, ", ");
            pp_markup_add(out, r->files->nominal.name[c->blocks[k]]);
        }
        if (c->block_count > 12) pp_text_print(out, " and %zu more", c->block_count - 12);
        if (!c->block_count) pp_text_add(out, "none");
        pp_text_add(out, "</td></tr>\n");
    }
    pp_html_end_table(out);
}

static void shim_rows(pp_text *out, const pp_results *r)
{
    const pp_holddown *h = r->holddown;
    static const char *const heads[] = {"Shim", "x, y", "Gap to fill", "Stock", "Where"};
    pp_html_cards(out, "A second plan: shims instead of clamps", heads, 5);
    for (size_t i = 0; i < h->shim_count; i++) {
        const pp_shim *s = &h->shims[i];
        pp_text_print(out, "<tr><td data-label=\"%s\">%zu", heads[0], i + 1);
        next_cell(out, heads[1]);
        pp_html_place(out, r, s->x, s->y);
        next_cell(out, heads[2]);
        pp_people_length(out, r->job->units, s->gap);
        next_cell(out, heads[3]);
        pp_people_size(out, r->job->units, s->thickness);
        for (size_t k = 0; s->piece_count > 1 && k < s->piece_count; k++) {
            pp_text_add(out, k ? " + " : " = ");
            pp_people_size(out, r->job->units, s->pieces[k]);
        }
        next_cell(out, heads[4]);
        if (s->pin >= 0) {
            pp_text_print(out, "on pin %ld", s->pin + 1);
        } else if (s->hole != PP_NONE && r->files) {
            pp_text_add(out, "under hole ");
            pp_markup_add(out, r->files->nominal.name[s->hole]);
            pp_text_add(out, ": take it out before drilling it");
        }
        pp_text_add(out, "</td></tr>\n");
    }
    pp_html_end_table(out);
    if (h->shims_unfit)
        pp_text_print(out, "<p>%zu pins stand clear by less than the thinnest shim.</p>\n",
                      h->shims_unfit);
}

static void hold_counts(pp_text *out, const char *name, const pp_hold_counts *c)
{
    pp_html_term(out, name);
    pp_text_print(out, "%zu seated, %zu seat under the foot, %zu need hold-down, %zu sag",
                  c->seated, c->seats_under_foot, c->needs_holddown, c->sags);
    if (c->uncertain)
        pp_text_print(out, "; %zu of them are uncertain, for thickness or mesh", c->uncertain);
    pp_html_end_term(out);
}

static void flattening_term(pp_text *out, const pp_results *r)
{
    const pp_holddown *h = r->holddown;
    pp_html_term(out, "Stress of pressing it flat");
    pp_people_stress(out, r->job->units, h->flattening_stress);
    if (h->flattening_high > h->flattening_low) {
        pp_text_add(out, " (");
        pp_people_stress(out, r->job->units, h->flattening_low);
        pp_text_add(out, " to ");
        pp_people_stress(out, r->job->units, h->flattening_high);
        pp_text_add(out, ")");
    }
    if (pp_given(r->job->plate.yield_strength)) {
        pp_text_add(out, " (yield ");
        pp_people_stress(out, r->job->units, r->job->plate.yield_strength);
        pp_text_add(out, ")");
    }
    pp_html_end_term(out);
}

/* Of a plate that stays on what it stands on */
static void release_terms(pp_text *out, const pp_results *r)
{
    const pp_holddown *h = r->holddown;
    pp_html_term(out, "Largest tilt after release");
    pp_people_slope(out, r->job->units, h->largest_tilt);
    pp_html_end_term(out);
    pp_html_length_term(out, r, "Largest shift at the surface", h->largest_shift);
    pp_html_length_term(out, r, "Largest spring-back at break-through", h->largest_spring_back);
}

static void holddown_facts(pp_text *out, const pp_results *r)
{
    const pp_holddown *h = r->holddown;
    const pp_holddown_judgement *j = r->holddown_judgement;
    pp_text_add(out, "<dl class=\"facts\">\n");
    hold_counts(out, h->plan_given ? "Holes, without clamps" : "Holes", &j->counts);
    pp_html_length_term(out, r, "Gap accepted with the foot down", h->gap_limit);
    pp_html_force_term(out, r, "Foot force", h->foot_force);
    pp_html_length_term(out, r, "Largest gap at rest on the supports", h->largest_gap);
    pp_html_length_term(out, r, "Largest gap under the foot", h->largest_gap_under_foot);
    pp_html_force_term(out, r, "Largest force to close", h->largest_force_to_close);
    pp_html_force_term(out, r, "Largest support force", h->largest_support_force);
    pp_html_term(out, "Weight of the plate");
    pp_people_mass(out, r->job->units, h->plate_weight);
    if (pp_given(h->weight_drilled)) {
        pp_text_add(out, ", once drilled ");
        pp_people_mass(out, r->job->units, h->weight_drilled);
    }
    pp_text_add(out, " (not a lifting calculation)");
    pp_html_end_term(out);
    flattening_term(out, r);
    if (!pp_hold_tipping(h)) release_terms(out, r);
    if (h->with_shims) hold_counts(out, "With the shims in", &j->with_shims);
    if (h->turned_over.gaps) hold_counts(out, "Turned over", &j->turned);
    pp_text_add(out, "</dl>\n");
}

static void holddown_cautions(pp_text *out, const pp_holddown_words *words)
{
    pp_text_add(out, "<ul class=\"cautions\">\n");
    for (size_t i = 0; i < words->note_count; i++) {
        pp_text_add(out, "<li>");
        pp_markup_add(out, words->notes[i]);
        pp_text_add(out, "</li>\n");
    }
    for (size_t i = 0; i < sizeof HOLD_CAUTIONS / sizeof *HOLD_CAUTIONS; i++)
        pp_text_print(out, "<li>%s</li>\n", HOLD_CAUTIONS[i]);
    pp_text_add(out, "</ul>\n");
}

static void say(pp_text *out, const char *tag, const pp_text *words)
{
    if (!words->data || !words->length) return;
    pp_text_print(out, "<p%s>", tag);
    pp_markup_add(out, words->data);
    pp_text_add(out, "</p>\n");
}

/* Clamp beside clamp: where they stand nearest to each other on the machine */
static void turned_rows(pp_text *out, const pp_results *r)
{
    static const char *const heads[] = {"This way up",       "x, y", "Force", "Holes",
                                        "The other face up", "x, y", "Force", "Holes"};
    const pp_holddown *h = r->holddown;
    pp_clamp_pair pairs[PP_CLAMP_PAIRS_MAX];
    size_t count = pp_clamps_pair(h, pairs);
    if (!count) return;
    pp_html_cards(out, "Clamp for clamp: those that stand nearest to each other on the machine",
                  heads, 8);
    for (size_t i = 0; i < count; i++) {
        const size_t which[] = {pairs[i].laid, pairs[i].turned};
        const pp_clamp *const plans[] = {h->plan, h->turned_over.plan.clamps};
        pp_text_add(out, "<tr>");
        for (int side = 0; side < 2; side++) {
            const char *const *head = heads + 4 * side;
            pp_text_print(out, "<td data-label=\"%s\">", head[0]);
            if (which[side] == SIZE_MAX) {
                pp_text_add(out, "none</td><td></td><td></td><td></td>");
                continue;
            }
            const pp_clamp *c = &plans[side][which[side]];
            pp_text_print(out, "%zu", which[side] + 1);
            next_cell(out, head[1]);
            pp_html_place(out, r, c->x, c->y);
            next_cell(out, head[2]);
            pp_people_force(out, r->job->units, c->force);
            next_cell(out, head[3]);
            pp_text_print(out, "%zu</td>", c->block_count);
        }
        pp_text_add(out, "</tr>\n");
    }
    pp_html_end_table(out);
}

static void what_to_do(pp_text *out, const pp_results *r, pp_text *words)
{
    const pp_holddown *h = r->holddown;
    pp_text_clear(words);
    pp_holddown_headline_say(words, r);
    say(out, " class=\"do\"", words);
    pp_text_add(out, "<p>");
    pp_markup_add(out, r->holddown_words->advice);
    pp_text_add(out, "</p>\n");
    pp_text_clear(words);
    pp_turned_say(words, r);
    say(out, "", words);
    pp_text_clear(words);
    pp_machine_time_say(words, r->job->units, &h->time);
    say(out, "", words);
}

pp_status pp_html_holddown_section(pp_text *out, const pp_results *r, pp_memory *memory,
                                   pp_error *error)
{
    const pp_holddown *h = r->holddown;
    pp_text words = {0};
    pp_html_section(out, "holddown",
                    pp_is_holddown_study(r) ? "What to do" : "Hold-down before drilling");
    what_to_do(out, r, &words);
    out->failed |= words.failed;
    pp_text_free(&words);
    PP_TRY(pp_html_hold_maps(out, r, memory, error));
    if (h->clamp_count) clamp_rows(out, r);
    turned_rows(out, r);
    if (h->shim_count) shim_rows(out, r);
    holddown_facts(out, r);
    holddown_cautions(out, r->holddown_words);
    pp_html_end_section(out);
    return PP_OK;
}

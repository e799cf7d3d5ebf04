/* The page's sections on a stack of layers, before and after drilling, and on the roughing pass. */
#include <math.h>

#include "answer/for_people.h"
#include "answer/stack_words.h"
#include "report/page/html_parts.h"
#include "report/page/html_stack_pictures.h"
#include "report/page/markup.h"

/* Building blocks ------------------------------------------------------------------------ */

static void table(pp_text *out, const char *caption, const char *const *heads, size_t count)
{
    pp_text_print(out, "<div class=\"scroll\"><table><caption>%s</caption><thead><tr>", caption);
    for (size_t i = 0; i < count; i++) pp_text_print(out, "<th scope=\"col\">%s</th>", heads[i]);
    pp_text_add(out, "</tr></thead><tbody>\n");
}

static void end_table(pp_text *out) { pp_text_add(out, "</tbody></table></div>\n"); }

static void next_cell(pp_text *out) { pp_text_add(out, "</td><td>"); }

static void term(pp_text *out, const char *word) { pp_text_print(out, "<dt>%s</dt><dd>", word); }

static void end_term(pp_text *out) { pp_text_add(out, "</dd>\n"); }

static void force_or_cap(pp_text *out, const pp_results *r, double force)
{
    if (pp_given(force))
        pp_people_force(out, r->job->units, force);
    else
        pp_text_add(out, "above the cap");
}

/* A term with one number ... */
static void length_term(pp_text *out, const pp_results *r, const char *word, double length)
{
    term(out, word);
    pp_people_length(out, r->job->units, length);
    end_term(out);
}

static void force_term(pp_text *out, const pp_results *r, const char *word, double force)
{
    term(out, word);
    force_or_cap(out, r, force);
    end_term(out);
}

static void share_term(pp_text *out, const char *word, double share)
{
    term(out, word);
    pp_people_share(out, share);
    end_term(out);
}

/* ... with a length and its limit ... */
static void limit_term(pp_text *out, const pp_results *r, const char *word, double length,
                       double limit)
{
    term(out, word);
    pp_people_against(out, r->job->units, length, limit);
    pp_text_add(out, " (");
    pp_people_limit(out, r->job->units, limit);
    pp_text_add(out, ")");
    end_term(out);
}

/* ... and with two lengths, and what is said behind them. */
static void pair_term(pp_text *out, const pp_results *r, const char *word, double first,
                      const char *between, double second, const char *behind)
{
    term(out, word);
    pp_people_length(out, r->job->units, first);
    pp_text_add(out, between);
    pp_people_length(out, r->job->units, second);
    pp_text_add(out, behind);
    end_term(out);
}

static void sentence(pp_text *out, const char *tag, const char *text)
{
    pp_text_print(out, "<%s>", tag);
    pp_markup_add(out, text);
    pp_text_print(out, "</%s>\n", tag);
}

static void notes(pp_text *out, size_t count, const char *const *list)
{
    pp_text_add(out, "<ul class=\"cautions\">\n");
    for (size_t i = 0; i < count; i++) sentence(out, "li", list[i]);
    pp_text_add(out, "</ul>\n");
}

/* Before drilling ------------------------------------------------------------------------ */

static void stack_facts(pp_text *out, const pp_results *r)
{
    const pp_stack *s = r->stack;
    const pp_hold_counts *c = &r->stack_judgement->counts;
    pp_length_unit units = r->job->units;
    pp_text_add(out, "<dl class=\"facts\">\n");
    term(out, "Holes");
    pp_text_print(out, "%zu: %zu seated, %zu seat under the foot, %zu need more, %zu sag", s->count,
                  c->seated, c->seats_under_foot, c->needs_holddown, c->sags);
    end_term(out);
    term(out, "Foot force");
    pp_people_force(out, units, s->foot_force);
    end_term(out);
    length_term(out, r, "Largest gap between layers, at rest", s->largest_gap);
    limit_term(out, r, "Under the foot (limit)", s->largest_gap_under_foot, s->gap_limit);
    limit_term(out, r, "Largest gap to the support under the foot (limit)",
               s->largest_table_gap_under_foot, s->table_gap_limit);
    force_term(out, r, "Force that closes every gap between layers", s->largest_force_to_close);
    force_term(out, r, "Force that closes the gap to the support too",
               s->largest_force_to_close_all);
    term(out, "Largest tilt of the top layer");
    pp_people_slope(out, units, s->largest_tilt);
    end_term(out);
    pp_text_add(out, "</dl>\n");
}

static void layer_rows(pp_text *out, const pp_results *r)
{
    static const char *const heads[] = {"Place", "Layer", "Lies",           "Thickness",
                                        "Mass",  "Bow",   "Known to \u00b1"};
    const pp_stack *s = r->stack;
    table(out, "The layers as listed, the bottom one first", heads, 7);
    for (size_t k = 0; k < s->layer_count; k++) {
        const pp_stack_layer *layer = &s->layers[k];
        pp_text_print(out, "<tr><td>%zu</td><td>", k + 1);
        pp_markup_add(out, layer->name);
        pp_text_print(out, "</td><td>%s", layer->way.over ? "turned over" : "as surveyed");
        if (layer->way.turn_deg != 0) {
            pp_text_add(out, ", ");
            pp_people_angle(out, layer->way.turn_deg);
        }
        next_cell(out);
        pp_people_size(out, r->job->units, layer->thickness);
        next_cell(out);
        pp_people_mass(out, r->job->units, layer->weight);
        next_cell(out);
        if (layer->surveyed)
            pp_people_length(out, r->job->units, layer->bow);
        else
            pp_text_add(out, "not surveyed, reckoned flat");
        next_cell(out);
        pp_people_length(out, r->job->units, 2 * layer->standard_error);
        pp_text_add(out, "</td></tr>\n");
    }
    end_table(out);
}

static void interface_rows(pp_text *out, const pp_results *r)
{
    static const char *const heads[] = {"Between", "Largest gap at rest", "Under the foot",
                                        "Mean at rest"};
    const pp_stack *s = r->stack;
    table(out, "Gaps at the holes, from below", heads, 4);
    for (size_t k = 0; k < s->layer_count; k++) {
        const pp_stack_interface *f = &s->interfaces[k];
        double limit = k ? s->gap_limit : s->table_gap_limit;
        pp_text_add(out, "<tr><td>");
        pp_markup_add(out, f->below ? f->below : "the support");
        pp_text_add(out, " and ");
        pp_markup_add(out, f->above);
        next_cell(out);
        pp_people_against(out, r->job->units, f->largest_gap, limit);
        next_cell(out);
        pp_people_against(out, r->job->units, f->largest_gap_under_foot, limit);
        next_cell(out);
        pp_people_length(out, r->job->units, f->mean_gap);
        pp_text_add(out, "</td></tr>\n");
    }
    end_table(out);
}

static void arranged_row(pp_text *out, const pp_results *r, const char *name,
                         const pp_stack_arranged *a)
{
    pp_text order = {0};
    pp_stack_order_words(&order, r->job, a->way, r->stack->layer_count);
    pp_text_print(out, "<tr><td>%s</td><td>", name);
    pp_markup_add(out, order.data);
    if (order.failed) out->failed = true;
    pp_text_free(&order);
    next_cell(out);
    pp_people_against(out, r->job->units, a->largest_gap_under_foot, r->stack->gap_limit);
    next_cell(out);
    force_or_cap(out, r, a->largest_force_to_close);
    pp_text_add(out, "</td></tr>\n");
}

static void order_part(pp_text *out, const pp_results *r)
{
    static const char *const heads[] = {"", "Bottom first", "Largest gap left between layers",
                                        "Force to close between layers"};
    const pp_stack *s = r->stack;
    if (s->searched) {
        table(out,
              s->all_tried ? "Order, face and turn: every arrangement allowed was reckoned"
                           : "Order, face and turn: the best found",
              heads, 4);
        arranged_row(out, r, "As listed", &s->listed);
        if (s->found_better) arranged_row(out, r, "Found", &s->found);
        end_table(out);
        pp_text_print(out, "<p class=\"note\">%zu arrangements were reckoned.</p>\n", s->evaluated);
    }
    pp_text_print(out, "<div class=\"slip\"><h3>Card for the floor: %s</h3>\n<ol>\n",
                  s->found_better ? "the arrangement found" : "as listed");
    for (size_t k = 0; k < r->stack_words->card_count; k++)
        sentence(out, "li", r->stack_words->card[k]);
    pp_text_add(out, "</ol></div>\n");
}

static void clamp_rows(pp_text *out, const pp_results *r)
{
    static const char *const heads[] = {"Clamp", "x", "y", "Force"};
    const pp_stack_plan *plan = &r->stack->plan;
    if (!plan->count) return;
    table(out,
          plan->found ? "Clamps for the layers as listed, that stay on while every hole is drilled"
                      : "The best clamps found for the layers as listed: not enough",
          heads, 4);
    for (size_t i = 0; i < plan->count; i++) {
        pp_text_print(out, "<tr><td>%zu</td><td>", i + 1);
        pp_people_size(out, r->job->units, plan->clamp[i].x);
        next_cell(out);
        pp_people_size(out, r->job->units, plan->clamp[i].y);
        next_cell(out);
        pp_people_force(out, r->job->units, plan->clamp[i].force);
        pp_text_add(out, "</td></tr>\n");
    }
    end_table(out);
}

static void stack_section(pp_text *out, const pp_results *r)
{
    pp_html_section(out, "stack", "The stack before drilling");
    if (r->drilled) sentence(out, "p", r->stack_words->advice); /* else it stands at the head */
    stack_facts(out, r);
    pp_html_stack_section_picture(out, r);
    pp_html_stack_force_map(out, r);
    pp_html_stack_gap_maps(out, r);
    interface_rows(out, r);
    layer_rows(out, r);
    clamp_rows(out, r);
    order_part(out, r);
    notes(out, r->stack_words->note_count, r->stack_words->notes);
    pp_html_end_section(out);
}

/* After drilling ------------------------------------------------------------------------- */

static const char *how_words(pp_layer_how how)
{
    return how == PP_LAYER_MEASURED  ? "measured"
           : how == PP_LAYER_BETWEEN ? "between measured layers"
                                     : "beyond them: not known";
}

static void drilled_rows(pp_text *out, const pp_results *r)
{
    static const char *const heads[] = {"Place", "Layer", "How",        "Largest position",
                                        "Hole",  "Out",   "Not proven", "Verdict"};
    const pp_drilled *d = r->drilled;
    table(out, "The layers, the bottom one first", heads, 8);
    for (size_t k = 0; k < d->layer_count; k++) {
        const pp_drilled_layer *layer = &r->drilled_judgement->layers[k];
        pp_text_print(out, "<tr><td>%zu</td><td>", k + 1);
        pp_markup_add(out, r->job->layers[d->layer[k]].name);
        pp_text_print(out, "</td><td>%s</td><td>", how_words(d->how[k]));
        pp_people_against(out, r->job->units, layer->largest, layer->limit);
        next_cell(out);
        if (layer->largest_hole != PP_NONE)
            pp_markup_add(out, r->files->nominal.name[layer->largest_hole]);
        pp_text_print(out, "</td><td>%zu</td><td>%zu</td><td class=\"said v%d\">%s</td></tr>\n",
                      layer->out, layer->not_proven, (int)layer->verdict,
                      pp_verdict_words(layer->verdict));
    }
    end_table(out);
}

static void check_rows(pp_text *out, const pp_results *r)
{
    static const char *const heads[] = {"Layer", "Holes", "Mean offset x, y",
                                        "Chance of that by luck", "Wander at mid height (95 %)"};
    const pp_drilled *d = r->drilled;
    if (!d->check_count) return;
    table(out, "Measured layers between against the straight line", heads, 5);
    for (size_t i = 0; i < d->check_count; i++) {
        const pp_drilled_check *c = &d->checks[i];
        pp_text_add(out, "<tr><td>");
        pp_markup_add(out, r->job->layers[d->layer[c->place]].name);
        pp_text_print(out, "</td><td>%zu</td><td>", c->holes);
        pp_people_length(out, r->job->units, c->slip_x);
        pp_text_add(out, ", ");
        pp_people_length(out, r->job->units, c->slip_y);
        next_cell(out);
        pp_people_share(out, c->slip_p);
        next_cell(out);
        pp_people_length(out, r->job->units, c->wander_upper);
        pp_text_add(out, "</td></tr>\n");
    }
    end_table(out);
}

static void drilled_section(pp_text *out, const pp_results *r)
{
    pp_html_section(out, "drilled", "The layers after drilling");
    sentence(out, "p", r->drilled_judgement->basis);
    drilled_rows(out, r);
    check_rows(out, r);
    pp_text_add(out, "<ul class=\"cautions\">\n");
    if (r->drilled->wanders_more)
        pp_text_add(out, "<li>Holes wander more than [stack] uncertainty_wander states: what the "
                         "measured layer shows was used.</li>\n");
    if (r->drilled->lost)
        pp_text_print(out,
                      "<li>%zu holes are missing in one of the outer lists, and so not known in "
                      "any layer between.</li>\n",
                      r->drilled->lost);
    if (r->job->holes.align == PP_ALIGN_BEST_FIT)
        pp_text_add(out, "<li>Each list was laid on the pattern by best fit: a lean that all holes "
                         "have in common can't be seen.</li>\n");
    pp_text_add(out, "<li>A layer nobody measured is judged by the straight line between the outer "
                     "ones and always with its uncertainty against the maker; its diameters are "
                     "not judged.</li>\n</ul>\n");
    pp_html_end_section(out);
}

/* Roughing ------------------------------------------------------------------------------- */

static void expected_term(pp_text *out, const char *word, double holes)
{
    term(out, word);
    if (pp_given(holes))
        pp_text_add_fixed(out, holes, holes < 9.95 ? 3 : 0);
    else
        pp_text_add(out, "\u2013");
    end_term(out);
}

static void roughing_section(pp_text *out, const pp_results *r)
{
    const pp_roughing *s = r->roughing;
    pp_html_section(out, "roughing", "Is the roughing pass enough?");
    pp_text_add(out, "<dl class=\"facts\">\n");
    term(out, "Holes measured");
    pp_text_print(out,
                  "%zu of %zu: %zu undersize, %zu in the remainder (%zu of all may), %zu "
                  "oversize",
                  s->measured, s->holes, s->undersize, s->in_remainder, s->remainder_allowed,
                  s->oversize);
    end_term(out);
    pair_term(out, r, "Diameters held against", s->lower, " to ", s->upper, "");
    pair_term(out, r, "Mean and standard deviation", s->mean, ", ", s->deviation, "");
    pair_term(out, r, "Tolerance interval", s->tolerance_low, " to ", s->tolerance_high,
              s->tolerance_inside ? ", inside the limits" : ", not inside the limits");
    share_term(out, "Share outside, at most, without a model", s->share_outside_bound);
    share_term(out, "Probability that the whole plate conforms", s->probability);
    expected_term(out, "Undersize expected of those not measured", s->expected_undersize);
    expected_term(out, "Oversize expected", s->expected_oversize);
    share_term(out, "Chance of such a sample from one normal spread", s->normal_p);
    pp_text_add(out, "</dl>\n");
    notes(out, r->roughing_words.note_count, r->roughing_words.notes);
    pp_html_end_section(out);
}

void pp_html_stack_sections(pp_text *out, const pp_results *results)
{
    if (results->stack) stack_section(out, results);
    if (results->drilled) drilled_section(out, results);
    if (results->roughing) roughing_section(out, results);
}

#include "answer/turned_words.h"

#include <math.h>

#include "answer/clamp_words.h"

/* Pairs ----------------------------------------------------------------------------------- */

/* The two that are nearest of those without a partner; false when one side has none left. */
static bool take_nearest(size_t laid_count, const pp_clamp *laid, const size_t *partner,
                         size_t turned_count, const pp_clamp *turned, const bool *taken, size_t *a,
                         size_t *b)
{
    double least = INFINITY;
    for (size_t i = 0; i < laid_count; i++)
        for (size_t k = 0; k < turned_count; k++) {
            if (partner[i] != SIZE_MAX || taken[k]) continue;
            double apart = hypot(laid[i].x - turned[k].x, laid[i].y - turned[k].y);
            if (apart < least) least = apart, *a = i, *b = k;
        }
    return least < INFINITY;
}

size_t pp_clamps_pair(const pp_holddown *s, pp_clamp_pair pairs[PP_CLAMP_PAIRS_MAX])
{
    const pp_plan *over = &s->turned_over.plan;
    size_t partner[PP_CLAMPS_MAX], count = 0, a = 0, b = 0;
    bool taken[PP_CLAMPS_MAX] = {false};
    if (!s->clamp_count || !over->clamp_count) return 0;
    for (size_t i = 0; i < s->clamp_count; i++) partner[i] = SIZE_MAX;
    while (take_nearest(s->clamp_count, s->plan, partner, over->clamp_count, over->clamps, taken,
                        &a, &b)) {
        partner[a] = b;
        taken[b] = true;
    }
    for (size_t i = 0; i < s->clamp_count; i++) pairs[count++] = (pp_clamp_pair){i, partner[i]};
    for (size_t k = 0; k < over->clamp_count; k++)
        if (!taken[k]) pairs[count++] = (pp_clamp_pair){SIZE_MAX, k};
    return count;
}

/* Words ----------------------------------------------------------------------------------- */

static void say_plans(pp_text *text, const pp_results *r)
{
    const pp_holddown *h = r->holddown;
    const pp_turned_over *over = &h->turned_over;
    pp_length_unit units = r->job->units;
    if (!over->plan.found) {
        pp_text_add(text, over->plan_bends
                              ? "The other face up, clamps that close the gaps would bend the "
                                "plate too far."
                              : "The other face up, no clamps were found that bring every hole "
                                "within the gap limit.");
        return;
    }
    pp_text_add(text, "The other face up it takes ");
    pp_clamps_say(text, units, over->plan.clamp_count, over->plan.clamps);
    pp_text_print(text, ", in %zu set-up%s", over->setups.count,
                  over->setups.count == 1 ? "" : "s");
    if (h->clamp_count) {
        pp_text_add(text, "; this way up ");
        pp_clamps_say(text, units, h->clamp_count, h->plan);
        pp_text_print(text, ", in %zu", h->setups.count);
    } else {
        pp_text_add(text, "; this way up no clamps were found that do");
    }
    pp_text_add(text, ".");
}

void pp_turned_say(pp_text *text, const pp_results *r)
{
    const pp_holddown *h = r->holddown;
    const pp_holddown_judgement *j = r->holddown_judgement;
    const pp_turned_over *over = &h->turned_over;
    size_t failing = j->turned.needs_holddown + j->turned.sags;
    if (j->counts.needs_holddown + j->counts.sags == 0) return; /* as laid it will do */
    if (!over->valid) {
        pp_text_add(text, "The other face up was not studied: the outline does not lie on itself "
                          "turned over.");
        return;
    }
    if (failing == 0)
        pp_text_add(text, "The other face up every hole seats with the foot alone.");
    else if (over->plan_wanted)
        say_plans(text, r);
    else
        pp_text_print(text, "The other face up %zu hole%s would not be held by the foot alone.",
                      failing, failing == 1 ? "" : "s");
    if (j->turn_over) pp_text_add(text, " That is clearly better: turn it over.");
}

#include "holddown/advice.h"

#include <math.h>

#include "base/compare.h"
#include "base/text.h"

static const double STRESS_SHARE = 0.3;   /* of the yield strength: bent further, do not clamp */
static const double HELD_SHARE = 1.0 / 3; /* of gap_limit: a bracket wider than that matters */
enum { NOTES_MAX = 24 };

static double largest_sags(const pp_holddown *r)
{
    return (double)(r->counts.sags + r->solid.counts.sags + r->drilled.counts.sags);
}

static const char *advice_without_clamps(const pp_holddown *r)
{
    if (largest_sags(r) > 0) return "Holes sag between the pins; add pins or move them closer.";
    if (r->rocks)
        return "The plate rocks: it stands on a few of its pins and tips as the foot goes about. "
               "Shim the pins it is clear of, or move pins under where it rests.";
    if (r->leaning_count)
        return "Holes will lean by more than tilt_limit once the plate is let go: use less foot "
               "force, shim the gap so that the plate isn't bent, or turn it over.";
    return "Every hole seats as the plate is laid, but not in its other state, solid or drilled; "
           "add pins or foot force.";
}

static const char *advice_of(bool bends, bool beyond_limit, const pp_holddown *r)
{
    if (r->ready) return "Every hole seats with the foot alone; no extra hold-down is needed.";
    if (r->counts.needs_holddown == 0) return advice_without_clamps(r);
    if (bends)
        return "Do not clamp: the clamps that close the gaps would bend the plate beyond three "
               "tenths of its yield strength; shim the gap, level the plate or accept the tilt.";
    if (r->counts.sags > 0 && r->plan_found)
        return "Clamps as planned close the gaps, but other holes sag between the pins; add pins "
               "there.";
    if (r->plan_found) return "Clamps as planned bring every hole within the gap limit.";
    if (beyond_limit)
        return "Do not clamp: one clamp would need more than its force limit to close the gap "
               "under it; shim the gap, level the plate or accept the tilt.";
    return "Do not clamp: no clamps were found that bring every hole within the gap limit; shim "
           "the gap, level the plate or accept the tilt.";
}

/* Whether letting touched supports lift or not changes gaps under the foot by much */
static bool footing_matters(const pp_holddown *r)
{
    for (size_t i = 0; i < r->count; i++)
        if (fabs(r->holes[i].held_gap_under_foot - r->holes[i].gap_under_foot) >
            HELD_SHARE * r->gap_limit)
            return true;
    return false;
}

typedef struct notes {
    const char **list;
    size_t count;
} notes;

static void note_if(notes *n, bool applies, const char *sentence)
{
    if (applies) n->list[n->count++] = sentence;
}

/* A sentence of its own; false when memory ran out. */
static bool note_text(notes *n, const char *text)
{
    if (text) n->list[n->count++] = text;
    return text;
}

static bool note_survey(const pp_holddown *r, pp_arena *keep, notes *n)
{
    bool kept = note_text(
        n, pp_text_kept(keep,
                        "The survey's points stand %.0f mm apart on average: it can't show waves "
                        "shorter than %.0f mm, and a buckle of that size may lie between them.",
                        r->shortest_wave / 2, r->shortest_wave));
    if (r->points_wanted)
        kept &= note_text(n, pp_text_kept(keep,
                                          "So few points for this plate: survey it with about "
                                          "%zu (common practice, no source).",
                                          r->points_wanted));
    return kept;
}

static bool note_plan(const pp_holddown *r, const pp_plan *plan, pp_arena *keep, notes *n)
{
    note_if(n, plan->pins_overloaded && !plan->found,
            "Clamps that close the gaps were found, but a support pin would carry more than "
            "pin_load_limit under them: more pins, or stronger ones, would do.");
    note_if(n, plan->given_up,
            "The search for clamps was given up after a fixed effort, for the plate changes its "
            "contact almost everywhere: name places with clamp_candidates to narrow it.");
    if (!r->plan_found || plan->redraws == 0) return true;
    bool enough = plan->holds * 20 >= plan->redraws * 19;
    return note_text(n, pp_text_kept(keep,
                                     "Surveyed again with its own noise, the plan holds in %zu of "
                                     "%zu cases%s; the worst leaves a gap of %.2f mm.",
                                     plan->holds, plan->redraws,
                                     enough ? "" : ", which is less than 19 of 20",
                                     plan->redraw_worst));
}

static bool note_stress(const pp_job *job, const pp_holddown *r, pp_arena *keep, notes *n)
{
    double limit = STRESS_SHARE * job->plate.yield_strength;
    if (!(r->flattening_low <= limit && r->flattening_high > limit)) return true;
    return note_text(
        n, pp_text_kept(keep,
                        "The survey's noise leaves it open whether flattening the plate bends it "
                        "beyond three tenths of its yield strength: %.0f MPa, between %.0f and "
                        "%.0f.",
                        r->flattening_stress, r->flattening_low, r->flattening_high));
}

static bool note_phases(const pp_holddown *r, pp_arena *keep, notes *n)
{
    if (r->support != PP_SUPPORT_PINS) return true;
    note_if(n, !r->drilled.valid,
            "Drilled, the plate sags more between the pins; how much is not known, for its "
            "pattern or ligament efficiency is outside the tables of effective constants.");
    if (!r->solid.valid || !r->drilled.valid) return true;
    return note_text(
        n, pp_text_kept(keep,
                        "Sag between the pins under the foot: %.2f mm solid, %.2f mm drilled; "
                        "largest load of a pin %.1f kN solid, %.1f kN drilled.",
                        r->solid.sag, r->drilled.sag, r->solid.largest_support_force / 1000,
                        r->drilled.largest_support_force / 1000));
}

static bool write_notes(const pp_job *job, const pp_holddown *r, const pp_plan *plan,
                        pp_arena *keep, notes *n)
{
    note_if(n, r->pin_overloaded, "A support pin carries more than pin_load_limit.");
    note_if(n, r->rocks && r->counts.needs_holddown > 0,
            "The plate rocks: it stands on a few of its pins and tips as the foot goes about.");
    note_if(n, r->leaning_count > 0,
            "Holes lean by more than tilt_limit once the plate is let go.");
    note_if(n, r->touch_gap_grown,
            "The supports that touch within touch_gap could not have carried the plate as "
            "surveyed; the tolerance was widened until they could.");
    note_if(n, r->gap_limit_small,
            "gap_limit is below what survey and contact points resolve (the touching tolerance, or "
            "0.05 mm): forces to close it are rough.");
    note_if(n, r->laid == PP_LAID_ON_SUPPORTS && footing_matters(r),
            "How the supports shared the weight when surveyed matters here, and was not measured: "
            "a survey on three points would settle it.");
    note_if(n, r->underside_used, "The underside as surveyed is what lies on the supports.");
    note_if(n, !r->underside_used && !pp_given(job->plate.thickness_variation),
            "No thickness_variation is given: what it adds to the gaps is not shown.");
    note_if(n, r->softened_share > 0,
            "The drilled part is reckoned with effective elastic constants (ASME VIII-1 UHX-11, "
            "from memory).");
    if (r->forces_low &&
        !note_text(n, pp_text_kept(keep,
                                   "The plate is out of flat both ways by more than half its "
                                   "thickness: it stiffens as it is flattened, and forces are "
                                   "higher than computed, by about %.0f %% (one-term estimate "
                                   "after von Karman).",
                                   100 * (r->stiffening - 1))))
        return false;
    return note_plan(r, plan, keep, n) && note_survey(r, keep, n) && note_stress(job, r, keep, n) &&
           note_phases(r, keep, n);
}

pp_status pp_hold_advise(const pp_job *job, const pp_plan *plan, pp_memory *memory,
                         pp_holddown *study, pp_error *error)
{
    notes n = {0};
    PP_TAKE(n.list, &memory->keep, NOTES_MAX);
    double yield = job->plate.yield_strength;
    bool bends = pp_given(yield) && pp_more_than(study->plan_stress, STRESS_SHARE * yield);
    if (bends) {
        study->plan_found = false;
        study->clamp_count = 0;
        study->plan_worst_gap = study->largest_gap_under_foot;
    }
    study->clamping_advised = study->counts.needs_holddown > 0 && study->plan_found;
    study->advice = advice_of(bends, plan->beyond_limit, study);
    if (!write_notes(job, study, plan, &memory->keep, &n)) return pp_fail_memory(error);
    study->note_count = n.count;
    study->notes = n.list;
    return PP_OK;
}

#include "holddown/advice.h"

#include <math.h>

static const double STRESS_SHARE = 0.3;   /* of the yield strength: bent further, do not clamp */
static const double HELD_SHARE = 1.0 / 3; /* of gap_limit: a bracket wider than that matters */
enum { NOTES_MAX = 12 };

static const char *advice_of(bool bends, bool beyond_limit, const pp_holddown *r)
{
    if (r->ready) return "Every hole seats with the foot alone; no extra hold-down is needed.";
    if (r->counts.needs_holddown == 0)
        return "Holes sag between the pins; add pins or move them closer.";
    if (bends)
        return "Do not clamp: flattening the plate would bend it beyond three tenths of its yield "
               "strength; shim the gap, level the plate or accept the tilt.";
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

static void write_notes(const pp_job *job, size_t outside, const pp_holddown *r, notes *n)
{
    note_if(n, r->forces_low,
            "The plate is out of flat both ways by more than half its thickness: it stiffens as it "
            "is flattened, and forces are higher than computed.");
    note_if(n, r->pin_overloaded, "A support pin carries more than pin_load_limit.");
    note_if(n, r->touch_gap_grown,
            "The supports that touch within touch_gap could not have carried the plate as "
            "surveyed; the tolerance was widened until they could.");
    note_if(n, r->gap_limit_small,
            "gap_limit is below what survey and contact points resolve (the touching tolerance, or "
            "0.05 mm): forces to close it are rough.");
    note_if(n, r->laid == PP_LAID_ON_SUPPORTS && footing_matters(r),
            "How the supports shared the weight when surveyed matters here, and was not measured: "
            "a survey on three points would settle it.");
    note_if(n, outside > 0,
            "Holes beyond the plate's outline were reckoned at the nearest place of the surface.");
    note_if(n, r->underside_used, "The underside as surveyed is what lies on the supports.");
    note_if(n, !r->underside_used && !pp_given(job->plate.thickness_variation),
            "No thickness_variation is given: what it adds to the gaps is not shown.");
    note_if(n, r->softened_share > 0,
            "The drilled part is reckoned with effective elastic constants (ASME VIII-1 UHX-11, "
            "from memory).");
}

pp_status pp_hold_advise(const pp_job *job, bool beyond_limit, size_t outside, pp_memory *memory,
                         pp_holddown *study, pp_error *error)
{
    notes n = {0};
    PP_TAKE(n.list, &memory->keep, NOTES_MAX);
    double yield = job->plate.yield_strength;
    bool bends = pp_given(yield) && study->flattening_stress > STRESS_SHARE * yield;
    study->clamping_advised = study->counts.needs_holddown > 0 && study->plan_found && !bends;
    study->advice = advice_of(bends, beyond_limit, study);
    write_notes(job, outside, study, &n);
    study->note_count = n.count;
    study->notes = n.list;
    return PP_OK;
}

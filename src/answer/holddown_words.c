#include "answer/holddown_words.h"

#include <math.h>

#include "answer/clamp_words.h"
#include "answer/for_people.h"
#include "base/text.h"
#include "holddown/clamp_scale.h"
#include "holddown/curvature.h"

enum { NOTES_MAX = 32 };
/* thicknesses, as far as one term was tried against all of von Karman's equations */
static const double ESTIMATED_TO = 3;

static const char *advice_without_clamps(const pp_holddown_judgement *j)
{
    if (j->counts.sags + j->solid.sags > 0)
        return "Holes sag between the pins; add pins or move them closer.";
    if (j->drilled.sags > 0)
        return "Once drilled, the plate sags between the pins; add pins or move them closer.";
    if (j->balances && j->rocks)
        return "The plate rocks: it balances on a line of two places that touch and can lie either "
               "way. Shim it where it is clear, or move pins under where it rests.";
    if (j->rocks)
        return "The plate rocks: it stands on a few of its pins and tips as the foot goes about. "
               "Shim the pins it is clear of, or move pins under where it rests.";
    if (j->leaning)
        return "Holes will lean by more than tilt_limit once the plate is let go: use less foot "
               "force, shim the gap so that the plate isn't bent, or turn it over.";
    return "Every hole seats as the plate is laid, but not in its other state, solid or drilled; "
           "add pins or foot force.";
}

/* Of clamps as the job gives them */
static const char *advice_on_given(const pp_holddown_judgement *j)
{
    if (j->given_bends)
        return "The clamps as given bend the plate beyond three tenths of its yield strength; use "
               "less force, shim the gap, level the plate or accept the tilt.";
    if (j->given_too_strong)
        return "A clamp as given presses harder than clamp_force_limit allows; use less force, "
               "more clamps, or give the limit that your clamps have.";
    if (!j->plan_found)
        return "The clamps as given do not hold every hole; see which set-up is not held, and move "
               "or add clamps, or leave out [clamp] to have some looked for.";
    if (j->counts.needs_holddown + j->counts.sags == 0)
        return "The clamps as given hold every hole; the foot alone would close every gap as well.";
    return "The clamps as given bring every hole within the gap limit.";
}

static const char *advice_of(const pp_holddown *r, const pp_holddown_judgement *j)
{
    if (j->pins_in_the_way)
        return "A drill would meet a support pin: move the pins that the pin sheet names as too "
               "near to a hole before anything is drilled.";
    if (r->plan_given) return advice_on_given(j);
    if (!r->clamp_count && pp_hold_tipping(r) > 0)
        return "The foot tips the plate off what it stands on: move supports out to where it "
               "presses, add some there, or hold the plate down on the other side.";
    if (j->ready && !j->plan_holds)
        return "Every hole seats with the foot alone, but only just: another survey of this plate "
               "may well say that some do not. Press harder, or measure again more finely.";
    if (j->ready) return "Every hole seats with the foot alone; no extra hold-down is needed.";
    if (j->counts.needs_holddown == 0) return advice_without_clamps(j);
    if (r->plan_bends)
        return "Do not clamp: the clamps that close the gaps would bend the plate beyond three "
               "tenths of its yield strength; shim the gap, level the plate or accept the tilt.";
    if (j->counts.sags > 0 && j->plan_found)
        return "Clamps as planned close the gaps, but other holes sag between the pins; add pins "
               "there.";
    if (j->plan_found) return "Clamps as planned bring every hole within the gap limit.";
    if (r->plan_beyond_limit)
        return "Do not clamp: one clamp would need more than its force limit to close the gap "
               "under it; shim the gap, level the plate or accept the tilt.";
    return "Do not clamp: no clamps were found that bring every hole within the gap limit; shim "
           "the gap, level the plate or accept the tilt.";
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

/* Keeps and frees the words; false when memory ran out. */
static bool note_words(notes *n, pp_text *words, pp_arena *keep)
{
    const char *text =
        words->failed ? NULL : pp_text_kept(keep, "%s", words->data ? words->data : "");
    pp_text_free(words);
    return note_text(n, text);
}

/* To a millimetre, or a hundredth of an inch */
static void add_about(pp_text *t, pp_length_unit units, double mm)
{
    if (units == PP_INCH)
        pp_people_place(t, units, mm);
    else
        pp_text_print(t, "%.0f mm", mm);
}

static bool note_survey(const pp_job *job, const pp_holddown *r, const pp_holddown_judgement *j,
                        pp_arena *keep, notes *n)
{
    pp_text t = {0};
    pp_text_add(&t, "The survey's points stand ");
    add_about(&t, job->units, r->shortest_wave / 2);
    pp_text_add(&t, " apart on average: it can't show waves shorter than ");
    add_about(&t, job->units, r->shortest_wave);
    pp_text_add(&t, ", and a buckle of that size may lie between them.");
    bool kept = note_words(n, &t, keep);
    if (j->survey_sparse)
        kept &= note_text(n, pp_text_kept(keep,
                                          "So few points for this plate: survey it with about "
                                          "%zu (common practice, no source).",
                                          r->points_wanted));
    return kept;
}

/* As a gauge is set, never below what it takes */
static void say_stronger_foot(pp_text *text, pp_length_unit units, double force)
{
    pp_text_add(text, "A foot of ");
    pp_people_force(text, units, pp_clamp_force_at(pp_clamp_place_of(force)));
    pp_text_add(text, " would need no clamps");
}

static bool note_stronger_foot(const pp_job *job, const pp_holddown *r, pp_arena *keep, notes *n)
{
    if (r->time.valid || !pp_given(r->time.stronger_foot)) return true; /* said with the hours */
    pp_text t = {0};
    say_stronger_foot(&t, job->units, r->time.stronger_foot);
    pp_text_add(&t, ", by the largest force that closes a gap.");
    return note_words(n, &t, keep);
}

static bool note_plan(const pp_job *job, const pp_holddown *r, const pp_holddown_judgement *j,
                      pp_arena *keep, notes *n)
{
    note_if(n, r->plan_given,
            "The clamps were solved as given; whether they hold in other surveys of the plate with "
            "the same noise was not tried.");
    note_if(n, r->plan_given && r->support == PP_SUPPORT_PINS,
            "With the clamps on, the plate was solved in one state only, solid or, with "
            "ligament_softening, drilled.");
    note_if(
        n, j->given_unsupported > 0,
        "A clamp stands farther from the nearest pin than the plate is thick: it bends the plate "
        "down between pins.");
    note_if(n, r->plan_overloads,
            "Clamps that close the gaps were found, but a support pin would carry more than "
            "pin_load_limit under them: more pins, or stronger ones, would do.");
    note_if(n, r->plan_given_up,
            "The search for clamps was given up after a fixed effort, for the plate changes its "
            "contact almost everywhere: name places with clamp_candidates to narrow it.");
    bool alone = j->ready && !r->plan_given;
    if ((!j->plan_found && !alone) || r->plan_redraws == 0) return true;
    pp_text t = {0};
    pp_text_print(&t, "Surveyed again with its own noise, %s in %zu of %zu cases%s; the ",
                  alone ? "the foot alone holds every hole" : "the plan holds", r->plan_holds,
                  r->plan_redraws, j->plan_holds ? "" : ", which is less than 19 of 20");
    pp_text_add(&t, "worst leaves a gap of ");
    pp_people_length(&t, job->units, r->plan_redraw_worst);
    pp_text_add(&t, ".");
    return note_words(n, &t, keep);
}

static bool note_stress(const pp_job *job, const pp_holddown *r, const pp_holddown_judgement *j,
                        pp_arena *keep, notes *n)
{
    if (j->flattening != PP_NOT_PROVEN) return true;
    pp_text t = {0};
    pp_text_add(&t,
                "The survey's noise leaves it open whether flattening the plate bends it beyond "
                "three tenths of its yield strength: ");
    pp_people_stress(&t, job->units, r->flattening_stress);
    pp_text_add(&t, ", between ");
    pp_people_stress(&t, job->units, r->flattening_low);
    pp_text_add(&t, " and ");
    pp_people_stress(&t, job->units, r->flattening_high);
    pp_text_add(&t, ".");
    return note_words(n, &t, keep);
}

static bool note_phases(const pp_job *job, const pp_holddown *r, pp_arena *keep, notes *n)
{
    if (r->support != PP_SUPPORT_PINS) return true;
    note_if(n, !r->drilled.valid,
            "Drilled, the plate sags more between the pins; how much is not known, for its "
            "pattern or ligament efficiency is outside the tables of effective constants.");
    if (!r->solid.valid || !r->drilled.valid || pp_hold_tipping(r) > 0) return true;
    pp_text t = {0};
    pp_text_add(&t, "Sag between the pins under the foot: ");
    pp_people_length(&t, job->units, r->solid.sag);
    pp_text_add(&t, " solid, ");
    pp_people_length(&t, job->units, r->drilled.sag);
    pp_text_add(&t, " drilled; largest load of a pin ");
    pp_people_force(&t, job->units, r->solid.largest_support_force);
    pp_text_add(&t, " solid, ");
    pp_people_force(&t, job->units, r->drilled.largest_support_force);
    pp_text_add(&t, " drilled.");
    return note_words(n, &t, keep);
}

static bool note_thickness(const pp_job *job, const pp_holddown *r, pp_arena *keep, notes *n)
{
    const pp_thickness_readings *t = &r->thickness;
    bool given = pp_given(job->plate.thickness_variation);
    const char *counts = given          ? "thickness_variation as given stands."
                         : t->count < 2 ? "one reading says nothing of how it varies."
                                        : "what they scatter counts as thickness_variation.";
    pp_text w = {0};
    pp_length_unit units = job->units;
    if (t->terms) {
        pp_text_print(&w, "Thickness place by place: a %s through %zu readings of ",
                      t->terms > 3 ? "quadric" : "plane", t->count);
        pp_people_length(&w, units, t->low);
        pp_text_add(&w, " to ");
        pp_people_length(&w, units, t->high);
        pp_text_add(&w, ", which scatter about it by ");
        pp_people_length(&w, units, t->variation);
        pp_text_print(&w, ". Stiffness follows it with its cube, %s, the weight its mean, ",
                      r->underside_used ? "the underside is as surveyed"
                                        : "the underside is the top as surveyed less it");
        pp_people_length(&w, units, t->plate_mean);
        pp_text_print(&w, "; %s Between the readings it may vary more.", counts);
    } else {
        pp_text_print(&w, "%zu readings of the thickness, ", t->count);
        pp_people_length(&w, units, t->low);
        pp_text_add(&w, " to ");
        pp_people_length(&w, units, t->high);
        pp_text_add(&w, ": too few or too much in one line to tell it place by place (six would do "
                        "for a plane, twelve for a curved face), so the plate counts as ");
        pp_people_size(&w, units, job->plate.thickness);
        pp_text_print(&w, " thick everywhere; %s", counts);
    }
    return note_words(n, &w, keep);
}

static bool note_mesh(const pp_holddown *r, const pp_holddown_judgement *j, pp_arena *keep,
                      notes *n)
{
    const pp_mesh_check *m = &r->mesh_check;
    return note_text(
        n, pp_text_kept(keep,
                        "Forces that close a gap are known to about %.0f %% here: on a mesh of %zu "
                        "cells the worst moves from %.3g to %.3g kN%s. mesh_uncertainty in "
                        "holddown.csv says so hole by hole.",
                        ceil(100 * m->moves), m->cells, m->force / 1000, m->finer_force / 1000,
                        j->mesh_unsettled ? ", and has not settled there" : ""));
}

static bool note_stiffening(const pp_job *job, const pp_holddown *r, pp_arena *keep, notes *n)
{
    pp_text w = {0};
    double thicknesses = r->double_height / job->plate.thickness;
    pp_text_print(
        &w,
        "The plate is out of flat both ways by %.2g times its thickness: beyond half of it "
        "a plate also stretches as it is flattened. ",
        thicknesses);
    if (!pp_given(r->stiffening)) {
        pp_text_add(&w, "Forces are higher and gaps under the foot wider than computed; for this "
                        "outline there is no estimate by how much, and the linear plate is not to "
                        "be trusted: try on the plate what it takes.");
        return note_words(n, &w, keep);
    }
    double first = pp_curvature_on_the_way(r->stiffening, 1),
           peak = pp_curvature_peak(r->stiffening);
    pp_text_print(&w,
                  "Forces are higher than computed, by about %.0f %% at the first push and %.0f %% "
                  "half way, and as computed where all of it comes flat",
                  100 * (first - 1), 100 * (pp_curvature_on_the_way(r->stiffening, 0.5) - 1));
    if (peak > 1.01)
        pp_text_print(&w, ", which takes up to %.2g times as much on the way there", peak);
    pp_text_add(&w, " (one-term estimate after von Karman). A foot at one place leaves much of the "
                    "dome standing: count on the higher figures.");
    if (thicknesses > ESTIMATED_TO)
        pp_text_add(&w, " A dome this high is beyond that estimate too: try on the plate what it "
                        "takes.");
    return note_words(n, &w, keep);
}

static bool note_tipping(const pp_holddown *r, pp_arena *keep, notes *n)
{
    size_t tipping = pp_hold_tipping(r);
    if (!tipping) return true;
    return note_text(n, pp_text_kept(keep,
                                     "Under the foot at %zu of %zu holes the plate tips off what "
                                     "it stands on%s: gaps, tilts and sags there only say that it "
                                     "does not stay.",
                                     tipping, r->count, r->clamp_count ? " without clamps" : ""));
}

static bool note_leaning(const pp_job *job, const pp_holddown *r, const pp_holddown_judgement *j,
                         pp_arena *keep, notes *n)
{
    if (!j->leaning) return true;
    pp_text t = {0};
    pp_text_print(&t, "%zu of %zu holes lean by more than tilt_limit once the plate is let go",
                  j->leaning, r->count);
    if (!pp_hold_tipping(r)) {
        pp_text_add(&t, ": by ");
        pp_people_slope(&t, job->units, r->largest_tilt);
        pp_text_add(&t, " at most, the limit is ");
        pp_people_slope(&t, job->units, r->tilt_limit);
    }
    pp_text_add(&t, ".");
    return note_words(n, &t, keep);
}

/* Why there are none, though some are at hand. */
static void note_shims(const pp_job *job, const pp_holddown *r, const pp_holddown_judgement *j,
                       notes *n)
{
    bool wanted = job->holddown.shim_stock.count > 0 && j->counts.needs_holddown > 0;
    if (!wanted || r->shim_count > 0) return;
    note_if(n, r->shims_unfit > 0,
            "No shims: where they would help the plate stands clear by less than the thinnest.");
    note_if(n, r->shims_unfit == 0,
            "No shims: foot and thrust move the plate by no more than gap_limit anywhere, so that "
            "they would change nothing.");
}

static bool write_notes(const pp_job *job, const pp_holddown *r, const pp_holddown_judgement *j,
                        pp_arena *keep, notes *n)
{
    note_if(n, j->pin_load == PP_DOES_NOT_CONFORM,
            "A support pin carries more than pin_load_limit.");
    note_if(n, j->balances,
            "The plate rocks: its centre of gravity stands over the line of two places that touch, "
            "and it can lie either way. The gaps are those of one way: mark which side is down, "
            "keep it so while drilling, or shim the other side.");
    note_if(n, j->rocks && !j->balances && j->counts.needs_holddown > 0,
            "The plate rocks: it stands on a few of its pins and tips as the foot goes about.");
    if (!note_tipping(r, keep, n) || !note_leaning(job, r, j, keep, n)) return false;
    note_if(n, r->touch_gap_grown,
            "The supports that touch within touch_gap could not have carried the plate as "
            "surveyed; the tolerance was widened until they could.");
    note_if(n, j->gap_limit_small,
            "gap_limit is below what survey and contact points resolve (the touching tolerance, or "
            "0.05 mm): forces to close it are rough.");
    if (j->mesh_rough && !note_mesh(r, j, keep, n)) return false;
    note_if(n, j->sharing_matters,
            "How the supports shared the weight when surveyed matters here, and was not measured: "
            "a survey on three points would settle it.");
    note_if(n, r->underside_used, "The underside as surveyed is what lies on the supports.");
    if (r->thickness.count > 0 && !note_thickness(job, r, keep, n)) return false;
    note_if(n,
            !r->underside_used && !pp_given(job->plate.thickness_variation) &&
                r->thickness.count < 2,
            "No thickness_variation is given: what it adds to the gaps is not shown.");
    note_if(n, r->softened_share > 0,
            "The drilled part is reckoned with effective elastic constants (ASME VIII-1 UHX-11, "
            "from memory).");
    if (j->forces_low && !note_stiffening(job, r, keep, n)) return false;
    note_shims(job, r, j, n);
    if (!note_plan(job, r, j, keep, n) || !note_stronger_foot(job, r, keep, n) ||
        !note_survey(job, r, j, keep, n) || !note_stress(job, r, j, keep, n) ||
        !note_phases(job, r, keep, n))
        return false;
    n->list[n->count++] = PP_SAFETY_WORDS;
    return true;
}

pp_status pp_holddown_say(const pp_job *job, const pp_holddown *study,
                          const pp_holddown_judgement *judged, pp_memory *memory,
                          pp_holddown_words *words, pp_error *error)
{
    notes n = {0};
    PP_TAKE(n.list, &memory->keep, NOTES_MAX);
    if (!write_notes(job, study, judged, &memory->keep, &n)) return pp_fail_memory(error);
    *words = (pp_holddown_words){
        .advice = advice_of(study, judged), .note_count = n.count, .notes = n.list};
    return PP_OK;
}

static void add_clamps(pp_text *t, pp_length_unit units, const pp_holddown *h)
{
    pp_text_add(t, "Drill with ");
    pp_clamps_force_say(t, units, h->clamp_count, h->plan);
    pp_text_print(t, " in %zu set-up%s, ", h->setups.count, h->setups.count == 1 ? "" : "s");
}

static size_t not_held(const pp_hold_counts *c) { return c->needs_holddown + c->sags; }

/* Why there are no set-ups */
static const char *why_not_alone(const pp_holddown *h, const pp_holddown_judgement *j)
{
    if (pp_hold_tipping(h) > 0)
        return "Do not drill: under the foot the plate tips off what it stands on.";
    if (not_held(&j->counts) + not_held(&j->solid) == 0 && not_held(&j->drilled) > 0)
        return "Do not drill yet: every hole is held while the plate is solid, but not once it is "
               "drilled.";
    if (not_held(&j->counts) + not_held(&j->solid) + not_held(&j->drilled) > 0)
        return "Do not drill yet: with the foot alone not every hole is held, and no clamps are "
               "planned.";
    if (j->leaning)
        return "Do not drill yet: every hole is held, but some would lean too far once the plate "
               "is let go.";
    return "Do not drill yet: every hole is held, but the plate rocks on its supports.";
}

/* Why nothing is drilled by this study; NULL: it is. */
static const char *refusal_of(const pp_holddown *h, const pp_holddown_judgement *j)
{
    if (j->pins_in_the_way) return "Do not drill: a pin is in a drill's way.";
    if (h->plan_given && !j->ready) return "Do not drill with the clamps as given.";
    if (!h->setups.count) return why_not_alone(h, j);
    for (size_t k = 0; k < h->setups.count; k++)
        if (j->setups[k] == PP_DOES_NOT_CONFORM)
            return "Do not drill yet: the clamps planned leave holes that are not held.";
    return NULL;
}

static void say_this_way_up(pp_text *t, const pp_results *r)
{
    const pp_holddown *h = r->holddown;
    const pp_holddown_judgement *j = r->holddown_judgement;
    const char *refusal = refusal_of(h, j);
    if (refusal) {
        pp_text_add(t, refusal);
        return;
    }
    if (h->clamp_count)
        add_clamps(t, r->job->units, h);
    else
        pp_text_add(t, "Drill under the foot alone, ");
    pp_text_add(t, "the foot at ");
    pp_people_force(t, r->job->units, h->foot_force);
    pp_text_add(t, ".");
}

/* Where turning it over spares all clamps, that is the advice, and comes first. */
static bool better_turned(const pp_results *r)
{
    const pp_holddown_judgement *j = r->holddown_judgement;
    return !r->holddown->plan_given && j->turn_over && not_held(&j->turned) == 0;
}

void pp_holddown_headline_say(pp_text *t, const pp_results *r)
{
    bool turned = better_turned(r);
    if (turned)
        pp_text_add(t, "Turn the plate over: there the foot alone holds every hole. This way up: ");
    size_t from = t->length;
    say_this_way_up(t, r);
    if (turned && !t->failed) t->data[from] = 'd'; /* "Drill", "Do not drill" */
}

/* As they are printed: the parts of a sum are to add up to what stands before them. */
static double in_tenths(double hours) { return round(10 * hours) / 10; }

static void add_hours(pp_text *text, double hours)
{
    pp_text_add_fixed(text, hours, 1);
    pp_text_add(text, " h");
}

void pp_machine_time_say(pp_text *text, pp_length_unit units, const pp_machine_time *time)
{
    if (!time->valid) return;
    pp_text_add(text, "Machine time ");
    add_hours(text, in_tenths(time->drilling) + in_tenths(time->setting_up));
    pp_text_add(text, ": drilling ");
    add_hours(text, time->drilling);
    if (time->setting_up > 0) pp_text_add(text, ", setting up "), add_hours(text, time->setting_up);
    pp_text_add(text, ".");
    if (pp_given(time->roughing) && pp_given(time->finishing)) {
        pp_text_add(text, " In two passes: roughing ");
        add_hours(text, time->roughing);
        pp_text_add(text, ", finishing ");
        add_hours(text, time->finishing);
        pp_text_add(text, ".");
    }
    if (time->tools) pp_text_print(text, " Tools: %zu.", time->tools);
    if (pp_given(time->stronger_foot)) {
        pp_text_add(text, " ");
        say_stronger_foot(text, units, time->stronger_foot);
        if (time->reclamping > 0)
            pp_text_add(text, " and save re-clamping, "), add_hours(text, time->reclamping);
        pp_text_add(text, ".");
    }
}

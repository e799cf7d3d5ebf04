#include <stdio.h>

#include "base/text.h"
#include "rules/bundle_rules.h"

enum { CAUTIONS_MAX = 24, HINTS_MAX = 8 };

typedef struct writing {
    const pp_bundle *b;
    pp_memory *memory;
    pp_bundle_judgement *out;
    const char **caution;
    bool failed;
} writing;

static void warn(writing *w, const char *text)
{
    if (!text) w->failed = true;
    if (text && w->out->caution_count < CAUTIONS_MAX) w->caution[w->out->caution_count++] = text;
}

static const char *number(size_t count, const char *one, const char *many, char text[48])
{
    snprintf(text, 48, "%zu %s", count, count == 1 ? one : many);
    return text;
}

/* ---- beside the verdict ---- */

static void write_basis(writing *w)
{
    const pp_bundle *b = w->b;
    char tubes[48];
    const char *where = b->judged == PP_JUDGED_AS_SET_OUT ? "the plates as set out"
                        : b->judged == PP_JUDGED_BEST
                            ? "the plates where the worst tube has most room"
                            : "the plates where the fewest tubes fail";
    w->out->basis = pp_text_kept(
        &w->memory->keep, "%s through %zu plates, %s; %s",
        number(b->mates.tubes.count, "tube", "tubes", tubes), b->set->plate_count, where,
        b->set->accept == PP_ACCEPT_BENDING ? "tubes that bend their way through conform"
                                            : "only tubes that pass straight conform");
    if (!w->out->basis) w->failed = true;
}

static void write_decision(writing *w)
{
    w->out->decision_rule =
        w->out->guard > 0
            ? "guarded (ISO 14253-1:2017): a tube conforms when its margin keeps the clearance by "
              "at least 1.645 standard uncertainties, does not conform when it misses it by more, "
              "and is not proven between; stress and push are judged plainly"
            : "simple: measurement uncertainty not taken into account";
}

static void list_judged(writing *w)
{
    const pp_bundle *b = w->b;
    pp_bundle_judgement *j = w->out;
    j->judged[j->judged_count++] = "holes that mate";
    j->judged[j->judged_count++] = "straight passage";
    bool bending = b->set->accept == PP_ACCEPT_BENDING;
    bool stress = pp_given(b->set->tube.yield_strength), push = pp_given(b->set->push_limit);
    if (bending && stress)
        j->judged[j->judged_count++] = "bending stress";
    else
        j->not_judged_texts[j->not_judged_count++] = "bending stress";
    if (bending && push)
        j->judged[j->judged_count++] = "push";
    else
        j->not_judged_texts[j->not_judged_count++] = "push";
}

/* ---- cautions ---- */

/* How many more there are than are said. */
static void warn_of_more(writing *w, size_t count)
{
    if (count > HINTS_MAX)
        warn(w, pp_text_kept(&w->memory->keep, "%zu more remarks on plates are not repeated here",
                             count - HINTS_MAX));
}

/* First of all: such a plate spoils every figure of the set. */
static void warn_of_turned(writing *w)
{
    const pp_bundle *b = w->b;
    size_t hints = 0;
    for (size_t p = 0; p < b->set->plate_count; p++) {
        const pp_plate_mates *m = &b->mates.plate[p];
        const char *name = b->set->plates[p].name;
        if (!m->looks_turned || hints++ >= HINTS_MAX) continue;
        warn(w, m->turn_hint
                    ? pp_text_kept(&w->memory->keep,
                                   "plate %s looks turned or mirrored: most of its holes lie "
                                   "more than half a pitch from the tubes they are named for; "
                                   "to put them in place, %s",
                                   name, m->turn_hint)
                    : pp_text_kept(&w->memory->keep,
                                   "plate %s looks turned: most of its holes lie more than "
                                   "half a pitch from the tubes they are named for, yet at the "
                                   "places of others; check its view, turn and hole names",
                                   name));
    }
    warn_of_more(w, hints);
}

static void warn_of_unlisted(writing *w)
{
    const pp_bundle *b = w->b;
    size_t hints = 0;
    for (size_t p = 0; p < b->set->plate_count; p++) {
        const pp_plate_mates *m = &b->mates.plate[p];
        if (m->has_nominal || b->set->plates[p].role != PP_ROLE_BAFFLE || hints++ >= HINTS_MAX)
            continue;
        const char *more = "";
        if (m->perhaps)
            more = pp_text_kept(&w->memory->keep,
                                "; %zu tubes have none although all their neighbours have one",
                                m->perhaps);
        warn(w, more ? pp_text_kept(&w->memory->keep,
                                    "plate %s has no nominal list: a hole that was not drilled "
                                    "in it cannot be seen%s",
                                    b->set->plates[p].name, more)
                     : NULL);
    }
    warn_of_more(w, hints);
}

/* Most sets are read on one face throughout: one sentence for all plates. */
static void warn_of_one_face(writing *w)
{
    const pp_bundle *b = w->b;
    size_t plates = 0;
    pp_text t = {0};
    for (size_t p = 0; p < b->set->plate_count; p++) {
        const pp_plate_mates *m = &b->mates.plate[p];
        if (!m->one_face) continue;
        pp_text_print(&t, "%s%s (%zu of %zu)", plates++ ? ", " : "", b->set->plates[p].name,
                      m->one_face, m->holes);
    }
    if (plates)
        warn(w, t.failed ? NULL
                         : pp_text_kept(&w->memory->keep,
                                        "holes were read on one face only, both edges take it and "
                                        "a lean is not seen: plate%s %s",
                                        plates == 1 ? "" : "s", t.data));
    pp_text_free(&t);
}

static void warn_of_set(writing *w)
{
    const pp_bundle *b = w->b;
    size_t fixed = 0, unsolved = 0;
    for (size_t p = 0; p < b->set->plate_count; p++)
        fixed += !(b->play[p].radius > 0 || b->play[p].angle > 0);
    if (b->any_play && !fixed)
        warn(w, "no plate is fixed: the set as a whole floats, and the moves are against its own "
                "place");
    if (b->any_play && b->set->placement == PP_PLACE_AS_SET_OUT)
        warn(w, "plates have play, but placement = as-set-out was asked for: they are judged "
                "unmoved");
    for (size_t k = 0; k < b->mates.tubes.count; k++)
        unsolved += b->bending && b->tube[k].bends && !b->tube[k].bent.solved;
    if (unsolved)
        warn(w, pp_text_kept(&w->memory->keep,
                             "the bending of %zu tubes did not reach its accuracy; their stress "
                             "and push are estimates",
                             unsolved));
    if (b->bending && b->bent > b->went_in)
        warn(w, pp_text_kept(&w->memory->keep,
                             "the stages of going in were computed for the %zu worst of %zu tubes "
                             "that bend; the others are judged by the final state with 15 %% added",
                             b->went_in, b->bent));
    if (b->set->match == PP_MATCH_PLACES)
        warn(w, "holes were matched by place: a plate turned in error on a symmetric pattern "
                "matches the wrong tubes unseen; names, or one asymmetric mark a plate, show it");
}

/* What holds of every bundle (docs/theory/bundle.md). */
static void warn_of_method(writing *w)
{
    static const char *const always[] = {
        "the tube is taken straight, round and at its largest diameter; plates flat, square to "
        "the tubes and rigid in their plane; edges sharp: chamfers and radii help, burrs, paint "
        "and weld spatter hurt",
        "plates pushed on one at a time shift again under friction: lock the tie rods as placed, "
        "then check a few tubes by hand",
        "this judges whether tubes go through, not the plates: each plate keeps its own verdict "
        "under its own limits",
    };
    for (size_t i = 0; i < sizeof always / sizeof *always; i++) warn(w, always[i]);
    if (w->b->bending)
        warn(w, "friction is a guess (0.15 lubricated to 0.5 dry, common practice, no source), and "
                "the buckling of a tube between hand and first plate is not checked: never stand "
                "in line with a tube that is pushed by a machine. " PP_SAFETY_WORDS);
}

pp_status pp_bundle_words(const pp_bundle *bundle, pp_memory *memory,
                          pp_bundle_judgement *judgement, pp_error *error)
{
    writing w = {.b = bundle, .memory = memory, .out = judgement};
    PP_TAKE(w.caution, &memory->keep, CAUTIONS_MAX);
    write_basis(&w);
    write_decision(&w);
    list_judged(&w);
    warn_of_turned(&w);
    warn_of_unlisted(&w);
    warn_of_one_face(&w);
    warn_of_set(&w);
    warn_of_method(&w);
    judgement->cautions = w.caution;
    return w.failed ? pp_fail_memory(error) : PP_OK;
}

#include "answer/bundle_summary.h"

#include <math.h>

#include "answer/for_people.h"

enum { FACTS_MAX = 16 };
static const double DEGREES = 57.29577951308232;

typedef struct writing {
    const pp_bundle_results *r;
    pp_memory *memory;
    pp_named_text *fact;
    size_t count;
    pp_text text; /* the piece at hand */
    bool failed;
} writing;

static const char *keep(writing *w)
{
    if (w->text.failed) w->failed = true;
    const char *kept =
        w->failed
            ? NULL
            : pp_arena_text(&w->memory->keep, w->text.length ? w->text.data : "", w->text.length);
    if (!kept) w->failed = true;
    w->text.length = 0;
    return kept;
}

static void keep_fact(writing *w, const char *name)
{
    const char *value = keep(w);
    if (value && w->count < FACTS_MAX) w->fact[w->count++] = (pp_named_text){name, value};
}

static const char *tube_name(const writing *w, uint32_t tube)
{
    return w->r->bundle->mates.tubes.name[tube];
}

/* ---- pieces ---- */

void pp_bundle_disc_words(pp_text *text, const pp_bundle *bundle, const pp_decisive *disc)
{
    const pp_mates *m = &bundle->mates;
    uint8_t plate = m->discs.plate[disc->disc];
    bool rear = disc->disc > m->discs.first[disc->tube] && m->discs.plate[disc->disc - 1] == plate;
    pp_text_print(text, "%s hole %s, %s edge (%.0f %%)", bundle->set->plates[plate].name,
                  m->hole_name[m->hole[disc->disc]], rear ? "rear" : "front", 100 * disc->share);
}

static void add_margin(pp_text *text, pp_length_unit units, double margin)
{
    pp_people_length(text, units, fabs(margin));
    pp_text_add(text, margin < 0 ? " too tight" : " to spare");
}

static void add_worst(writing *w, uint32_t tube, double margin)
{
    pp_text_print(&w->text, "%s, ", tube_name(w, tube));
    add_margin(&w->text, w->r->set->units, margin);
}

void pp_bundle_tube_words(pp_text *text, const pp_bundle_results *results, size_t tube)
{
    const pp_bundle *s = results->bundle;
    const pp_bundle_tube *t = &s->tube[tube];
    const pp_tube_judgement *j = &results->judgement->tube[tube];
    pp_length_unit units = results->set->units;
    const char *why = pp_pass_why_words((pp_pass_why)j->why);
    pp_text_add(text, pp_pass_class_words((pp_pass_class)j->class_));
    if (why) pp_text_print(text, ": %s", why);
    if (!t->enough) return;
    pp_text_add(text, "; straight ");
    add_margin(text, units, t->margin);
    if (!t->bends || !s->bending) return;
    pp_text_add(text, "; bent, stress ");
    pp_people_stress(text, units, pp_bundle_stress(s, tube));
    pp_text_add(text, ", push ");
    pp_people_force(text, units, pp_bundle_push(s, tube));
}

/* ---- facts ---- */

static void tell_passing(writing *w)
{
    const pp_bundle_judgement *j = w->r->judgement;
    pp_text_print(&w->text, "%zu straight", j->straight);
    if (w->r->bundle->bending) pp_text_print(&w->text, ", %zu by bending", j->bending);
    pp_text_print(&w->text, ", %zu not", j->not_passing);
    if (j->not_judged)
        pp_text_print(&w->text, ", %zu not judged (fewer than two plates)", j->not_judged);
    keep_fact(w, "tubes that pass");
    if (w->r->set->decision != PP_GUARDED) return;
    pp_text_print(&w->text, "%zu conform, %zu not proven, %zu do not conform", j->conform,
                  j->not_proven, j->not_conform);
    keep_fact(w, "proven");
}

static void tell_mates(writing *w)
{
    const pp_mates *m = &w->r->bundle->mates;
    if (!m->missing_count && !m->stray_count && !m->doubled_count) {
        pp_text_add(&w->text, "every tube has every hole it needs, and no hole is over");
    } else {
        pp_text_print(&w->text, "%zu missing, %zu without a tube, %zu tubes with several holes",
                      m->missing_count, m->stray_count, m->doubled_count);
        for (size_t i = 0; i < m->missing_count && i < 4; i++)
            pp_text_print(&w->text, "%s%s in %s", i ? ", " : "; missing ",
                          tube_name(w, m->missing[i].tube),
                          w->r->set->plates[m->missing[i].plate].name);
        if (m->missing_count > 4) pp_text_add(&w->text, " ...");
    }
    keep_fact(w, "holes");
}

static void tell_set_out(writing *w)
{
    const pp_bundle *s = w->r->bundle;
    if (s->worst_set_out == PP_NONE) return;
    add_worst(w, s->worst_set_out, s->tube[s->worst_set_out].margin_set_out);
    pp_text_print(&w->text, "; %zu tubes pass straight", w->r->judgement->set_out_straight);
    keep_fact(w, "as set out, worst tube");
}

static void tell_placed(writing *w)
{
    const pp_bundle *s = w->r->bundle;
    const pp_placed *p = &s->placed;
    pp_length_unit units = w->r->set->units;
    if (p->none_left) {
        pp_text_add(&w->text, "none within the play lets any tube pass: judged as set out");
        keep_fact(w, "placement");
    }
    if (!s->placed_given) return;
    add_worst(w, p->worst, 2 * p->radius - s->largest_diameter);
    pp_text_print(&w->text, "; %zu tubes pass straight; proven: no placement does better than ",
                  s->placed_straight);
    add_margin(&w->text, units, 2 * p->bound - s->largest_diameter);
    keep_fact(w, "best placement, worst tube");
    if (!p->some_fail) return;
    pp_text_print(&w->text, "%zu found, at least %zu", p->fail_count, p->at_least);
    for (size_t i = 0; i < p->fail_count && i < 8; i++)
        pp_text_print(&w->text, "%s%s", i ? ", " : ": ", tube_name(w, p->fail[i]));
    if (p->fail_count > 8) pp_text_add(&w->text, " ...");
    if (p->beyond_count) pp_text_print(&w->text, "; %zu of them in any placement", p->beyond_count);
    keep_fact(w, "fewest that fail");
}

static void tell_decides(writing *w)
{
    const pp_bundle *s = w->r->bundle;
    if (s->worst == PP_NONE) return;
    const pp_bundle_tube *t = &s->tube[s->worst];
    add_worst(w, s->worst, t->margin);
    for (size_t i = 0; i < t->decisive_count; i++) {
        pp_text_add(&w->text, i ? ", " : "; decided by ");
        pp_bundle_disc_words(&w->text, s, &t->decisive[i]);
    }
    keep_fact(w, "worst tube as judged");
}

static void tell_bending(writing *w)
{
    const pp_bundle *s = w->r->bundle;
    const pp_bundle_judgement *j = w->r->judgement;
    pp_length_unit units = w->r->set->units;
    if (!s->bending || !s->bent || j->largest_push_tube == PP_NONE) return;
    pp_people_stress(&w->text, units, j->largest_stress);
    pp_text_print(&w->text, " in %s", tube_name(w, j->largest_stress_tube));
    keep_fact(w, "largest bending stress");
    double forces = s->set->friction > 0 ? j->largest_push / s->set->friction : NAN;
    pp_people_force(&w->text, units, j->largest_push);
    pp_text_print(&w->text, " for %s at friction %.3g", tube_name(w, j->largest_push_tube),
                  s->set->friction);
    if (!isnan(forces)) {
        pp_text_add(&w->text, "; ");
        pp_people_force(&w->text, units, 0.15 * forces);
        pp_text_add(&w->text, " at 0.15, ");
        pp_people_force(&w->text, units, 0.5 * forces);
        pp_text_add(&w->text, " at 0.5");
    }
    keep_fact(w, "largest push");
    pp_people_force(&w->text, units, j->largest_contact);
    keep_fact(w, "largest contact force");
}

static void tell_tube(writing *w)
{
    pp_length_unit units = w->r->set->units;
    pp_people_size(&w->text, units, w->r->set->tube.diameter);
    pp_text_add(&w->text, " nominal, up to ");
    pp_people_size(&w->text, units, w->r->bundle->largest_diameter);
    if (w->r->set->clearance_minimum > 0) {
        pp_text_add(&w->text, "; clearance wanted ");
        pp_people_size(&w->text, units, w->r->set->clearance_minimum);
    }
    keep_fact(w, "tube");
}

static const char *tell_headline(writing *w)
{
    const pp_bundle_judgement *j = w->r->judgement;
    size_t tubes = w->r->bundle->mates.tubes.count;
    if (j->not_passing)
        pp_text_print(&w->text, "%zu of %zu tubes %s not pass", j->not_passing, tubes,
                      j->not_passing == 1 ? "does" : "do");
    else if (j->not_judged == tubes)
        pp_text_add(&w->text, "no tube could be judged");
    else if (j->not_judged)
        pp_text_print(&w->text, "%zu of %zu tubes could not be judged; the others pass",
                      j->not_judged, tubes);
    else if (j->bending)
        pp_text_print(&w->text, "every tube passes, %zu of %zu by bending", j->bending, tubes);
    else
        pp_text_add(&w->text, "every tube passes straight");
    if (j->not_proven && !j->not_passing)
        pp_text_print(&w->text, "; %zu not surely, as uncertain as the holes are", j->not_proven);
    if (j->wrong_holes)
        pp_text_print(&w->text, "; %zu %s wrong", j->wrong_holes,
                      j->wrong_holes == 1 ? "hole is" : "holes are");
    return keep(w);
}

/* ---- the fitter's lines ---- */

static void add_shift(writing *w, double mm, const char *positive, const char *negative, bool *any)
{
    pp_length_unit units = w->r->set->units;
    int decimals = units == PP_INCH ? 3 : 2;
    double least = pp_unit_mm(units) * (units == PP_INCH ? 5e-4 : 5e-3);
    if (fabs(mm) < least) return;
    if (*any) pp_text_add(&w->text, ", ");
    pp_people_number(&w->text, units, fabs(mm), decimals);
    pp_text_print(&w->text, " %s %s", pp_people_unit(units), mm > 0 ? positive : negative);
    *any = true;
}

static const char *tell_fitter(writing *w, size_t plate)
{
    const pp_bundle *s = w->r->bundle;
    const pp_play *play = &s->play[plate];
    const pp_move *move = &s->move[plate];
    bool any = false;
    if (!(play->radius > 0) && !(play->angle > 0)) {
        pp_text_add(&w->text, "fixed");
        return keep(w);
    }
    add_shift(w, move->dx, "right", "left", &any);
    add_shift(w, move->dy, "up", "down", &any);
    double degrees = move->angle * DEGREES;
    if (fabs(degrees) >= 0.005) {
        pp_text_print(&w->text, "%s", any ? ", " : "");
        pp_text_add_fixed(&w->text, fabs(degrees), 2);
        pp_text_add(&w->text, degrees > 0 ? "\u00b0 counter-clockwise (" : "\u00b0 clockwise (");
        pp_people_number(&w->text, w->r->set->units, fabs(move->angle) * play->rim,
                         w->r->set->units == PP_INCH ? 3 : 2);
        pp_text_print(&w->text, " %s at the outermost hole)", pp_people_unit(w->r->set->units));
        any = true;
    }
    if (!any) pp_text_add(&w->text, "leave as set out");
    return keep(w);
}

static const char *tell_fitter_note(writing *w)
{
    const pp_bundle *s = w->r->bundle;
    if (!s->any_play) {
        pp_text_add(&w->text, "no plate has play: all stand as set out");
    } else if (s->judged == PP_JUDGED_AS_SET_OUT) {
        pp_text_add(&w->text, "the plates are judged as set out: nothing is to be moved");
    } else {
        pp_text_add(&w->text, "Moves from where each plate is set out, seen from the front, where "
                              "the tubes are pushed in; ");
        pp_text_add(&w->text, s->judged == PP_JUDGED_FEWEST
                                  ? "the placement in which the fewest tubes fail, as far as found"
                                  : "the smallest moves that come within 0.001 mm of the best "
                                    "placement, which is proven for the play given");
    }
    return keep(w);
}

pp_status pp_bundle_summary_make(const pp_bundle_results *results, pp_memory *memory,
                                 pp_bundle_summary *summary, pp_error *error)
{
    writing w = {.r = results, .memory = memory};
    pp_bundle_summary out = {0};
    const char **fitter;
    PP_TAKE(w.fact, &memory->keep, FACTS_MAX);
    PP_TAKE(fitter, &memory->keep, results->set->plate_count);
    out.headline = tell_headline(&w);
    tell_passing(&w);
    tell_mates(&w);
    tell_set_out(&w);
    tell_placed(&w);
    tell_decides(&w);
    tell_bending(&w);
    tell_tube(&w);
    for (size_t p = 0; p < results->set->plate_count; p++) fitter[p] = tell_fitter(&w, p);
    out.fitter_note = tell_fitter_note(&w);
    out.facts = w.fact;
    out.fact_count = w.count;
    out.fitter = fitter;
    pp_text_free(&w.text);
    if (w.failed) return pp_fail_memory(error);
    *summary = out;
    return PP_OK;
}

#include "report/bundle/bundle_json.h"

#include <math.h>

#include "answer/paths.h"
#include "report/json/json_build.h"

static const double DEGREES = 57.29577951308232;

typedef struct writing {
    pp_json_builder b;
    const pp_bundle_results *r;
} writing;

static const char *tube_name(const writing *w, uint32_t tube)
{
    return tube == PP_NONE ? NULL : w->r->bundle->mates.tubes.name[tube];
}

static const char *plate_name(const writing *w, size_t plate)
{
    return w->r->set->plates[plate].name;
}

/* ---- parts ---- */

/* plate, hole and edge of a disc, and its share; the first of a plate's two is the front edge. */
static void put_disc(writing *w, json_t *object, const pp_decisive *d)
{
    const pp_mates *m = &w->r->bundle->mates;
    bool rear =
        d->disc > m->discs.first[d->tube] && m->discs.plate[d->disc - 1] == m->discs.plate[d->disc];
    pp_json_text(&w->b, object, "plate", plate_name(w, m->discs.plate[d->disc]));
    pp_json_text(&w->b, object, "hole", m->hole_name[m->hole[d->disc]]);
    pp_json_text(&w->b, object, "edge", rear ? "rear" : "front");
    pp_json_real(&w->b, object, "share", d->share);
}

static void put_deciding(writing *w, json_t *object, const pp_decisive *list, size_t count,
                         bool tubes)
{
    json_t *array = pp_json_array(&w->b, object, "deciding");
    for (size_t i = 0; i < count; i++) {
        json_t *item = pp_json_append_object(&w->b, array);
        if (tubes) pp_json_text(&w->b, item, "tube", tube_name(w, list[i].tube));
        put_disc(w, item, &list[i]);
    }
}

static void put_tubes(writing *w, json_t *object, const char *key, const uint32_t *tube,
                      size_t count)
{
    json_t *array = pp_json_array(&w->b, object, key);
    for (size_t i = 0; i < count; i++) pp_json_append_text(&w->b, array, tube_name(w, tube[i]));
}

static void put_mates(writing *w, json_t *bundle)
{
    const pp_mates *m = &w->r->bundle->mates;
    pp_json_builder *b = &w->b;
    json_t *mates = pp_json_object(b, bundle, "mates");
    json_t *missing = pp_json_array(b, mates, "missing");
    for (size_t i = 0; i < m->missing_count; i++) {
        json_t *pair = json_array();
        pp_json_append(b, missing, pair);
        pp_json_append_text(b, pair, tube_name(w, m->missing[i].tube));
        pp_json_append_text(b, pair, plate_name(w, m->missing[i].plate));
    }
    json_t *stray = pp_json_array(b, mates, "stray");
    for (size_t i = 0; i < m->stray_count; i++) {
        json_t *pair = json_array();
        pp_json_append(b, stray, pair);
        pp_json_append_text(b, pair, plate_name(w, m->stray[i].plate));
        pp_json_append_text(b, pair, m->stray[i].hole);
    }
    json_t *doubled = pp_json_array(b, mates, "doubly_used");
    for (size_t i = 0; i < m->doubled_count; i++) {
        json_t *triple = json_array(), *holes = json_array();
        pp_json_append(b, doubled, triple);
        pp_json_append_text(b, triple, tube_name(w, m->doubled[i].tube));
        pp_json_append_text(b, triple, plate_name(w, m->doubled[i].plate));
        pp_json_append(b, triple, holes);
        for (size_t k = 0; k < m->doubled[i].count; k++)
            pp_json_append_text(b, holes, m->doubled[i].hole[k]);
    }
}

static double margin_of(const writing *w, double radius)
{
    return 2 * radius - w->r->bundle->largest_diameter;
}

static void put_placement(writing *w, json_t *bundle)
{
    const pp_bundle *s = w->r->bundle;
    const pp_placed *p = &s->placed;
    pp_json_builder *b = &w->b;
    json_t *set_out = pp_json_object(b, bundle, "as_set_out");
    bool any = s->worst_set_out != PP_NONE;
    pp_json_real(b, set_out, "worst_margin", any ? s->tube[s->worst_set_out].margin_set_out : NAN);
    pp_json_text(b, set_out, "worst_tube", tube_name(w, s->worst_set_out));
    pp_json_count(b, set_out, "straight", w->r->judgement->set_out_straight);
    put_deciding(w, set_out, s->share_set_out, s->share_count, false);
    put_tubes(w, bundle, "beyond_placement", p->beyond, p->beyond_count);
    if (s->placed_given) {
        json_t *placed = pp_json_object(b, bundle, "placed");
        pp_json_real(b, placed, "worst_margin", margin_of(w, p->radius));
        pp_json_real(b, placed, "bound", margin_of(w, p->bound));
        pp_json_text(b, placed, "worst_tube", tube_name(w, p->worst));
        pp_json_count(b, placed, "straight", s->placed_straight);
        pp_json_real(b, placed, "movement", s->movement);
        put_deciding(w, placed, p->decisive, p->decisive_count, true);
    }
    if (s->placed_given && p->some_fail) {
        json_t *fewest = pp_json_object(b, bundle, "fewest");
        pp_json_count(b, fewest, "fails", p->fail_count);
        pp_json_count(b, fewest, "at_least", p->at_least);
        pp_json_flag(b, fewest, "exact", p->at_least == p->fail_count);
        put_tubes(w, fewest, "tubes", p->fail, p->fail_count);
    }
    static const char *const judged[] = {"as set out", "best", "fewest"};
    pp_json_text(b, bundle, "judged_placement", judged[s->judged]);
}

static void put_counts(writing *w, json_t *bundle)
{
    const pp_bundle_judgement *j = w->r->judgement;
    pp_json_builder *b = &w->b;
    pp_json_count(b, bundle, "passes_straight", j->straight);
    pp_json_count(b, bundle, "passes_by_bending", j->bending);
    pp_json_count(b, bundle, "does_not_pass", j->not_passing);
    pp_json_count(b, bundle, "not_judged", j->not_judged);
    pp_json_count(b, bundle, "not_proven", j->not_proven);
    if (!w->r->bundle->bending) return;
    json_t *bending = pp_json_object(b, bundle, "bending");
    pp_json_count(b, bending, "tubes", w->r->bundle->bent);
    pp_json_count(b, bending, "going_in", w->r->bundle->went_in);
    pp_json_real(b, bending, "largest_stress", j->largest_stress);
    pp_json_text(b, bending, "largest_stress_tube", tube_name(w, j->largest_stress_tube));
    pp_json_real(b, bending, "largest_push", j->largest_push);
    pp_json_text(b, bending, "largest_push_tube", tube_name(w, j->largest_push_tube));
    pp_json_real(b, bending, "largest_contact", j->largest_contact);
}

static void put_plates(writing *w, json_t *bundle)
{
    const pp_bundle *s = w->r->bundle;
    pp_json_builder *b = &w->b;
    json_t *array = pp_json_array(b, bundle, "plates");
    for (size_t p = 0; p < s->set->plate_count; p++) {
        const pp_set_plate *plate = &s->set->plates[p];
        const pp_plate_mates *m = &s->mates.plate[p];
        json_t *object = pp_json_append_object(b, array);
        pp_json_text(b, object, "name", plate->name);
        pp_json_text(b, object, "role", pp_plate_role_name(plate->role));
        pp_json_real(b, object, "front", plate->front);
        pp_json_real(b, object, "thickness", plate->thickness);
        pp_json_count(b, object, "holes", m->holes);
        pp_json_count(b, object, "expected", m->expected);
        pp_json_count(b, object, "missing", m->missing);
        pp_json_count(b, object, "one_face", m->one_face);
        pp_json_flag(b, object, "looks_turned", m->looks_turned);
        pp_json_real(b, object, "play", s->play[p].radius);
        pp_json_real(b, object, "play_angle_deg", s->play[p].angle * DEGREES);
        json_t *move = pp_json_object(b, object, "move");
        pp_json_reals(b, move,
                      PP_NAMED_REALS({"dx", s->move[p].dx}, {"dy", s->move[p].dy},
                                     {"angle_deg", s->move[p].angle * DEGREES}));
    }
}

/* ---- every tube ---- */

static void put_bending(writing *w, json_t *object, size_t tube)
{
    const pp_bundle *s = w->r->bundle;
    const pp_bundle_tube *t = &s->tube[tube];
    const pp_discs *discs = &s->mates.discs;
    pp_json_builder *b = &w->b;
    pp_json_reals(
        b, object,
        PP_NAMED_REALS({"stress", t->bent.stress},
                       {"stress_worst", t->went_in ? t->going_in.stress : NAN},
                       {"push", pp_bundle_push_of(s, t->bent.forces)},
                       {"push_worst", t->went_in ? pp_bundle_push_of(s, t->going_in.forces) : NAN},
                       {"contact", t->bent.contact}, {"energy", t->bent.energy}));
    if (t->force_first == SIZE_MAX) return;
    json_t *array = pp_json_array(b, object, "forces");
    for (size_t i = 0; i < 2 * t->plates; i++) {
        const pp_edge_force *f = &s->force[t->force_first + i];
        if (!f->touches) continue;
        json_t *force = pp_json_append_object(b, array);
        pp_json_text(b, force, "plate", plate_name(w, discs->plate[discs->first[tube] + i]));
        pp_json_text(b, force, "edge", i % 2 ? "rear" : "front");
        pp_json_reals(b, force,
                      PP_NAMED_REALS({"fx", f->fx}, {"fy", f->fy}, {"moment", f->moment}));
    }
}

static void put_each(writing *w, json_t *bundle)
{
    const pp_bundle *s = w->r->bundle;
    pp_json_builder *b = &w->b;
    json_t *array = pp_json_array(b, bundle, "each");
    for (size_t k = 0; k < s->mates.tubes.count; k++) {
        const pp_bundle_tube *t = &s->tube[k];
        const pp_tube_judgement *j = &w->r->judgement->tube[k];
        json_t *object = pp_json_append_object(b, array);
        pp_json_text(b, object, "tube", s->mates.tubes.name[k]);
        pp_json_count(b, object, "plates", t->plates);
        pp_json_reals(b, object,
                      PP_NAMED_REALS({"margin_set_out", t->margin_set_out}, {"margin", t->margin},
                                     {"u", t->u}));
        pp_json_text(b, object, "class", pp_pass_class_words((pp_pass_class)j->class_));
        pp_json_text(b, object, "why", pp_pass_why_words((pp_pass_why)j->why));
        pp_json_text(b, object, "verdict", pp_verdict_words((pp_verdict)j->verdict));
        put_deciding(w, object, t->decisive, t->decisive_count, false);
        if (t->bends && s->bending) put_bending(w, object, k);
    }
}

/* ---- all of it ---- */

static void put_everything(writing *w, json_t *root, const char *set_file)
{
    const pp_bundle_judgement *j = w->r->judgement;
    const pp_bundle *s = w->r->bundle;
    pp_json_builder *b = &w->b;
    pp_json_begin(b, "bundle", root);
    pp_json_text(b, root, "verdict", pp_verdict_words(j->verdict));
    pp_json_text(b, root, "basis", j->basis);
    pp_json_texts(b, root, "judged", j->judged_count, j->judged);
    pp_json_texts(b, root, "not_judged", j->not_judged_count, j->not_judged_texts);
    pp_json_text(b, root, "decision", w->r->set->decision == PP_GUARDED ? "guarded" : "simple");
    pp_json_text(b, root, "decision_rule", j->decision_rule);
    pp_json_texts(b, root, "cautions", j->caution_count, j->cautions);
    pp_json_identification(b, w->r->set->job, root);
    pp_json_inputs(b, w->r->inputs, w->r->input_count, set_file, root);
    json_t *bundle = pp_json_object(b, root, "bundle");
    pp_json_count(b, bundle, "tubes", s->mates.tubes.count);
    pp_json_reals(b, bundle,
                  PP_NAMED_REALS({"diameter", s->set->tube.diameter},
                                 {"largest_diameter", s->largest_diameter},
                                 {"clearance_minimum", s->set->clearance_minimum}));
    put_mates(w, bundle);
    put_placement(w, bundle);
    put_counts(w, bundle);
    put_plates(w, bundle);
    put_each(w, bundle);
}

pp_status pp_bundle_json_write(const pp_bundle_results *results, const char *folder, pp_text *text,
                               pp_error *error)
{
    pp_arena arena = {0};
    writing w = {.r = results};
    if (!folder) folder = pp_path_default_report(results->set->job, &arena);
    const char *set_file = folder ? pp_path_relative(results->set->path, folder, &arena) : NULL;
    json_t *root = set_file ? json_object() : NULL;
    if (root) put_everything(&w, root, set_file);
    pp_status status = root ? pp_json_end(&w.b, root, text, error) : pp_fail_memory(error);
    pp_arena_free(&arena);
    return status;
}

#include "report/comparison/comparison_report.h"

#include <math.h>
#include <string.h>

#include "base/foreign.h"
#include "base/number.h"
#include "report/json/json_build.h"

/* ---- JSON ---- */

static void put_report(pp_json_builder *b, json_t *root, const char *key, const pp_comparison *c,
                       int which)
{
    const pp_kept_report *r = &c->report[which];
    json_t *o = pp_json_object(b, root, key);
    pp_json_text(b, o, c->rounds ? "round" : "folder", c->state[which].name);
    pp_json_text(b, o, "plate_id", r->plate_id);
    pp_json_text(b, o, "stage", r->stage);
    pp_json_text(b, o, "report_number", r->report_number);
    pp_json_text(b, o, "verdict", c->state[which].verdict);
    pp_json_text(b, o, "results_sha256", r->results_sha256);
}

static void put_item(pp_json_builder *b, json_t *items, const pp_compared_item *i)
{
    json_t *o = pp_json_append_object(b, items);
    pp_json_text(b, o, "hole", i->hole);
    if (i->other) pp_json_text(b, o, "other", i->other);
    pp_json_text(b, o, "face", i->face);
    pp_json_text(b, o, "characteristic", pp_compared_words(i->characteristic));
    pp_json_text(b, o, "change", pp_change_words(i->change));
    pp_json_reals(
        b, o,
        PP_NAMED_REALS({"before", i->before}, {"now", i->now}, {"uncertainty", i->uncertainty}));
    if (!isnan(i->uncertainty)) pp_json_flag(b, o, "beyond", i->beyond);
    pp_json_text(b, o, "class_before", i->class_before);
    pp_json_text(b, o, "class_now", i->class_now);
}

static void put_face(pp_json_builder *b, json_t *root, const pp_moved_face *f)
{
    json_t *o = pp_json_object(b, root, "face");
    pp_json_count(b, o, "places", f->places);
    pp_json_reals(
        b, o,
        PP_NAMED_REALS({"rms", f->places ? f->rms : NAN}, {"largest", f->places ? f->largest : NAN},
                       {"x", f->places ? f->at_x : NAN}, {"y", f->places ? f->at_y : NAN},
                       {"rise", f->places ? f->rise : NAN}, {"fall", f->places ? f->fall : NAN},
                       {"uncertainty", f->places ? f->uncertainty : NAN}));
    if (f->turned) pp_json_text(b, o, "would_agree", f->turned);
    pp_json_real(b, o, "flatness_before", f->flatness_before);
    pp_json_real(b, o, "flatness_now", f->flatness_now);
}

/* Limits that are not the same on both sides. */
static void put_limits(pp_json_builder *b, json_t *root, const pp_comparison *c)
{
    json_t *array = pp_json_array(b, root, "limits_changed");
    for (size_t i = 0; i < c->limit_count; i++) {
        const pp_changed_limit *l = &c->limits[i];
        json_t *o = pp_json_append_object(b, array);
        pp_json_text(b, o, "figure", l->figure);
        pp_json_reals(b, o,
                      PP_NAMED_REALS({"lower_before", l->before[0]}, {"upper_before", l->before[1]},
                                     {"lower_now", l->now[0]}, {"upper_now", l->now[1]}));
    }
}

pp_status pp_comparison_json(const pp_comparison *c, pp_text *text, pp_error *error)
{
    pp_json_builder b = {0};
    json_t *root = json_object();
    if (!root) return pp_fail_memory(error);
    pp_json_text(&b, root, "format", "plateproof-comparison");
    pp_json_count(&b, root, "version", 1);
    put_report(&b, root, "before", c, 0);
    put_report(&b, root, "now", c, 1);
    pp_json_flag(&b, root, "same_plate", c->same_plate);
    pp_json_flag(&b, root, "verdict_worse", c->verdict_worse);
    json_t *counts = pp_json_object(&b, root, "changes");
    for (int k = 0; k < PP_CHANGE_KINDS; k++)
        pp_json_count(&b, counts, pp_change_words((pp_change)k), c->count[k]);
    json_t *compared = pp_json_object(&b, root, "compared");
    for (int k = 0; k < PP_COMPARED_KINDS; k++) {
        json_t *o = pp_json_object(&b, compared, pp_compared_words((pp_compared)k));
        pp_json_count(&b, o, "in_both", c->compared[k]);
        pp_json_count(&b, o, "changed", c->moved[k]);
        pp_json_count(&b, o, "uncertainty_not_stated", c->unstated[k]);
    }
    pp_json_count(&b, root, "only_before", c->only[0]);
    pp_json_count(&b, root, "only_now", c->only[1]);
    put_limits(&b, root, c);
    put_face(&b, root, &c->face);
    json_t *items = pp_json_array(&b, root, "items");
    for (size_t i = 0; i < c->item_count; i++) put_item(&b, items, &c->items[i]);
    return pp_json_end(&b, root, text, error);
}

/* ---- CSV ---- */

/* Names of the reports' CSVs are safe already; they are quoted again where they need it. */
static void add_cell(pp_text *text, const char *cell, char behind)
{
    bool plain = !cell || !strpbrk(cell, ",\"\r\n");
    if (!plain) pp_text_add(text, "\"");
    for (const char *c = cell ? cell : ""; *c; c++) {
        if (*c == '"') pp_text_add(text, "\"");
        pp_text_add_bytes(text, c, 1);
    }
    if (!plain) pp_text_add(text, "\"");
    pp_text_add_bytes(text, &behind, 1);
}

pp_status pp_comparison_csv(const pp_comparison *c, pp_text *text, pp_error *error)
{
    pp_text_add(text, "hole,other,face,characteristic,change,before,now,uncertainty,class_before,"
                      "class_now,beyond\n");
    for (size_t k = 0; k < c->item_count; k++) {
        const pp_compared_item *i = &c->items[k];
        add_cell(text, i->hole, ',');
        add_cell(text, i->other, ',');
        add_cell(text, i->face, ',');
        add_cell(text, pp_compared_words(i->characteristic), ',');
        add_cell(text, pp_change_words(i->change), ',');
        const double values[] = {i->before, i->now, i->uncertainty};
        for (int v = 0; v < 3; v++) {
            if (!isnan(values[v])) pp_text_add_number(text, values[v]);
            pp_text_add(text, ",");
        }
        add_cell(text, i->class_before, ',');
        add_cell(text, i->class_now, ',');
        pp_text_add(text, isnan(i->uncertainty) ? "\n" : i->beyond ? "yes\n" : "no\n");
    }
    return text->failed ? pp_fail_memory(error) : PP_OK;
}

pp_status pp_comparison_moved_csv(const pp_comparison *c, pp_text *text, pp_error *error)
{
    const pp_moved_face *f = &c->face;
    pp_text_add(text, "x,y,before,now,moved\n");
    for (size_t i = 0; i < f->places; i++) {
        const double row[] = {f->x[i], f->y[i], f->before[i], f->now[i], f->moved[i]};
        for (int k = 0; k < 5; k++) {
            pp_text_add_number(text, row[k]);
            pp_text_add(text, k < 4 ? "," : "\n");
        }
    }
    return text->failed ? pp_fail_memory(error) : PP_OK;
}

/* ---- words ---- */

static void add_name(pp_text *text, const char *name)
{
    pp_text_add_foreign_bytes(text, name, strlen(name));
}

static void say_item(const pp_compared_item *i, pp_text *text)
{
    pp_text_print(text, "  %-9s %-8s ", pp_change_words(i->change),
                  pp_compared_words(i->characteristic));
    add_name(text, i->hole);
    if (i->other) pp_text_add(text, " - "), add_name(text, i->other);
    pp_text_print(text, ", %s: %.4f to %.4f mm", i->face, i->before, i->now);
    if (!isnan(i->uncertainty))
        pp_text_print(text, " (± %.4f%s)", i->uncertainty, i->beyond ? "" : ", within it");
    pp_text_add(text, "\n");
}

static void say_face(const pp_moved_face *f, pp_text *text)
{
    if (!isnan(f->flatness_before) && !isnan(f->flatness_now))
        pp_text_print(text, "flatness %.3f to %.3f mm\n", f->flatness_before, f->flatness_now);
    if (!f->places) return;
    pp_text_print(text,
                  "the face moved by %.3f mm rms, tilt apart: most up %+.3f mm at %.1f, %.1f; "
                  "most down %+.3f mm at %.1f, %.1f\n",
                  f->rms, f->rise, f->rise_x, f->rise_y, f->fall, f->fall_x, f->fall_y);
    if (!isnan(f->uncertainty))
        pp_text_print(text, "  uncertainty of both surfaces %.3f mm%s\n", f->uncertainty,
                      fabs(f->largest) > f->uncertainty ? "" : ": no movement is shown beyond it");
    if (f->turned)
        pp_text_print(text,
                      "  caution: with the second survey %s the two would agree far better; was it "
                      "taken from another side?\n",
                      f->turned);
}

pp_status pp_comparison_words(const pp_comparison *c, pp_text *text, pp_error *error)
{
    enum { SHOWN = 40 };
    pp_text_add(text, "before: ");
    add_name(text, c->state[0].verdict);
    pp_text_add(text, "; now: ");
    add_name(text, c->state[1].verdict);
    pp_text_add(text, c->verdict_worse ? ": worse\n" : "\n");
    if (!c->same_plate)
        pp_text_add(text,
                    "note: the reports do not name the same plate; holes are compared by name\n");
    for (size_t i = 0; i < c->limit_count; i++)
        pp_text_print(text,
                      "note: the limits of %s are not the same; a change of class may come of that "
                      "alone\n",
                      c->limits[i].figure);
    for (int k = 0; k < PP_CHANGE_KINDS && pp_comparison_has_holes(c); k++)
        pp_text_print(text, "%s%zu %s%s", k ? ", " : "", c->count[k], pp_change_words((pp_change)k),
                      k + 1 == PP_CHANGE_KINDS ? "\n" : "");
    for (size_t i = 0; i < c->item_count && i < SHOWN; i++) say_item(&c->items[i], text);
    if (c->item_count > SHOWN)
        pp_text_print(text, "  and %zu more; comparison.csv has all (-o DIR)\n",
                      c->item_count - SHOWN);
    if (c->only[0] || c->only[1])
        pp_text_print(text, "only before: %zu holes and faces; only now: %zu\n", c->only[0],
                      c->only[1]);
    say_face(&c->face, text);
    return text->failed ? pp_fail_memory(error) : PP_OK;
}

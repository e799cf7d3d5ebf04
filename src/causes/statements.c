#include <math.h>

#include "base/compare.h"
#include "base/text.h"
#include "causes/diagnosis_words.h"
#include "causes/pattern_words.h"
#include "causes/separable_terms.h"
#include "causes/study.h"

typedef struct speaker {
    pp_cause_study *s;
    pp_statement *list;
    size_t count;
} speaker;

enum { STATEMENTS_MAX = PP_TERM_KINDS + PP_PATTERN_KINDS + 4 };

static pp_status say(speaker *w, pp_statement_kind kind, const char *text)
{
    w->list[w->count++] = (pp_statement){kind, text};
    return PP_OK;
}

/* What was written so far becomes a statement; empty: none. */
static pp_status say_text(speaker *w, pp_statement_kind kind, pp_text *text, const char **kept,
                          pp_error *error)
{
    const char *copy = text->failed || !text->length
                           ? NULL
                           : pp_arena_text(&w->s->memory->keep, text->data, text->length);
    bool failed = text->failed || (text->length && !copy);
    pp_text_free(text);
    *text = (pp_text){0};
    if (failed) return pp_fail_memory(error);
    if (kept) *kept = copy;
    return copy ? say(w, kind, copy) : PP_OK;
}

static void say_what_separates(pp_text *text, bool order)
{
    pp_text_add(text, order ? " What would tell them apart: another drilling order, ten of the "
                              "first holes measured or drilled again at the end, or a column setup "
                              "in the measured list."
                            : " What would tell them apart: the drilling order, or a column setup "
                              "or spindle in the measured list.");
}

/* --- terms and patterns ------------------------------------------------------------------- */

static pp_term_context context_of(const pp_cause_study *s)
{
    return (pp_term_context){.units = s->options->units,
                             .expansion = s->options->expansion,
                             .order_span = (double)s->field.count,
                             .longest_run = s->wear.longest_run,
                             .largest_step = s->wear.largest_step,
                             .tool_changes = s->wear.change_count,
                             .lean_x = s->lean.x,
                             .lean_y = s->lean.y,
                             .thickness = s->options->thickness};
}

static bool is_wander(const pp_cause_study *s, const char *unclear)
{
    return unclear && unclear == s->wander;
}

static pp_status say_terms(speaker *w, bool unclear, pp_error *error)
{
    pp_cause_study *s = w->s;
    pp_term_context context = context_of(s);
    for (size_t i = 0; i < s->term_count; i++) {
        pp_term *t = &s->terms[i];
        t->matters = t->state == PP_TERM_FOUND && pp_at_least(t->worst_effect, s->weight.least);
        if (!t->matters || (t->unclear != NULL) != unclear || is_wander(s, t->unclear)) continue;
        t->is_cause = !unclear && !s->weight.for_information;
        if (unclear) {
            pp_text text = {0};
            pp_text_print(&text, "A pattern was found, but its cause is not told apart: %s or %s.",
                          pp_term_said(t->name), t->unclear);
            say_what_separates(&text, s->field.order_known);
            PP_TRY(say_text(w, s->weight.for_information ? PP_SAYS_INFORMATION : PP_SAYS_UNCLEAR,
                            &text, &t->sentence, error));
            continue;
        }
        t->sentence = pp_term_sentence(t, &context, &s->memory->keep);
        if (!t->sentence) return pp_fail_memory(error);
        PP_TRY(
            say(w, s->weight.for_information ? PP_SAYS_INFORMATION : PP_SAYS_CAUSE, t->sentence));
    }
    return PP_OK;
}

static pp_status say_patterns(speaker *w, bool unclear, pp_error *error)
{
    pp_cause_study *s = w->s;
    for (size_t i = 0; i < s->pattern_count; i++) {
        pp_error_pattern *p = &s->patterns[i];
        p->matters = p->state == PP_TERM_FOUND && pp_at_least(p->worst_effect, s->weight.least);
        if (!p->matters || (p->unclear != NULL) != unclear || is_wander(s, p->unclear)) continue;
        p->is_cause = !unclear && !s->weight.for_information;
        pp_text text = {0};
        if (unclear) {
            pp_text_add(&text, "A pattern was found, but its cause is not told apart: ");
            pp_pattern_words(&text, p, s->options->units);
            pp_text_print(&text, " or %s.", p->unclear);
            say_what_separates(&text, s->field.order_known);
        } else {
            pp_pattern_sentence(&text, p, s->options->units, s->measures->nominal, s->field.count);
        }
        pp_statement_kind kind = s->weight.for_information ? PP_SAYS_INFORMATION
                                 : unclear                 ? PP_SAYS_UNCLEAR
                                                           : PP_SAYS_CAUSE;
        PP_TRY(say_text(w, kind, &text, &p->sentence, error));
    }
    return PP_OK;
}

/* Names of what an irregular wander explains as well. */
static size_t add_wandering(const pp_cause_study *s, pp_text *text)
{
    size_t named = 0;
    for (size_t i = 0; i < s->term_count; i++)
        if (s->terms[i].matters && is_wander(s, s->terms[i].unclear))
            pp_text_print(text, "%s%s", named++ ? "; " : "", pp_term_said(s->terms[i].name));
    for (size_t i = 0; i < s->pattern_count; i++) {
        if (!s->patterns[i].matters || !is_wander(s, s->patterns[i].unclear)) continue;
        if (named++) pp_text_add(text, "; ");
        pp_pattern_words(text, &s->patterns[i], s->options->units);
    }
    return named;
}

/* Said once for all of them. */
static pp_status say_wander(speaker *w, pp_error *error)
{
    pp_cause_study *s = w->s;
    pp_text text = {0};
    const char *said;
    pp_text_add(&text, "The position wandered irregularly along the order, by about ");
    pp_words_length(&text, s->options->units, s->d.wander_rms);
    pp_text_add(
        &text,
        " root mean square: that explains the errors as well as what was found one by one (");
    if (add_wandering(s, &text) == 0) {
        pp_text_free(&text);
        return PP_OK;
    }
    pp_text_add(
        &text,
        "). No cause is named; the record of the job may say what changed little by little.");
    PP_TRY(say_text(w, s->weight.for_information ? PP_SAYS_INFORMATION : PP_SAYS_UNCLEAR, &text,
                    &said, error));
    for (size_t i = 0; i < s->term_count; i++)
        if (s->terms[i].matters && is_wander(s, s->terms[i].unclear)) s->terms[i].sentence = said;
    for (size_t i = 0; i < s->pattern_count; i++)
        if (s->patterns[i].matters && is_wander(s, s->patterns[i].unclear))
            s->patterns[i].sentence = said;
    return PP_OK;
}

/* --- structure and scatter ---------------------------------------------------------------- */

static pp_structure structure_of(const pp_cause_study *s, const pp_left_test *t)
{
    const pp_robust_fit *fit = &s->found.fitting.fit;
    double scale = 0.5 * (fit->scale[0] + fit->scale[1]);
    double rows = fmax((double)s->found.space.rows, 1);
    return (pp_structure){
        .p = t->p, .f = t->f, .rms = scale * sqrt(t->squares / rows), .left = t->p < PP_LEFT_SAID};
}

static pp_status say_structure(speaker *w, const pp_structure *t, const char *what, pp_error *error)
{
    static const double PEAK = 2; /* the largest of a smooth pattern, in its rms, about */
    pp_cause_study *s = w->s;
    if (!t->left || !pp_at_least(PEAK * t->rms, s->weight.least)) return PP_OK;
    pp_text text = {0};
    pp_text_print(&text,
                  "The errors follow the %s in a way that none of the causes known here describes "
                  "(p = %.1g, its root mean square ",
                  what, t->p);
    pp_words_length(&text, s->options->units, t->rms);
    pp_text_add(&text,
                "): a pattern was found, its cause is unclear. Causes of that kind are named "
                "only where they stand out far beyond it.");
    return say_text(w, s->weight.for_information ? PP_SAYS_INFORMATION : PP_SAYS_STRUCTURE, &text,
                    NULL, error);
}

static pp_status say_scatter(speaker *w, pp_error *error)
{
    pp_cause_study *s = w->s;
    const pp_diagnosis *d = &s->d;
    if (!s->found.fitting.weighed) return PP_OK;
    double radial = log(d->scatter_rim / d->scatter_centre);
    double along = s->field.order_known ? log(d->scatter_last / d->scatter_first) : 0;
    bool place = fabs(radial) >= fabs(along);
    double from = place ? d->scatter_centre : d->scatter_first;
    double to = place ? d->scatter_rim : d->scatter_last;
    pp_text text = {0};
    pp_text_print(&text, "The scatter of the holes is uneven: it goes from ");
    pp_words_length(&text, s->options->units, from);
    pp_text_add(&text, " to ");
    pp_words_length(&text, s->options->units, to);
    pp_text_add(&text, place ? " (one standard deviation of one axis) from the centre to the rim."
                             : " (one standard deviation of one axis) over the job.");
    return say_text(w, PP_SAYS_INFORMATION, &text, NULL, error);
}

static void measure_scatter(pp_cause_study *s)
{
    const pp_fitting *f = &s->found.fitting;
    double scale = 0.5 * (f->fit.scale[0] + f->fit.scale[1]);
    pp_diagnosis *d = &s->d;
    d->uneven_p = f->scale.p;
    d->uneven_weighed = f->weighed;
    double all = f->weighed ? 1 : 0; /* even scatter: the same everywhere */
    pp_local_scale local = f->scale;
    for (int j = 0; j < 4; j++) local.coefficient[j] *= all;
    local.log_mean *= all;
    d->scatter_centre = scale * pp_local_scale_at(&local, 0, 0);
    d->scatter_rim = scale * pp_local_scale_at(&local, 1, 0);
    static const double MIDDLE = 0.5; /* of the holes lie within, by area */
    d->scatter_first = s->field.order_known ? scale * pp_local_scale_at(&local, MIDDLE, -0.5) : NAN;
    d->scatter_last = s->field.order_known ? scale * pp_local_scale_at(&local, MIDDLE, 0.5) : NAN;
}

pp_status pp_cause_study_say(pp_cause_study *s, pp_error *error)
{
    speaker w = {.s = s};
    PP_TAKE(w.list, &s->memory->keep, STATEMENTS_MAX);
    PP_TRY(say_terms(&w, false, error));
    PP_TRY(say_patterns(&w, false, error));
    PP_TRY(say_terms(&w, true, error));
    PP_TRY(say_patterns(&w, true, error));
    PP_TRY(say_wander(&w, error));
    s->d.left_order = structure_of(s, &s->found.left.order);
    s->d.left_place = structure_of(s, &s->found.left.place);
    s->d.left_cells = structure_of(s, &s->found.left.cells);
    PP_TRY(say_structure(&w, &s->d.left_order, "drilling order", error));
    PP_TRY(say_structure(&w, s->d.left_place.left ? &s->d.left_place : &s->d.left_cells,
                         "place on the plate", error));
    measure_scatter(s);
    PP_TRY(say_scatter(&w, error));
    s->d.statement_count = w.count;
    s->d.statements = w.list;
    s->d.pattern_count = s->pattern_count;
    s->d.patterns = s->patterns;
    return PP_OK;
}

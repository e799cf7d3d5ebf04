#include "causes/diagnosis.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/stats.h"
#include "base/text.h"
#include "causes/search.h"
#include "causes/study.h"

enum { HOLES_MIN = 30 };
static const double SCALE_MOST = 0.01; /* a pattern so far off its size is another pattern */

/* --- the error field ---------------------------------------------------------------------- */

pp_vectors pp_cause_study_vectors(const pp_cause_study *s, const double *x, const double *y)
{
    return (pp_vectors){&s->field, s->kept, x, y};
}

static pp_status study_field(pp_cause_study *s, pp_error *error)
{
    size_t n = s->field.count;
    PP_TAKE(s->kept, &s->memory->scratch, n);
    PP_TRY(pp_patterns_find(s->measures, &s->field, s->threads, &s->memory->scratch, &s->found,
                            error));
    for (size_t i = 0; i < n; i++) s->kept[i] = s->found.fitting.fit.weight[i] >= PP_ROBUST_MISFIT;
    pp_vectors errors = pp_cause_study_vectors(s, s->field.ex, s->field.ey);
    return pp_field_place(&errors, s->threads, &s->whole, error);
}

/* --- terms -------------------------------------------------------------------------------- */

static pp_term *add_term(pp_cause_study *s, pp_term_kind kind)
{
    pp_term *t = &s->terms[s->term_count++];
    *t = (pp_term){.name = pp_term_name(kind),
                   .kind = kind,
                   .state = PP_TERM_NOT_TESTED,
                   .value = NAN,
                   .standard_error = NAN,
                   .p = NAN,
                   .p_adjusted = NAN,
                   .share = NAN,
                   .worst_effect = NAN};
    return t;
}

/* What is left of the kind the term is of widens its test. */
static const pp_left_test *left_of(const pp_cause_study *s, pp_term_kind kind)
{
    switch (kind) {
    case PP_TERM_SCALE:
    case PP_TERM_SCALE_XY:
    case PP_TERM_SQUARENESS:
    case PP_TERM_BOW_X:
    case PP_TERM_BOW_Y:
        return pp_left_of_place(&s->found.left);
    case PP_TERM_DRIFT_X:
    case PP_TERM_DRIFT_Y:
        return &s->found.left.order;
    case PP_TERM_LOST_MOTION_X:
    case PP_TERM_LOST_MOTION_Y: {
        int axis = kind == PP_TERM_LOST_MOTION_Y;
        return s->found.rare_reversals[axis] ? &s->found.left.order : &s->found.left.cells;
    }
    case PP_TERM_GROWTH: /* of both */
        return s->found.left.place.p < s->found.left.order.p ? &s->found.left.place
                                                             : &s->found.left.order;
    default:
        return NULL;
    }
}

static void test_term(const pp_cause_study *s, double df, pp_term *t)
{
    const pp_left_test *left = left_of(s, t->kind);
    double factor = left ? pp_left_factor(left) : 1;
    t->p = pp_student_two_sided(t->value / t->standard_error / sqrt(factor),
                                left && factor > 1 ? fmin(left->df, df) : df);
}

static pp_status add_field_terms(pp_cause_study *s, pp_error *error)
{
    const pp_fitting *f = &s->found.fitting;
    int p = f->screen.model.count;
    pp_vectors errors = pp_cause_study_vectors(s, s->field.ex, s->field.ey);
    double total;
    PP_TRY(pp_field_squares_left(&errors, &s->whole, f->fit.scale, s->threads, &total, error));
    for (int kind = PP_FIELD_FIRST_TERM; kind < PP_FIELD_KINDS; kind++) {
        bool no_order = !s->field.order_known && s->field.order_missing == 0;
        if (no_order && pp_field_kind_needs_order((pp_field_kind)kind)) continue;
        pp_term *t = add_term(s, (pp_term_kind)(kind - PP_FIELD_FIRST_TERM));
        t->partner = f->screen.partner[kind];
        int j = pp_screen_place(&f->screen, kind);
        if (j < 0) continue;
        t->state = PP_TERM_NOT_FOUND;
        t->value = f->fit.beta[j];
        t->standard_error = sqrt(f->fit.covariance[j * p + j]);
        test_term(s, f->fit.term_df[j], t);
        t->worst_effect = fabs(t->value) * f->screen.longest[kind];
        t->share = total > 0 ? fmin(1, t->value * t->value * f->serial.plain_size[j] / total) : 0;
    }
    return PP_OK;
}

static pp_status add_lean(pp_cause_study *s, pp_error *error)
{
    if (!s->measures->faces[PP_EXIT]) return PP_OK;
    PP_TRY(pp_lean_find(s->measures, s->field.count, s->field.hole, s->threads, &s->memory->scratch,
                        &s->lean, error));
    if (s->lean.holes == 0) return PP_OK;
    pp_term *t = add_term(s, PP_TERM_LEAN);
    t->partner = s->lean.why_not;
    if (!s->lean.tested) return PP_OK;
    t->state = PP_TERM_NOT_FOUND;
    t->partner = "a shift between the datums of the two faces";
    t->value = t->worst_effect = hypot(s->lean.x, s->lean.y);
    t->standard_error = s->lean.standard_error;
    t->p = s->lean.p;
    return PP_OK;
}

static pp_status add_wear(pp_cause_study *s, pp_error *error)
{
    pp_arena *scratch = &s->memory->scratch;
    const pp_measures *m = s->measures;
    double *diameter;
    size_t n = 0;
    if (!s->field.order_known) return PP_OK;
    PP_TAKE(diameter, scratch, s->field.count);
    PP_TAKE(s->wear_place, scratch, s->field.count);
    for (size_t i = 0; i < s->field.count; i++) {
        double value = m->bores[m->bore_of[PP_ENTRY][s->field.hole[i]]].diameter_mean;
        if (!isfinite(value)) continue; /* gauged holes have no size */
        diameter[n] = value;
        s->wear_place[n++] = (uint32_t)i;
    }
    if (n == 0) return PP_OK;
    pp_term *wear = add_term(s, PP_TERM_WEAR), *change = add_term(s, PP_TERM_TOOL_CHANGE);
    wear->partner = change->partner = "too few diameters were measured";
    if (n < PP_WEAR_HOLES_MIN) return PP_OK;
    s->wear_diameter = diameter, s->wear_count = n;
    PP_TRY(pp_wear_find(n, diameter, &s->memory->keep, scratch, &s->wear, error));
    s->wear_tested = true;
    wear->partner = change->partner = NULL;
    wear->state = change->state = PP_TERM_NOT_FOUND;
    wear->value = s->wear.slope;
    wear->standard_error = s->wear.standard_error;
    wear->p = s->wear.p;
    wear->worst_effect = fabs(s->wear.slope) * (s->wear.longest_run - 1);
    change->value = (double)s->wear.change_count;
    change->p = s->wear.change_p;
    change->worst_effect = fabs(s->wear.largest_step);
    return PP_OK;
}

typedef struct test { /* of a term or a pattern */
    double p, *adjusted;
    pp_term_state *state;
} test;

/* Terms first, then patterns, each by p; equal ones keep that order. */
static size_t sort_tests(pp_cause_study *s, test *tests)
{
    size_t count = 0;
    for (size_t i = 0; i < s->term_count + s->pattern_count; i++) {
        bool term = i < s->term_count;
        pp_term *t = term ? &s->terms[i] : NULL;
        pp_error_pattern *p = term ? NULL : &s->patterns[i - s->term_count];
        test one = term ? (test){t->p, &t->p_adjusted, &t->state}
                        : (test){p->p, &p->p_adjusted, &p->state};
        if (*one.state == PP_TERM_NOT_TESTED) continue;
        size_t at = count++;
        for (; at > 0 && tests[at - 1].p > one.p; at--) tests[at] = tests[at - 1];
        tests[at] = one;
    }
    return count;
}

/* Holm, Scandinavian Journal of Statistics 6 (1979) 65. */
static void adjust_for_many(pp_cause_study *s)
{
    test tests[PP_TERM_KINDS + PP_PATTERN_KINDS];
    size_t count = sort_tests(s, tests);
    double alpha = pp_search_alpha(s->field.count), largest = 0;
    for (size_t k = 0; k < count; k++) {
        largest = fmax(largest, fmin(1, tests[k].p * (double)(count - k)));
        *tests[k].adjusted = largest;
        if (largest <= alpha) *tests[k].state = PP_TERM_FOUND;
    }
}

/* Beside a term found: those not tested that would look the same. */
static pp_status name_alternatives(pp_cause_study *s, pp_error *error)
{
    for (size_t i = 0; i < s->term_count; i++) {
        pp_term *t = &s->terms[i];
        if (t->state == PP_TERM_NOT_TESTED || t->kind >= PP_TERM_LEAN) continue;
        char text[256] = "";
        for (size_t k = 0; k < s->term_count; k++) {
            const pp_term *other = &s->terms[k];
            if (other->state != PP_TERM_NOT_TESTED || other->kind >= PP_TERM_LEAN) continue;
            uint32_t alike =
                s->found.fitting.screen.looks_like[PP_FIELD_FIRST_TERM + (int)other->kind];
            if (!(alike & 1u << (PP_FIELD_FIRST_TERM + (int)t->kind))) continue;
            size_t used = strlen(text);
            snprintf(text + used, sizeof text - used, "%s%s", used ? ", " : "", other->name);
        }
        if (!text[0]) continue;
        t->partner = pp_arena_text(&s->memory->keep, text, strlen(text));
        if (!t->partner) return pp_fail_memory(error);
    }
    return PP_OK;
}

static pp_status say_why_not(pp_cause_study *s, pp_error *error, const char *format, size_t count)
{
    pp_text text = {0};
    pp_text_print(&text, format, count);
    if (!text.failed) s->d.why_not = pp_arena_text(&s->memory->keep, text.data, text.length);
    pp_text_free(&text);
    return s->d.why_not ? PP_OK : pp_fail_memory(error);
}

/* Scales and squareness that no machine makes: a frame mistake. */
static bool another_pattern(const pp_cause_study *s)
{
    const pp_fitting *f = &s->found.fitting;
    for (int k = PP_TERM_SCALE; k <= PP_TERM_SQUARENESS; k++) {
        int j = pp_screen_place(&f->screen, PP_FIELD_FIRST_TERM + k);
        if (j >= 0 && fabs(f->fit.beta[j]) > SCALE_MOST) return true;
    }
    return false;
}

static pp_status diagnose(pp_cause_study *s, pp_error *error)
{
    PP_TRY(pp_error_field_build(s->measures, &s->memory->scratch, &s->field, error));
    s->d.holes = s->field.count;
    s->d.order_known = s->field.order_known;
    if (s->field.count < HOLES_MIN)
        return say_why_not(s, error,
                           "a diagnosis needs at least 30 tube holes measured on the entry face, "
                           "there are %zu",
                           s->field.count);
    pp_error inner = {0};
    pp_status status = study_field(s, &inner);
    if (status == PP_ENUMERIC) /* a result: there is too little to say anything */
        return say_why_not(s, error,
                           "the errors of these %zu holes have no pattern to fit: most of them lie "
                           "elsewhere than the nominal pattern",
                           s->field.count);
    if (status != PP_OK) {
        if (error) *error = inner;
        return status;
    }
    if (another_pattern(s))
        return say_why_not(s, error,
                           "the %zu holes measured are no copy of the nominal pattern: mirrored, "
                           "turned by a quarter, or in another unit; put the frame right",
                           s->field.count);
    PP_TAKE(s->terms, &s->memory->keep, PP_TERM_KINDS);
    PP_TRY(add_field_terms(s, error));
    PP_TRY(add_lean(s, error));
    PP_TRY(add_wear(s, error));
    PP_TRY(pp_cause_study_list_patterns(s, error));
    adjust_for_many(s);
    PP_TRY(name_alternatives(s, error));
    PP_TRY(pp_cause_study_find_rivals(s, error));
    PP_TRY(pp_cause_study_say(s, error));
    PP_TRY(pp_cause_study_list_tools(s, error));
    return pp_cause_study_write(s, error);
}

pp_status pp_diagnose(const pp_cause_options *options, const pp_measures *measures,
                      pp_cause_weight weight, int threads, pp_memory *memory,
                      pp_diagnosis *diagnosis, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_cause_study s = {.options = options,
                        .measures = measures,
                        .weight = weight,
                        .threads = threads,
                        .memory = memory};
    s.lean.x = s.lean.y = NAN;
    s.d.temperature_difference = s.d.temperature_standard_error = s.d.wander_rms = NAN;
    pp_status status = diagnose(&s, error);
    pp_arena_release(&memory->scratch, mark);
    if (status == PP_OK) *diagnosis = s.d;
    return status;
}

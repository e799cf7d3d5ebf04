#include "causes/diagnosis.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/constants.h"
#include "base/stats.h"
#include "base/text.h"
#include "causes/diagnosis_words.h"
#include "causes/error_field.h"
#include "causes/field_placement.h"
#include "causes/lean.h"
#include "causes/separable_terms.h"
#include "causes/serial_correlation.h"
#include "causes/wear.h"
#include "holes/repeats.h"

enum { HOLES_MIN = 30, HOLES_MANY = 200 };
/* Familywise levels, calibrated by simulation to 5 % measured (docs/theory/diagnosis.md). */
static const double ALPHA = 0.04, ALPHA_FEW_HOLES = 0.03;
static const double CAUSE_SHARE = 0.25; /* of the radius of the position limit */

typedef struct study { /* everything found, before it becomes results */
    const pp_job *job;
    const pp_measures *measures;
    int threads;
    pp_memory *memory;
    pp_error_field field;
    pp_screen screen;
    pp_robust_fit fit;
    pp_serial serial;
    bool *kept;               /* [field.count] */
    pp_field_placement whole; /* of the error field */
    pp_lean lean;
    bool wear_tested;
    pp_wear wear;
    uint32_t *wear_place; /* place in the order of each diameter */
    size_t term_count;
    pp_term *terms;
    pp_diagnosis d;
} study;

/* --- the error field ---------------------------------------------------------------------- */

static pp_status solve_field(study *s, pp_error *error)
{
    pp_robust_problem problem = pp_field_model_problem(&s->screen.model, s->threads);
    return pp_serial_solve(&problem, &s->memory->scratch, &s->fit, &s->serial, error);
}

static bool repeats_differ(const study *s)
{
    const pp_measures *m = s->measures;
    for (size_t i = 1; i < s->field.count; i++)
        if (m->bores[m->bore_of[PP_ENTRY][s->field.hole[i]]].readings !=
            m->bores[m->bore_of[PP_ENTRY][s->field.hole[0]]].readings)
            return true;
    return false;
}

/* A hole read n times is worth n / (n s_b^2 + s_r^2): its own scatter s_b, that of reading s_r. */
static pp_status weigh_repeats(study *s, pp_error *error)
{
    double reading;
    PP_TRY(pp_repeats_scatter(s->measures->readings, &s->memory->scratch, &reading, error));
    if (reading == 0) return PP_OK;
    const pp_measures *m = s->measures;
    size_t n = s->field.count;
    double *root,
        total = 0.5 * (s->fit.scale[0] * s->fit.scale[0] + s->fit.scale[1] * s->fit.scale[1]);
    PP_TAKE(root, &s->memory->scratch, n);
    double inverse = 0, sum = 0;
    for (size_t i = 0; i < n; i++)
        inverse += 1.0 / m->bores[m->bore_of[PP_ENTRY][s->field.hole[i]]].readings;
    double own = fmax(total - reading * reading * inverse / (double)n, 0);
    for (size_t i = 0; i < n; i++) {
        double readings = m->bores[m->bore_of[PP_ENTRY][s->field.hole[i]]].readings;
        root[i] = readings / (readings * own + reading * reading);
        sum += root[i];
    }
    for (size_t i = 0; i < n; i++) root[i] = sqrt(root[i] * (double)n / sum);
    s->field.root_weight = root;
    return solve_field(s, error);
}

static pp_vectors vectors_of(const study *s, const double *x, const double *y)
{
    return (pp_vectors){&s->field, s->kept, x, y};
}

static pp_status study_field(study *s, pp_error *error)
{
    pp_arena *scratch = &s->memory->scratch;
    size_t n = s->field.count;
    PP_TRY(pp_screen_terms(&s->field, s->threads, scratch, &s->screen, error));
    PP_TAKE(s->fit.weight, scratch, n);
    PP_TAKE(s->fit.residual[0], scratch, n);
    PP_TAKE(s->fit.residual[1], scratch, n);
    PP_TAKE(s->kept, scratch, n);
    PP_TRY(solve_field(s, error));
    if (repeats_differ(s)) PP_TRY(weigh_repeats(s, error));
    for (size_t i = 0; i < n; i++) s->kept[i] = s->fit.weight[i] >= PP_ROBUST_MISFIT;
    pp_vectors errors = vectors_of(s, s->field.ex, s->field.ey);
    return pp_field_place(&errors, s->threads, &s->whole, error);
}

/* --- terms -------------------------------------------------------------------------------- */

static pp_term *add_term(study *s, pp_term_kind kind)
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

static int place_in_model(const pp_screen *screen, pp_field_kind kind)
{
    for (int j = 0; j < screen->model.count; j++)
        if (screen->model.kind[j] == kind) return j;
    return -1;
}

static pp_status add_field_terms(study *s, pp_error *error)
{
    int p = s->screen.model.count;
    pp_vectors errors = vectors_of(s, s->field.ex, s->field.ey);
    double total;
    PP_TRY(pp_field_squares_left(&errors, &s->whole, s->fit.scale, s->threads, &total, error));
    for (int kind = PP_FIELD_FIRST_TERM; kind < PP_FIELD_KINDS; kind++) {
        bool no_order = !s->field.order_known && s->field.order_missing == 0;
        if (no_order && pp_field_kind_needs_order((pp_field_kind)kind)) continue;
        pp_term *t = add_term(s, (pp_term_kind)(kind - PP_FIELD_FIRST_TERM));
        t->partner = s->screen.partner[kind];
        int j = place_in_model(&s->screen, (pp_field_kind)kind);
        if (j < 0) continue;
        t->state = PP_TERM_NOT_FOUND;
        t->value = s->fit.beta[j];
        t->standard_error = sqrt(s->fit.covariance[j * p + j]);
        t->p = pp_student_two_sided(t->value / t->standard_error, s->fit.df);
        t->worst_effect = fabs(t->value) * s->screen.longest[kind];
        t->share = total > 0 ? fmin(1, t->value * t->value * s->serial.plain_size[j] / total) : 0;
    }
    return PP_OK;
}

static pp_status add_lean(study *s, pp_error *error)
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

static pp_status add_wear(study *s, pp_error *error)
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

/* Holm, Scandinavian Journal of Statistics 6 (1979) 65. */
static void adjust_for_many(study *s)
{
    size_t tests = 0, order[PP_TERM_KINDS];
    for (size_t i = 0; i < s->term_count; i++) {
        if (s->terms[i].state == PP_TERM_NOT_TESTED) continue;
        size_t at = tests++;
        for (; at > 0 && s->terms[order[at - 1]].p > s->terms[i].p; at--) order[at] = order[at - 1];
        order[at] = i;
    }
    double alpha = s->field.count < HOLES_MANY ? ALPHA_FEW_HOLES : ALPHA, largest = 0;
    for (size_t k = 0; k < tests; k++) {
        pp_term *t = &s->terms[order[k]];
        largest = fmax(largest, fmin(1, t->p * (double)(tests - k)));
        t->p_adjusted = largest;
        if (largest <= alpha) t->state = PP_TERM_FOUND;
    }
}

/* Beside a term found: those not tested that would look the same. */
static pp_status name_alternatives(study *s, pp_error *error)
{
    for (size_t i = 0; i < s->term_count; i++) {
        pp_term *t = &s->terms[i];
        if (t->state == PP_TERM_NOT_TESTED || t->kind >= PP_TERM_LEAN) continue;
        char text[256] = "";
        for (size_t k = 0; k < s->term_count; k++) {
            const pp_term *other = &s->terms[k];
            if (other->state != PP_TERM_NOT_TESTED || other->kind >= PP_TERM_LEAN) continue;
            uint32_t alike = s->screen.looks_like[PP_FIELD_FIRST_TERM + (int)other->kind];
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

static pp_status name_causes(study *s, pp_error *error)
{
    double limit = s->job->holes.position_limit; /* diametral; not given: found is enough */
    double least = pp_given(limit) ? CAUSE_SHARE * 0.5 * limit : 0;
    pp_term_context context = {.units = s->job->units,
                               .expansion = s->job->holes.expansion,
                               .order_span = (double)s->field.count,
                               .longest_run = s->wear.longest_run,
                               .largest_step = s->wear.largest_step,
                               .tool_changes = s->wear.change_count,
                               .lean_x = s->lean.x,
                               .lean_y = s->lean.y,
                               .thickness = s->job->plate.thickness};
    for (size_t i = 0; i < s->term_count; i++) {
        pp_term *t = &s->terms[i];
        t->is_cause = t->state == PP_TERM_FOUND && t->worst_effect >= least;
        if (!t->is_cause) continue;
        t->sentence = pp_term_sentence(t, &context, &s->memory->keep);
        if (!t->sentence) return pp_fail_memory(error);
    }
    return PP_OK;
}

/* --- results ------------------------------------------------------------------------------ */

static bool is_found(const pp_term *t)
{
    return t->state == PP_TERM_FOUND && t->kind < PP_TERM_LEAN;
}

/* The error field without the terms found. */
static pp_status take_terms_out(study *s, double **left_x, double **left_y, pp_error *error)
{
    enum { STRIP = 256 };
    const pp_error_field *f = &s->field;
    double *x, *y;
    PP_TAKE(x, &s->memory->scratch, f->count);
    PP_TAKE(y, &s->memory->scratch, f->count);
    memcpy(x, f->ex, f->count * sizeof *x);
    memcpy(y, f->ey, f->count * sizeof *y);
    for (size_t k = 0; k < s->term_count; k++) {
        const pp_term *t = &s->terms[k];
        if (!is_found(t)) continue;
        for (size_t first = 0, count; first < f->count; first += count) {
            double vx[STRIP], vy[STRIP];
            count = f->count - first < STRIP ? f->count - first : STRIP;
            pp_error_field_vectors(f, (pp_field_kind)(PP_FIELD_FIRST_TERM + (int)t->kind), first,
                                   count, vx, vy);
            for (size_t i = 0; i < count; i++)
                x[first + i] -= t->value * vx[i], y[first + i] -= t->value * vy[i];
        }
    }
    *left_x = x, *left_y = y;
    return PP_OK;
}

static pp_status root_mean_square(const study *s, const pp_vectors *v,
                                  const pp_field_placement *placement, double *rms, pp_error *error)
{
    static const double MILLIMETRE[2] = {1, 1};
    double sum, kept = 0;
    PP_TRY(pp_field_squares_left(v, placement, MILLIMETRE, s->threads, &sum, error));
    for (size_t i = 0; i < s->field.count; i++) kept += s->kept[i];
    *rms = sqrt(sum / kept);
    return PP_OK;
}

/* Alignment takes shift and turn out, before and after. */
static pp_status write_scatter(study *s, pp_error *error)
{
    pp_vectors errors = vectors_of(s, s->field.ex, s->field.ey);
    PP_TRY(root_mean_square(s, &errors, &s->whole, &s->d.rms_before, error));
    s->d.rms_after = s->d.rms_before;
    bool found = false;
    for (size_t k = 0; k < s->term_count; k++) found |= is_found(&s->terms[k]);
    if (!found) return PP_OK;
    double *x, *y;
    pp_field_placement placement;
    PP_TRY(take_terms_out(s, &x, &y, error));
    pp_vectors left = vectors_of(s, x, y);
    PP_TRY(pp_field_place(&left, s->threads, &placement, error));
    return root_mean_square(s, &left, &placement, &s->d.rms_after, error);
}

static pp_status write_misdrilled(study *s, pp_error *error)
{
    const pp_error_field *f = &s->field;
    bool *misdrilled;
    uint32_t *list;
    for (size_t i = 0; i < f->count; i++) s->d.misdrilled_count += !s->kept[i];
    if (s->d.misdrilled_count == 0) return PP_OK;
    PP_TAKE_ZERO(misdrilled, &s->memory->scratch, s->measures->nominal->count);
    for (size_t i = 0; i < f->count; i++) misdrilled[f->hole[i]] = !s->kept[i];
    PP_TAKE(list, &s->memory->keep, s->d.misdrilled_count);
    for (size_t i = 0, k = 0; i < s->measures->nominal->count; i++)
        if (misdrilled[i]) list[k++] = (uint32_t)i; /* nominal order */
    s->d.misdrilled = list;
    return PP_OK;
}

static pp_status write_tool_changes(study *s, pp_error *error)
{
    for (size_t i = 0; i < s->term_count; i++)
        if (s->terms[i].kind == PP_TERM_TOOL_CHANGE && s->terms[i].state == PP_TERM_FOUND)
            s->d.tool_change_count = s->wear.change_count;
    uint32_t *list;
    PP_TAKE(list, &s->memory->keep, s->d.tool_change_count);
    for (size_t k = 0; k < s->d.tool_change_count; k++)
        list[k] = s->wear_place[s->wear.changes[k]] + 1;
    s->d.tool_changes = list;
    return PP_OK;
}

static void write_temperature(study *s)
{
    for (size_t i = 0; i < s->term_count; i++) {
        const pp_term *t = &s->terms[i];
        if (t->kind != PP_TERM_SCALE || t->state == PP_TERM_NOT_TESTED) continue;
        s->d.temperature_difference = t->value / s->job->holes.expansion;
        s->d.temperature_standard_error = t->standard_error / s->job->holes.expansion;
    }
}

static void write_placement(study *s)
{
    const pp_field_placement *p = &s->whole;
    double cx = s->field.centre_x + p->centre_x, cy = s->field.centre_y + p->centre_y;
    s->d.shift_x = p->x + p->turn * cy, s->d.shift_y = p->y - p->turn * cx;
    s->d.rotation_deg = p->turn * PP_DEGREES;
}

static pp_status write_results(study *s, pp_error *error)
{
    PP_TRY(write_misdrilled(s, error));
    PP_TRY(write_tool_changes(s, error));
    write_temperature(s);
    PP_TRY(write_scatter(s, error));
    write_placement(s);
    s->d.valid = true;
    s->d.scatter_x = s->fit.scale[0], s->d.scatter_y = s->fit.scale[1];
    s->d.autocorrelation = s->field.order_known ? s->serial.correlation : NAN;
    s->d.whitened = s->serial.rho != 0;
    s->d.lean_holes = s->lean.holes;
    s->d.lean_x = s->lean.x, s->d.lean_y = s->lean.y;
    s->d.term_count = s->term_count;
    s->d.terms = s->terms;
    return PP_OK;
}

static pp_status say_why_not(study *s, pp_error *error, const char *format, size_t count)
{
    pp_text text = {0};
    pp_text_print(&text, format, count);
    if (!text.failed) s->d.why_not = pp_arena_text(&s->memory->keep, text.data, text.length);
    pp_text_free(&text);
    return s->d.why_not ? PP_OK : pp_fail_memory(error);
}

static pp_status diagnose(study *s, pp_error *error)
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
    PP_TAKE(s->terms, &s->memory->keep, PP_TERM_KINDS);
    PP_TRY(add_field_terms(s, error));
    PP_TRY(add_lean(s, error));
    PP_TRY(add_wear(s, error));
    adjust_for_many(s);
    PP_TRY(name_alternatives(s, error));
    PP_TRY(name_causes(s, error));
    return write_results(s, error);
}

pp_status pp_diagnose(const pp_job *job, const pp_measures *measures, int threads,
                      pp_memory *memory, pp_diagnosis *diagnosis, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    study s = {.job = job, .measures = measures, .threads = threads, .memory = memory};
    s.lean.x = s.lean.y = NAN;
    s.d.temperature_difference = s.d.temperature_standard_error = NAN;
    pp_status status = diagnose(&s, error);
    pp_arena_release(&memory->scratch, mark);
    if (status == PP_OK) *diagnosis = s.d;
    return status;
}

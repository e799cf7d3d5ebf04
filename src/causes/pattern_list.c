#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/stats.h"
#include "base/text.h"
#include "causes/pattern_words.h"
#include "causes/study.h"
#include "causes/wander.h"
#include "linalg/linalg.h"

static const double FAMILY_EVIDENCE = 10.6; /* -2 ln p at the level of the steps */
static const double BLOCK_EVIDENCE = 20;    /* of either of two steps that are blocks */

static pp_error_pattern *add_pattern(pp_cause_study *s, pp_error_pattern_kind kind,
                                     pp_error_pattern_part *parts, size_t count)
{
    pp_error_pattern *p = &s->patterns[s->pattern_count++];
    *p = (pp_error_pattern){.name = pp_cause_pattern_name(kind),
                            .kind = kind,
                            .state = PP_TERM_NOT_TESTED,
                            .part_count = count,
                            .parts = parts,
                            .p = NAN,
                            .p_adjusted = NAN,
                            .worst_effect = NAN};
    return p;
}

/* --- tests -------------------------------------------------------------------------------- */

typedef struct column_list {
    int count, at[PP_ROBUST_TERMS_MAX]; /* places in the model */
} column_list;

static double estimate(const pp_cause_study *s, int place)
{
    return s->found.fitting.fit.beta[place];
}

static double standard_error(const pp_cause_study *s, int place)
{
    int p = s->found.fitting.screen.model.count;
    return sqrt(s->found.fitting.fit.covariance[place * p + place]);
}

/* F test of some coefficients together, their variances widened by `left`. NaN: not tested. */
static double f_test(const pp_cause_study *s, const column_list *list, const pp_left_test *left)
{
    const pp_robust_fit *fit = &s->found.fitting.fit;
    size_t n = (size_t)list->count, p = (size_t)s->found.fitting.screen.model.count;
    double matrix[PP_ROBUST_TERMS_MAX * PP_ROBUST_TERMS_MAX], b[PP_ROBUST_TERMS_MAX], sum = 0;
    double df = fit->df;
    if (n == 0) return NAN;
    for (size_t i = 0; i < n; i++) {
        b[i] = estimate(s, list->at[i]);
        df = fmin(df, fit->term_df[list->at[i]]);
        for (size_t j = 0; j < n; j++)
            matrix[i * n + j] = fit->covariance[(size_t)list->at[i] * p + (size_t)list->at[j]];
    }
    if (pp_cholesky_factor(n, matrix, n, NULL) != PP_OK) return NAN;
    if (pp_cholesky_solve(n, matrix, n, 1, b, n, NULL) != PP_OK) return NAN;
    for (size_t i = 0; i < n; i++) sum += b[i] * estimate(s, list->at[i]);
    double factor = left ? pp_left_factor(left) : 1;
    return pp_fisher_upper(sum / (double)n / factor, (double)n,
                           left && factor > 1 ? fmin(left->df, df) : df);
}

/* --- components --------------------------------------------------------------------------- */

static column_list columns_of_component(const pp_cause_study *s, int k)
{
    const pp_fitting *f = &s->found.fitting;
    column_list list = {0};
    for (int i = 0; i < 2 * pp_family_parts(f->component[k].family); i++) {
        int place = pp_screen_place(&f->screen, PP_FIELD_KINDS + f->extra_of[k] + i);
        if (place >= 0) list.at[list.count++] = place;
    }
    return list;
}

static void fill_part(const pp_cause_study *s, int k, pp_error_pattern_part *part)
{
    const pp_fitting *f = &s->found.fitting;
    const pp_component *c = &f->component[k];
    column_list list = columns_of_component(s, k);
    *part = (pp_error_pattern_part){.split = NAN, .periods = NAN, .estimates = list.count};
    for (int i = 0; i < list.count; i++) {
        part->estimate[i] = estimate(s, list.at[i]);
        part->standard_error[i] = standard_error(s, list.at[i]);
    }
    if (c->family == PP_FAMILY_STEP) {
        part->place = (uint32_t)c->first + 1;
        part->hole = s->field.hole[c->first];
    } else if (c->family == PP_FAMILY_HALF_PLATE) {
        part->axis = c->axis ? 'y' : 'x';
        part->split = c->split + (c->axis ? s->field.centre_y : s->field.centre_x);
    } else if (c->family == PP_FAMILY_OSCILLATION) {
        part->periods = c->periods;
    }
}

/* What is left of the kinds that the family may be mistaken for. In sweeps a pattern of the place
 * is one of the order as well. */
static double left_factor(const pp_cause_study *s, pp_family family)
{
    const pp_left *left = &s->found.left;
    if (family == PP_FAMILY_ALTERNATE) return 1;
    double place = pp_left_factor(pp_left_of_place(left));
    return family == PP_FAMILY_HALF_PLATE ? place : fmax(place, pp_left_factor(&left->order));
}

/* Longest vector of an oscillation: the half axis of its ellipse. */
static double ellipse(const double e[4])
{
    double sum = e[0] * e[0] + e[1] * e[1] + e[2] * e[2] + e[3] * e[3];
    double area = e[0] * e[3] - e[1] * e[2];
    return sqrt(0.5 * (sum + sqrt(fmax(sum * sum - 4 * area * area, 0))));
}

/* Largest distance between the positions the steps lead to. */
static double farthest_levels(const pp_error_pattern *p)
{
    double most = 0;
    for (size_t from = 0; from < p->part_count; from++) {
        double x = 0, y = 0;
        for (size_t k = from; k < p->part_count; k++) {
            x += p->parts[k].estimate[0], y += p->parts[k].estimate[1];
            most = fmax(most, hypot(x, y));
        }
    }
    return most;
}

static pp_error_pattern_kind kind_of(pp_family family, int members)
{
    static const pp_error_pattern_kind KIND[PP_FAMILIES] = {
        PP_PATTERN_STEP, PP_PATTERN_HALF_PLATE, PP_PATTERN_OSCILLATION, PP_PATTERN_ALTERNATE};
    return family == PP_FAMILY_STEP && members > 1 ? PP_PATTERN_BLOCKS : KIND[family];
}

typedef struct member_list {
    int count, at[PP_COMPONENTS_MAX];
    double evidence[PP_COMPONENTS_MAX];
} member_list;

/* The family's components, steps in the order of the job. Of two steps that are not both beyond
 * doubt, the larger. */
static member_list members_of(const pp_cause_study *s, pp_family family)
{
    const pp_patterns *f = &s->found;
    member_list list = {0};
    for (int k = 0; k < f->fitting.component_count; k++) {
        if (f->fitting.component[k].family != family) continue;
        int at = list.count++;
        for (;
             at > 0 && f->fitting.component[list.at[at - 1]].first > f->fitting.component[k].first;
             at--)
            list.at[at] = list.at[at - 1];
        list.at[at] = k;
    }
    for (int i = 0; i < list.count; i++) {
        double statistic = pp_pursuit_loss(&f->model, list.at[i]) / f->s2;
        list.evidence[i] = pp_naming_evidence(family, statistic, s->field.count);
    }
    if (family != PP_FAMILY_STEP || list.count != 2) return list;
    int larger = list.evidence[1] > list.evidence[0];
    if (list.evidence[!larger] > BLOCK_EVIDENCE) return list;
    return (member_list){1, {list.at[larger]}, {list.evidence[larger]}};
}

static pp_status add_family(pp_cause_study *s, pp_family family, pp_error *error)
{
    member_list list = members_of(s, family);
    if (list.count == 0) return PP_OK;
    pp_error_pattern_part *parts;
    PP_TAKE(parts, &s->memory->keep, (size_t)list.count);
    pp_error_pattern *p = add_pattern(s, kind_of(family, list.count), parts, (size_t)list.count);
    double tries = pp_family_tries(family, s->field.count), evidence = 0;
    p->worst_effect = 0;
    for (int i = 0; i < list.count; i++) {
        fill_part(s, list.at[i], &parts[i]);
        column_list columns = columns_of_component(s, list.at[i]);
        double each = f_test(
            s, &columns, family == PP_FAMILY_HALF_PLATE ? pp_left_of_place(&s->found.left) : NULL);
        if (!isnan(each)) p->p = isnan(p->p) ? each : fmin(p->p, each);
        evidence = fmax(evidence, list.evidence[i]);
        const double *e = parts[i].estimate;
        p->worst_effect =
            fmax(p->worst_effect, family == PP_FAMILY_OSCILLATION ? ellipse(e) : hypot(e[0], e[1]));
    }
    if (p->kind == PP_PATTERN_BLOCKS) p->worst_effect = farthest_levels(p);
    if (isnan(p->p)) return PP_OK;
    p->p = fmin(1, tries * p->p);
    if (!(evidence > FAMILY_EVIDENCE * left_factor(s, family))) p->p = 1;
    p->state = PP_TERM_NOT_FOUND;
    return PP_OK;
}

/* --- labels ------------------------------------------------------------------------------- */

static pp_status add_labels(pp_cause_study *s, pp_label_kind kind, pp_error *error)
{
    const pp_label_set *set = &s->found.labels[kind];
    const pp_fitting *f = &s->found.fitting;
    if (!set->given) return PP_OK;
    pp_error_pattern_part *parts;
    size_t count = set->why_not ? 0 : set->count - 1;
    PP_TAKE_ZERO(parts, &s->memory->keep, count);
    pp_error_pattern *p =
        add_pattern(s, (pp_error_pattern_kind)(PP_PATTERN_SETUP + (int)kind), parts, count);
    p->partner = set->why_not;
    column_list all = {0};
    for (size_t k = 0; k < count; k++)
        parts[k] = (pp_error_pattern_part){
            .split = NAN, .periods = NAN, .label = set->name[k + 1], .reference = set->name[0]};
    for (int e = 0; !set->why_not && e < f->label_columns; e++) {
        const pp_extra_column *column = &f->extra[e];
        int place = pp_screen_place(&f->screen, PP_FIELD_KINDS + e);
        if (column->label != set->of_item || place < 0) continue;
        all.at[all.count++] = place;
        pp_error_pattern_part *part = &parts[column->which - 1];
        part->estimate[column->way] = estimate(s, place);
        part->standard_error[column->way] = standard_error(s, place);
        part->estimates = (int)column->way + 1;
    }
    p->p =
        f_test(s, &all,
               kind == PP_LABEL_SPINDLE ? pp_left_of_place(&s->found.left) : &s->found.left.order);
    if (isnan(p->p)) {
        if (!p->partner) p->partner = "a shift or rotation of the whole pattern";
        return PP_OK;
    }
    p->state = PP_TERM_NOT_FOUND;
    p->worst_effect = 0;
    for (size_t k = 0; k < count; k++)
        for (size_t j = 0; j <= k; j++) { /* against the first, and among themselves */
            const double *a = parts[k].estimate, zero[4] = {0};
            const double *b = j == k ? zero : parts[j].estimate;
            double apart = hypot(a[0] - b[0], a[1] - b[1]) + fabs(a[2] - b[2]);
            p->worst_effect = fmax(p->worst_effect, apart);
        }
    return PP_OK;
}

pp_status pp_cause_study_list_patterns(pp_cause_study *s, pp_error *error)
{
    PP_TAKE(s->patterns, &s->memory->keep, PP_PATTERN_KINDS);
    for (int f = 0; f < PP_FAMILIES; f++) PP_TRY(add_family(s, (pp_family)f, error));
    for (int kind = 0; kind < PP_LABEL_KINDS; kind++)
        PP_TRY(add_labels(s, (pp_label_kind)kind, error));
    return PP_OK;
}

/* --- rivals ------------------------------------------------------------------------------- */

static pp_naming naming_of(const pp_cause_study *s)
{
    const pp_patterns *f = &s->found;
    return (pp_naming){.space = &f->space,
                       .tested = f->tested,
                       .components = f->fitting.component,
                       .component_count = f->fitting.component_count,
                       .s2 = f->s2,
                       .choice = &f->choice};
}

static int fixed_of(const pp_cause_study *s, const pp_term *t)
{
    for (int i = 0; i < s->found.space.fixed; i++)
        if ((int)s->found.space.kind[i] == PP_FIELD_FIRST_TERM + (int)t->kind) return i;
    return -1;
}

static bool is_step(const pp_member *m)
{
    return m->fixed < 0 && m->component.family == PP_FAMILY_STEP;
}

static void add_member_words(pp_cause_study *s, const pp_member *m, pp_text *text)
{
    int term = m->fixed >= 0 ? (int)s->found.space.kind[m->fixed] - PP_FIELD_FIRST_TERM : -1;
    if (term >= 0)
        pp_text_add(text, pp_term_said(pp_term_name((pp_term_kind)term)));
    else
        pp_component_words(text, &s->field, s->options->units, &m->component);
}

/* "a with b with c": steps beyond the first are set-ups and said once. */
static pp_status say_instead(pp_cause_study *s, const pp_choice *instead, const char **said,
                             pp_error *error)
{
    enum { NAMED_MOST = 3 };
    pp_text text = {0};
    int steps = 0, named = 0;
    for (int k = 0; k < instead->members; k++) steps += is_step(&instead->member[k]);
    if (steps > 1)
        named++, pp_text_print(&text, "set-ups that begin at %d places of the order", steps);
    for (int k = 0; k < instead->members && named < NAMED_MOST; k++) {
        if (steps > 1 && is_step(&instead->member[k])) continue;
        if (named++) pp_text_add(&text, " with ");
        add_member_words(s, &instead->member[k], &text);
    }
    if (instead->members == 0) pp_text_add(&text, "chance");
    *said = text.failed ? NULL : pp_arena_text(&s->memory->keep, text.data, text.length);
    pp_text_free(&text);
    return *said ? PP_OK : pp_fail_memory(error);
}

static pp_status find_rival_of_term(pp_cause_study *s, pp_term *t, pp_error *error)
{
    int fixed = fixed_of(s, t);
    if (t->state != PP_TERM_FOUND || t->kind >= PP_TERM_LEAN || fixed < 0) return PP_OK;
    pp_naming naming = naming_of(s);
    bool rival;
    pp_choice instead;
    PP_TRY(pp_naming_of_term(&naming, fixed, &s->memory->scratch, &rival, &instead, error));
    return rival ? say_instead(s, &instead, &t->unclear, error) : PP_OK;
}

static pp_family family_of(pp_error_pattern_kind kind)
{
    static const pp_family FAMILY[] = {PP_FAMILY_STEP, PP_FAMILY_STEP, PP_FAMILY_HALF_PLATE,
                                       PP_FAMILY_OSCILLATION, PP_FAMILY_ALTERNATE};
    return FAMILY[kind];
}

static pp_status find_rival_of_pattern(pp_cause_study *s, pp_error_pattern *p, pp_error *error)
{
    if (p->state != PP_TERM_FOUND || p->kind >= PP_PATTERN_SETUP) return PP_OK;
    pp_naming naming = naming_of(s);
    bool rival;
    pp_choice instead;
    PP_TRY(pp_naming_of_family(&naming, family_of(p->kind), &s->memory->scratch, &rival, &instead,
                               error));
    return rival ? say_instead(s, &instead, &p->unclear, error) : PP_OK;
}

/* Of everything found that a wander takes the place of; other rivals do not matter then. */
static void mark_wander(pp_cause_study *s, const pp_wander *w)
{
    s->wander = "an irregular wander of the position from hole to hole";
    for (size_t i = 0; i < s->term_count; i++) {
        pp_term *t = &s->terms[i];
        int fixed = t->kind < PP_TERM_LEAN ? fixed_of(s, t) : -1;
        if (t->state == PP_TERM_FOUND && fixed >= 0 && w->term[fixed]) t->unclear = s->wander;
    }
    for (size_t i = 0; i < s->pattern_count; i++) {
        pp_error_pattern *p = &s->patterns[i];
        bool family = p->state == PP_TERM_FOUND && p->kind < PP_PATTERN_SETUP;
        if (family && w->family[family_of(p->kind)]) p->unclear = s->wander;
    }
}

static pp_status try_wander(pp_cause_study *s, pp_error *error)
{
    const pp_patterns *f = &s->found;
    bool found[PP_ROBUST_TERMS_MAX] = {false};
    for (size_t i = 0; i < s->term_count; i++) {
        int fixed = s->terms[i].kind < PP_TERM_LEAN ? fixed_of(s, &s->terms[i]) : -1;
        if (fixed >= 0) found[fixed] = s->terms[i].state == PP_TERM_FOUND;
    }
    pp_wander_request request = {.space = &f->space,
                                 .fit = &f->fitting.fit,
                                 .s2 = f->s2,
                                 .rare_reversals = f->rare_reversals,
                                 .found = found,
                                 .components = f->fitting.component,
                                 .component_count = f->fitting.component_count};
    pp_wander wander;
    PP_TRY(pp_wander_try(&request, &s->memory->scratch, &wander, error));
    s->d.wandered = wander.explains;
    s->d.wander_rms = 0.5 * (f->fitting.fit.scale[0] + f->fitting.fit.scale[1]) * wander.rms;
    if (wander.explains) mark_wander(s, &wander);
    return PP_OK;
}

pp_status pp_cause_study_find_rivals(pp_cause_study *s, pp_error *error)
{
    for (size_t i = 0; i < s->term_count; i++) PP_TRY(find_rival_of_term(s, &s->terms[i], error));
    for (size_t i = 0; i < s->pattern_count; i++)
        PP_TRY(find_rival_of_pattern(s, &s->patterns[i], error));
    return try_wander(s, error);
}

#include <math.h>
#include <string.h>

#include "base/constants.h"
#include "causes/study.h"

/* --- results ------------------------------------------------------------------------------ */

static bool is_found(const pp_term *t)
{
    return t->state == PP_TERM_FOUND && t->kind < PP_TERM_LEAN;
}

static void take_column_out(const pp_error_field *f, pp_field_kind kind, double value, double *x,
                            double *y)
{
    enum { STRIP = 256 };
    for (size_t first = 0, count; first < f->count; first += count) {
        double vx[STRIP], vy[STRIP];
        count = f->count - first < STRIP ? f->count - first : STRIP;
        pp_error_field_vectors(f, kind, first, count, vx, vy);
        for (size_t i = 0; i < count; i++)
            x[first + i] -= value * vx[i], y[first + i] -= value * vy[i];
    }
}

static bool pattern_found(const pp_cause_study *s, pp_error_pattern_kind kind)
{
    for (size_t k = 0; k < s->pattern_count; k++) {
        const pp_error_pattern *p = &s->patterns[k];
        bool same = p->kind == kind || (kind == PP_PATTERN_STEP && p->kind == PP_PATTERN_BLOCKS);
        if (same && p->state == PP_TERM_FOUND) return true;
    }
    return false;
}

/* Does the extra column belong to a pattern that was found? */
static bool extra_found(const pp_cause_study *s, const pp_extra_column *e)
{
    static const pp_error_pattern_kind KIND[PP_FAMILIES] = {
        PP_PATTERN_STEP, PP_PATTERN_HALF_PLATE, PP_PATTERN_OSCILLATION, PP_PATTERN_ALTERNATE};
    if (!e->label) return pattern_found(s, KIND[e->component->family]);
    for (int kind = 0; kind < PP_LABEL_KINDS; kind++)
        if (s->found.labels[kind].of_item == e->label)
            return pattern_found(s, (pp_error_pattern_kind)(PP_PATTERN_SETUP + kind));
    return false;
}

/* The error field without the terms and patterns found; *any: there were some. */
static pp_status take_found_out(pp_cause_study *s, double **left_x, double **left_y, bool *any,
                                pp_error *error)
{
    const pp_error_field *f = &s->field;
    const pp_fitting *fitting = &s->found.fitting;
    double *x, *y;
    PP_TAKE(x, &s->memory->scratch, f->count);
    PP_TAKE(y, &s->memory->scratch, f->count);
    memcpy(x, f->ex, f->count * sizeof *x);
    memcpy(y, f->ey, f->count * sizeof *y);
    *any = false;
    for (size_t k = 0; k < s->term_count; k++) {
        const pp_term *t = &s->terms[k];
        if (!is_found(t)) continue;
        take_column_out(f, (pp_field_kind)(PP_FIELD_FIRST_TERM + (int)t->kind), t->value, x, y);
        *any = true;
    }
    for (int e = 0; e < f->extra_count; e++) {
        int place = pp_screen_place(&fitting->screen, PP_FIELD_KINDS + e);
        if (place < 0 || !extra_found(s, &f->extra[e])) continue;
        take_column_out(f, (pp_field_kind)(PP_FIELD_KINDS + e), fitting->fit.beta[place], x, y);
        *any = true;
    }
    *left_x = x, *left_y = y;
    return PP_OK;
}

static pp_status root_mean_square(const pp_cause_study *s, const pp_vectors *v,
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
static pp_status write_scatter(pp_cause_study *s, pp_error *error)
{
    pp_vectors errors = pp_cause_study_vectors(s, s->field.ex, s->field.ey);
    PP_TRY(root_mean_square(s, &errors, &s->whole, &s->d.rms_before, error));
    double *x, *y;
    bool any;
    pp_mark mark = pp_arena_mark(&s->memory->scratch);
    pp_field_placement placement = s->whole;
    PP_TRY(take_found_out(s, &x, &y, &any, error));
    pp_vectors left = pp_cause_study_vectors(s, x, y);
    s->d.rms_after = s->d.rms_before;
    if (any) {
        PP_TRY(pp_field_place(&left, s->threads, &placement, error));
        PP_TRY(root_mean_square(s, &left, &placement, &s->d.rms_after, error));
    }
    pp_arena_release(&s->memory->scratch, mark);
    return PP_OK;
}

/* --- means for a small picture ------------------------------------------------------------ */

enum { ORDER_MEANS = 40, CELLS_ACROSS = 8 };

static void close_means(pp_mean_error *list, size_t *count)
{
    size_t kept = 0;
    for (size_t k = 0; k < *count; k++) {
        pp_mean_error *m = &list[k];
        if (m->holes == 0) continue;
        double n = m->holes;
        list[kept++] = (pp_mean_error){m->at_x / n, m->at_y / n, m->x / n, m->y / n, m->holes};
    }
    *count = kept;
}

static void add_mean(pp_mean_error *m, double at_x, double at_y, double x, double y)
{
    m->at_x += at_x, m->at_y += at_y, m->x += x, m->y += y, m->holes++;
}

/* A column stays in the picture if it is a term or pattern found and not told apart. */
static bool keeps_in_picture(const pp_cause_study *s, pp_field_kind kind)
{
    if (kind < PP_FIELD_FIRST_TERM) return false;
    for (size_t k = 0; kind < PP_FIELD_KINDS && k < s->term_count; k++)
        if ((int)s->terms[k].kind == (int)kind - PP_FIELD_FIRST_TERM)
            return s->terms[k].unclear != NULL;
    if (kind < PP_FIELD_KINDS) return false;
    for (size_t k = 0; k < s->pattern_count; k++)
        if (s->patterns[k].unclear && s->patterns[k].kind < PP_PATTERN_SETUP &&
            !s->field.extra[kind - PP_FIELD_KINDS].label)
            return true;
    return false;
}

/* Means of the errors without the causes that are told apart: what is unclear or left is still in
 * them. */
static pp_status write_means(pp_cause_study *s, pp_error *error)
{
    const pp_error_field *f = &s->field;
    pp_mean_error *order, *cells;
    PP_TAKE_ZERO(order, &s->memory->keep, ORDER_MEANS);
    PP_TAKE_ZERO(cells, &s->memory->keep, CELLS_ACROSS * CELLS_ACROSS);
    size_t orders = f->order_known ? ORDER_MEANS : 0, cell_count = CELLS_ACROSS * CELLS_ACROSS;
    const pp_fitting *fitting = &s->found.fitting;
    double *x, *y;
    PP_TAKE(x, &s->memory->scratch, f->count);
    PP_TAKE(y, &s->memory->scratch, f->count);
    memcpy(x, f->ex, f->count * sizeof *x);
    memcpy(y, f->ey, f->count * sizeof *y);
    for (int j = 0; j < fitting->screen.model.count; j++) {
        pp_field_kind kind = fitting->screen.model.kind[j];
        if (keeps_in_picture(s, kind)) continue;
        take_column_out(f, kind, fitting->fit.beta[j], x, y);
    }
    for (size_t i = 0; i < f->count; i++) {
        if (!s->kept[i]) continue;
        double width = 2 * f->radius * (1 + 1e-9);
        size_t column = (size_t)(CELLS_ACROSS * (f->x[i] + f->radius) / width);
        size_t row = (size_t)(CELLS_ACROSS * (f->y[i] + f->radius) / width);
        if (width > 0)
            add_mean(&cells[row * CELLS_ACROSS + column], f->x[i] + f->centre_x,
                     f->y[i] + f->centre_y, x[i], y[i]);
        if (orders) add_mean(&order[i * ORDER_MEANS / f->count], (double)i + 1, 0, x[i], y[i]);
    }
    close_means(order, &orders);
    close_means(cells, &cell_count);
    s->d.order_means = order, s->d.order_mean_count = orders;
    s->d.cell_means = cells, s->d.cell_mean_count = cell_count;
    return PP_OK;
}

static pp_status write_misdrilled(pp_cause_study *s, pp_error *error)
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

static pp_status write_tool_changes(pp_cause_study *s, pp_error *error)
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

static void write_temperature(pp_cause_study *s)
{
    for (size_t i = 0; i < s->term_count; i++) {
        const pp_term *t = &s->terms[i];
        if (t->kind != PP_TERM_SCALE || t->state == PP_TERM_NOT_TESTED) continue;
        s->d.temperature_difference = t->value / s->options->expansion;
        s->d.temperature_standard_error = t->standard_error / s->options->expansion;
    }
}

static void write_placement(pp_cause_study *s)
{
    const pp_field_placement *p = &s->whole;
    double cx = s->field.centre_x + p->centre_x, cy = s->field.centre_y + p->centre_y;
    s->d.shift_x = p->x + p->turn * cy, s->d.shift_y = p->y - p->turn * cx;
    s->d.rotation_deg = p->turn * PP_DEGREES;
}

pp_status pp_cause_study_write(pp_cause_study *s, pp_error *error)
{
    const pp_fitting *f = &s->found.fitting;
    PP_TRY(write_misdrilled(s, error));
    PP_TRY(write_tool_changes(s, error));
    write_temperature(s);
    PP_TRY(write_scatter(s, error));
    PP_TRY(write_means(s, error));
    write_placement(s);
    s->d.valid = true;
    s->d.scatter_x = f->fit.scale[0], s->d.scatter_y = f->fit.scale[1];
    s->d.autocorrelation = s->field.order_known ? f->serial.correlation : NAN;
    s->d.whitened = f->serial.rho != 0;
    s->d.lean_holes = s->lean.holes;
    s->d.lean_x = s->lean.x, s->d.lean_y = s->lean.y;
    s->d.term_count = s->term_count;
    s->d.terms = s->terms;
    return PP_OK;
}

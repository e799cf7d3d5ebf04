#include "causes/error_field.h"

#include <math.h>
#include <stdlib.h>

#include "base/constants.h"
#include "holes/drill_order.h"

enum { STRIP = 32 }; /* rows made together */

static const double REAL_MOVE = 1e-3; /* mm: an axis that moves less stands still */

/* --- from the measures -------------------------------------------------------------------- */

static bool takes_part(const pp_measures *m, size_t hole)
{
    return m->nominal->kind[hole] == PP_TUBE_HOLE && m->bore_of[PP_ENTRY][hole] != PP_NONE &&
           !m->plugged[hole];
}

typedef struct ordered {
    double order;
    uint32_t hole;
} ordered;

static int by_order(const void *left, const void *right)
{
    const ordered *a = left, *b = right;
    if (a->order != b->order) return a->order < b->order ? -1 : 1;
    return a->hole < b->hole ? -1 : a->hole > b->hole; /* ties: nominal order */
}

/* Put the holes into drilling order, if every one tells its place. */
static pp_status sort_holes(const pp_measures *m, pp_arena *arena, pp_error_field *f,
                            pp_error *error)
{
    double *order;
    ordered *list;
    PP_TAKE(order, arena, m->nominal->count);
    PP_TAKE(list, arena, f->count);
    PP_TRY(
        pp_drill_order_take(m->readings, m->hole_of_row, m->nominal->count, arena, order, error));
    for (size_t k = 0; k < f->count; k++) {
        list[k] = (ordered){order[f->hole[k]], f->hole[k]};
        f->order_missing += isnan(list[k].order) != 0;
    }
    f->order_known = f->order_missing == 0;
    if (f->order_missing == f->count) f->order_missing = 0; /* no order at all */
    if (!f->order_known) return PP_OK;
    qsort(list, f->count, sizeof *list, by_order);
    for (size_t k = 0; k < f->count; k++) f->hole[k] = list[k].hole;
    return PP_OK;
}

static pp_status list_holes(const pp_measures *m, pp_arena *arena, pp_error_field *f,
                            pp_error *error)
{
    size_t n = 0;
    for (size_t i = 0; i < m->nominal->count; i++)
        if (takes_part(m, i)) f->hole[n++] = (uint32_t)i;
    if (!m->readings->order) return PP_OK;
    pp_mark mark = pp_arena_mark(arena);
    pp_status status = sort_holes(m, arena, f, error);
    pp_arena_release(arena, mark);
    return status;
}

static void fill_places(const pp_measures *m, pp_error_field *f)
{
    double sx = 0, sy = 0, count = (double)f->count;
    for (size_t k = 0; k < f->count; k++) {
        uint32_t hole = f->hole[k];
        const pp_bore *bore = &m->bores[m->bore_of[PP_ENTRY][hole]];
        f->x[k] = m->nominal->x[hole], f->y[k] = m->nominal->y[hole];
        pp_nominal_point sent = pp_commanded_at(m->nominal, hole);
        f->ex[k] = bore->at.x - sent.x, f->ey[k] = bore->at.y - sent.y;
        sx += f->x[k], sy += f->y[k];
    }
    f->centre_x = sx / count, f->centre_y = sy / count;
    double far = 0;
    for (size_t k = 0; k < f->count; k++) {
        f->x[k] -= f->centre_x, f->y[k] -= f->centre_y;
        double square = f->x[k] * f->x[k] + f->y[k] * f->y[k];
        far = square > far ? square : far;
    }
    f->radius = sqrt(far);
}

static void fill_order(pp_error_field *f)
{
    int8_t move_x = 0, move_y = 0;
    double last = (double)(f->count - 1);
    for (size_t k = 0; k < f->count; k++) {
        f->s[k] = f->order_known && last > 0 ? ((double)k - 0.5 * last) / last : 0;
        if (f->order_known && k > 0) {
            double dx = f->x[k] - f->x[k - 1], dy = f->y[k] - f->y[k - 1];
            if (fabs(dx) > REAL_MOVE) move_x = dx > 0 ? 1 : -1;
            if (fabs(dy) > REAL_MOVE) move_y = dy > 0 ? 1 : -1;
        }
        f->move_x[k] = move_x, f->move_y[k] = move_y;
    }
}

pp_status pp_error_field_build(const pp_measures *measures, pp_arena *arena, pp_error_field *field,
                               pp_error *error)
{
    pp_error_field f = {0};
    for (size_t i = 0; i < measures->nominal->count; i++) f.count += takes_part(measures, i);
    PP_TAKE(f.hole, arena, f.count);
    PP_TAKE(f.x, arena, f.count);
    PP_TAKE(f.y, arena, f.count);
    PP_TAKE(f.ex, arena, f.count);
    PP_TAKE(f.ey, arena, f.count);
    PP_TAKE(f.s, arena, f.count);
    PP_TAKE(f.move_x, arena, f.count);
    PP_TAKE(f.move_y, arena, f.count);
    if (f.count > 0) {
        PP_TRY(list_holes(measures, arena, &f, error));
        fill_places(measures, &f);
        fill_order(&f);
    }
    *field = f;
    return PP_OK;
}

/* --- fields of unit size ------------------------------------------------------------------ */

double pp_component_value(const pp_error_field *f, const pp_component *c, int part, size_t item)
{
    switch (c->family) {
    case PP_FAMILY_STEP:
        return item >= c->first;
    case PP_FAMILY_HALF_PLATE:
        return (c->axis ? f->y : f->x)[item] > c->split;
    case PP_FAMILY_OSCILLATION: {
        double angle = PP_TURN * c->periods * (f->s[item] + 0.5);
        return part ? sin(angle) : cos(angle);
    }
    default:
        return (double)(item % 2);
    }
}

static void fill_extra(const pp_error_field *f, const pp_extra_column *e, size_t first,
                       size_t count, double *vx, double *vy)
{
    for (size_t i = 0; i < count; i++) {
        size_t item = first + i;
        double value = e->label ? e->label[item] == e->which
                                : pp_component_value(f, e->component, e->part, item);
        vx[i] = e->way == PP_EXTRA_X ? value : 0;
        vy[i] = e->way == PP_EXTRA_Y ? value : 0;
        if (e->way != PP_EXTRA_TURN || !(f->radius > 0)) continue;
        vx[i] = -value * f->y[item] / f->radius;
        vy[i] = value * f->x[item] / f->radius;
    }
}

void pp_error_field_vectors(const pp_error_field *f, pp_field_kind kind, size_t first, size_t count,
                            double *vx, double *vy)
{
    const double *x = f->x + first, *y = f->y + first, *s = f->s + first, l = f->radius;
    const int8_t *move_x = f->move_x + first, *move_y = f->move_y + first;
    if (kind >= PP_FIELD_KINDS) {
        fill_extra(f, &f->extra[kind - PP_FIELD_KINDS], first, count, vx, vy);
        return;
    }
    for (size_t i = 0; i < count; i++) vx[i] = vy[i] = 0;
    switch ((int)kind) {
    case PP_FIELD_SHIFT_X:
        for (size_t i = 0; i < count; i++) vx[i] = 1;
        break;
    case PP_FIELD_SHIFT_Y:
        for (size_t i = 0; i < count; i++) vy[i] = 1;
        break;
    case PP_FIELD_ROTATION:
        for (size_t i = 0; i < count; i++) vx[i] = -y[i], vy[i] = x[i];
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_SCALE:
        for (size_t i = 0; i < count; i++) vx[i] = x[i], vy[i] = y[i];
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_SCALE_XY:
        for (size_t i = 0; i < count; i++) vx[i] = x[i], vy[i] = -y[i];
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_SQUARENESS:
        for (size_t i = 0; i < count; i++) vx[i] = 0.5 * y[i], vy[i] = 0.5 * x[i];
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_BOW_X:
        for (size_t i = 0; l > 0 && i < count; i++) vy[i] = x[i] / l * (x[i] / l);
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_BOW_Y:
        for (size_t i = 0; l > 0 && i < count; i++) vx[i] = y[i] / l * (y[i] / l);
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_LOST_MOTION_X:
        for (size_t i = 0; i < count; i++) vx[i] = -0.5 * move_x[i];
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_LOST_MOTION_Y:
        for (size_t i = 0; i < count; i++) vy[i] = -0.5 * move_y[i];
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_DRIFT_X:
        for (size_t i = 0; i < count; i++) vx[i] = s[i];
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_DRIFT_Y:
        for (size_t i = 0; i < count; i++) vy[i] = s[i];
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_GROWTH:
        for (size_t i = 0; i < count; i++) vx[i] = x[i] * s[i], vy[i] = y[i] * s[i];
        break;
    default:
        break;
    }
}

bool pp_field_kind_has(const pp_error_field *f, pp_field_kind kind, int axis)
{
    if (kind >= PP_FIELD_KINDS) {
        pp_extra_way way = f->extra[kind - PP_FIELD_KINDS].way;
        return way == PP_EXTRA_TURN || axis == (way == PP_EXTRA_Y);
    }
    switch ((int)kind) {
    case PP_FIELD_SHIFT_X:
    case PP_FIELD_FIRST_TERM + PP_TERM_BOW_Y:
    case PP_FIELD_FIRST_TERM + PP_TERM_LOST_MOTION_X:
    case PP_FIELD_FIRST_TERM + PP_TERM_DRIFT_X:
        return axis == 0;
    case PP_FIELD_SHIFT_Y:
    case PP_FIELD_FIRST_TERM + PP_TERM_BOW_X:
    case PP_FIELD_FIRST_TERM + PP_TERM_LOST_MOTION_Y:
    case PP_FIELD_FIRST_TERM + PP_TERM_DRIFT_Y:
        return axis == 1;
    default:
        return true;
    }
}

bool pp_field_kind_needs_order(pp_field_kind kind)
{
    return (int)kind >= PP_FIELD_FIRST_TERM + PP_TERM_LOST_MOTION_X && kind < PP_FIELD_KINDS;
}

bool pp_field_kind_is_slow(pp_field_kind kind, const bool rare_reversals[2])
{
    switch ((int)kind - PP_FIELD_FIRST_TERM) {
    case PP_TERM_DRIFT_X:
    case PP_TERM_DRIFT_Y:
    case PP_TERM_GROWTH:
        return true;
    case PP_TERM_LOST_MOTION_X:
        return rare_reversals[0];
    case PP_TERM_LOST_MOTION_Y:
        return rare_reversals[1];
    default:
        return false;
    }
}

/* --- regression --------------------------------------------------------------------------- */

static void fill_row(const void *context, size_t item, pp_robust_row *row)
{
    const pp_field_model *model = context;
    const pp_error_field *f = model->field;
    double weight = f->root_weight ? f->root_weight[item] : 1;
    for (int j = 0; j < model->count; j++) {
        double vx, vy;
        pp_error_field_vectors(f, model->kind[j], item, 1, &vx, &vy);
        row->a[0][j] = weight * vx;
        row->a[1][j] = weight * vy;
    }
    row->value[0] = weight * f->ex[item];
    row->value[1] = weight * f->ey[item];
}

/* One column of the rows, `width` apart. */
static void put_column(const double *v, const double *weight, size_t count, int width, double *to)
{
    for (size_t i = 0; i < count; i++) to[i * (size_t)width] = weight ? weight[i] * v[i] : v[i];
}

/* Rows term by term, which spares the choice of the term in each row. */
static void fill_strip(const pp_field_model *model, size_t first, size_t count, int width,
                       double *rows)
{
    const pp_error_field *f = model->field;
    const double *weight = f->root_weight ? f->root_weight + first : NULL;
    int at[2] = {0, 0}; /* the next place of x and of y */
    for (int j = 0; j < model->count; j++)
        at[1] += pp_field_kind_has(model->field, model->kind[j], 0);
    for (int j = 0; j < model->count; j++) {
        double v[2][STRIP];
        pp_error_field_vectors(f, model->kind[j], first, count, v[0], v[1]);
        for (int axis = 0; axis < 2; axis++)
            if (pp_field_kind_has(model->field, model->kind[j], axis))
                put_column(v[axis], weight, count, width, rows + at[axis]++);
    }
    put_column(f->ex + first, weight, count, width, rows + width - 2);
    put_column(f->ey + first, weight, count, width, rows + width - 1);
}

static void fill_rows(const void *context, size_t first, size_t count, double *rows)
{
    const pp_field_model *model = context;
    int width = 2;
    for (int j = 0; j < model->count; j++)
        for (int axis = 0; axis < 2; axis++)
            width += pp_field_kind_has(model->field, model->kind[j], axis);
    for (size_t done = 0, strip; done < count; done += strip) {
        strip = count - done < STRIP ? count - done : STRIP;
        fill_strip(model, first + done, strip, width, rows + done * (size_t)width);
    }
}

pp_robust_problem pp_field_model_problem(const pp_field_model *model, int threads)
{
    pp_robust_problem p = {.count = model->field->count,
                           .terms = model->count,
                           .fill = fill_row,
                           .fill_rows = fill_rows,
                           .context = model,
                           .threads = threads};
    for (int j = 0; j < model->count; j++)
        for (int axis = 0; axis < 2; axis++)
            p.has[axis][j] = pp_field_kind_has(model->field, model->kind[j], axis);
    return p;
}

void pp_take_rigid_out(const double *x, const double *y, const bool *counts, size_t count,
                       double *fx, double *fy)
{
    double n = 0, cx = 0, cy = 0, mx = 0, my = 0, turn = 0, square = 0;
    for (size_t i = 0; i < count; i++)
        if (!counts || counts[i]) n++, cx += x[i], cy += y[i], mx += fx[i], my += fy[i];
    if (!(n > 0)) return;
    cx /= n, cy /= n, mx /= n, my /= n;
    for (size_t i = 0; i < count; i++) {
        if (counts && !counts[i]) continue;
        double dx = x[i] - cx, dy = y[i] - cy;
        turn += dx * (fy[i] - my) - dy * (fx[i] - mx), square += dx * dx + dy * dy;
    }
    turn = square > 0 ? turn / square : 0;
    for (size_t i = 0; i < count; i++)
        fx[i] -= mx - turn * (y[i] - cy), fy[i] -= my + turn * (x[i] - cx);
}

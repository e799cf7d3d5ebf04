#include "holes/error_field.h"

#include <math.h>
#include <stdlib.h>

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

/* A hole's place in the drilling order, from whichever of its rows tells it: a hole measured again
 * after reaming need not say once more when it was drilled. Where rows differ the latest round
 * holds, of one round the lowest. NaN where no row tells. */
static void take_orders(const pp_measures *m, ordered *of_hole, uint32_t *round)
{
    const pp_readings *r = m->readings;
    for (size_t i = 0; i < m->nominal->count; i++) {
        of_hole[i] = (ordered){NAN, (uint32_t)i};
        round[i] = 0;
    }
    for (size_t row = 0; r->order && row < r->count; row++) {
        uint32_t hole = m->hole_of_row[row];
        double order = r->order[row];
        if (hole >= m->nominal->count || isnan(order)) continue;
        uint32_t told = r->round[row];
        bool later = told > round[hole];
        if (!later && !(told == round[hole] && order < of_hole[hole].order)) continue;
        of_hole[hole].order = order, round[hole] = told;
    }
}

static pp_status list_holes(const pp_measures *m, pp_arena *arena, ordered *list, pp_error_field *f,
                            pp_error *error)
{
    ordered *of_hole;
    uint32_t *round;
    PP_TAKE(of_hole, arena, m->nominal->count);
    PP_TAKE(round, arena, m->nominal->count);
    take_orders(m, of_hole, round);
    size_t n = 0;
    for (size_t i = 0; i < m->nominal->count; i++) {
        if (!takes_part(m, i)) continue;
        list[n] = of_hole[i];
        f->order_missing += isnan(list[n].order);
        n++;
    }
    f->order_known = n > 0 && f->order_missing == 0;
    if (f->order_missing == n) f->order_missing = 0; /* no order at all */
    if (f->order_known) qsort(list, n, sizeof *list, by_order);
    return PP_OK;
}

static void fill_places(const pp_measures *m, const ordered *list, pp_error_field *f)
{
    double sx = 0, sy = 0, count = (double)f->count;
    for (size_t k = 0; k < f->count; k++) {
        uint32_t hole = f->hole[k] = list[k].hole;
        const pp_bore *bore = &m->bores[m->bore_of[PP_ENTRY][hole]];
        f->x[k] = m->nominal->x[hole], f->y[k] = m->nominal->y[hole];
        f->ex[k] = bore->x - f->x[k], f->ey[k] = bore->y - f->y[k];
        sx += f->x[k], sy += f->y[k];
    }
    f->centre_x = sx / count, f->centre_y = sy / count;
    double far = 0;
    for (size_t k = 0; k < f->count; k++) {
        f->x[k] -= f->centre_x, f->y[k] -= f->centre_y;
        far = fmax(far, f->x[k] * f->x[k] + f->y[k] * f->y[k]);
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
    ordered *list;
    PP_TAKE(list, arena, f.count);
    PP_TAKE(f.hole, arena, f.count);
    PP_TAKE(f.x, arena, f.count);
    PP_TAKE(f.y, arena, f.count);
    PP_TAKE(f.ex, arena, f.count);
    PP_TAKE(f.ey, arena, f.count);
    PP_TAKE(f.s, arena, f.count);
    PP_TAKE(f.move_x, arena, f.count);
    PP_TAKE(f.move_y, arena, f.count);
    if (f.count > 0) {
        PP_TRY(list_holes(measures, arena, list, &f, error));
        fill_places(measures, list, &f);
        fill_order(&f);
    }
    *field = f;
    return PP_OK;
}

/* --- fields of unit size ------------------------------------------------------------------ */

void pp_error_field_vector(const pp_error_field *f, pp_field_kind kind, size_t i, double *vx,
                           double *vy)
{
    double x = f->x[i], y = f->y[i], s = f->s[i], l = f->radius;
    *vx = *vy = 0;
    switch ((int)kind) {
    case PP_FIELD_SHIFT_X:
        *vx = 1;
        break;
    case PP_FIELD_SHIFT_Y:
        *vy = 1;
        break;
    case PP_FIELD_ROTATION:
        *vx = -y, *vy = x;
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_SCALE:
        *vx = x, *vy = y;
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_SCALE_XY:
        *vx = x, *vy = -y;
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_SQUARENESS:
        *vx = 0.5 * y, *vy = 0.5 * x;
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_BOW_X:
        *vy = l > 0 ? x / l * (x / l) : 0;
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_BOW_Y:
        *vx = l > 0 ? y / l * (y / l) : 0;
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_LOST_MOTION_X:
        *vx = -0.5 * f->move_x[i];
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_LOST_MOTION_Y:
        *vy = -0.5 * f->move_y[i];
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_DRIFT_X:
        *vx = s;
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_DRIFT_Y:
        *vy = s;
        break;
    case PP_FIELD_FIRST_TERM + PP_TERM_GROWTH:
        *vx = x * s, *vy = y * s;
        break;
    default:
        break;
    }
}

bool pp_field_kind_has(pp_field_kind kind, int axis)
{
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
    return (int)kind >= PP_FIELD_FIRST_TERM + PP_TERM_LOST_MOTION_X;
}

/* --- regression --------------------------------------------------------------------------- */

void pp_field_model_fill(const void *context, size_t item, pp_robust_row *row)
{
    const pp_field_model *model = context;
    const pp_error_field *f = model->field;
    double weight = f->root_weight ? f->root_weight[item] : 1;
    for (int j = 0; j < model->count; j++) {
        double vx, vy;
        pp_error_field_vector(f, model->kind[j], item, &vx, &vy);
        row->a[0][j] = weight * vx;
        row->a[1][j] = weight * vy;
    }
    row->value[0] = weight * f->ex[item];
    row->value[1] = weight * f->ey[item];
}

pp_robust_problem pp_field_model_problem(const pp_field_model *model, int threads)
{
    pp_robust_problem p = {.count = model->field->count,
                           .terms = model->count,
                           .fill = pp_field_model_fill,
                           .context = model,
                           .threads = threads};
    for (int j = 0; j < model->count; j++)
        for (int axis = 0; axis < 2; axis++)
            p.has[axis][j] = pp_field_kind_has(model->kind[j], axis);
    return p;
}

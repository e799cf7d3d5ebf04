#include "bundle/pose_system.h"

#include <math.h>
#include <string.h>

size_t pp_pose_unknowns(const pp_pose_system *w) { return PP_POSE_LINE * w->tubes + w->border; }

/* ---- A x + b ---- */

void pp_pose_move(const void *context, const double *d, pp_cone *out)
{
    const pp_pose_system *w = context;
    const double *border = d + PP_POSE_LINE * w->tubes;
    for (size_t i = 0; i < w->rows; i++) {
        const pp_pose_row *r = &w->row[i];
        double dx = r->shift != PP_POSE_NONE ? border[r->shift] : 0;
        double dy = r->shift != PP_POSE_NONE ? border[r->shift + 1] : 0;
        double turn = r->turn != PP_POSE_NONE ? border[r->turn] : 0;
        if (r->kind == PP_POSE_SHIFT) {
            out[i] = (pp_cone){0, dx, dy};
        } else if (r->kind == PP_POSE_TURN) {
            out[i] = (pp_cone){0, turn, 0};
        } else {
            const double *line = d + (size_t)PP_POSE_LINE * r->tube;
            out[i] = (pp_cone){w->radius != PP_POSE_NONE ? -border[w->radius] : 0,
                               line[0] + r->s * line[2] - dx - r->gx * turn,
                               line[1] + r->s * line[3] - dy - r->gy * turn};
        }
    }
}

void pp_pose_slacks(const void *context, const double *x, pp_cone *out)
{
    const pp_pose_system *w = context;
    pp_pose_move(w, x, out);
    for (size_t i = 0; i < w->rows; i++) {
        const pp_pose_row *r = &w->row[i];
        out[i] = (pp_cone){out[i].t + r->t, out[i].x + r->x, out[i].y + r->y};
    }
}

void pp_pose_gather(const void *context, const pp_cone *z, double *out)
{
    const pp_pose_system *w = context;
    double *border = out + PP_POSE_LINE * w->tubes;
    memset(out, 0, pp_pose_unknowns(w) * sizeof *out);
    for (size_t i = 0; i < w->rows; i++) {
        const pp_pose_row *r = &w->row[i];
        double sign = r->kind == PP_POSE_DISC ? -1 : 1;
        if (r->shift != PP_POSE_NONE) {
            border[r->shift] += sign * z[i].x;
            border[r->shift + 1] += sign * z[i].y;
        }
        if (r->turn != PP_POSE_NONE)
            border[r->turn] += r->kind == PP_POSE_TURN ? z[i].x : -r->gx * z[i].x - r->gy * z[i].y;
        if (r->kind != PP_POSE_DISC) continue;
        double *line = out + (size_t)PP_POSE_LINE * r->tube;
        line[0] += z[i].x;
        line[1] += z[i].y;
        line[2] += r->s * z[i].x;
        line[3] += r->s * z[i].y;
        if (w->radius != PP_POSE_NONE) border[w->radius] -= z[i].t;
    }
}

/* P is diagonal, and 0 but for the moves of the plates. */
void pp_pose_curve(const void *context, const double *x, double *out)
{
    const pp_pose_system *w = context;
    const double *border = x + PP_POSE_LINE * w->tubes;
    memset(out, 0, pp_pose_unknowns(w) * sizeof *out);
    for (size_t j = 0; j < w->border; j++)
        out[PP_POSE_LINE * w->tubes + j] = w->curve[j] * border[j];
}

/* ---- the step's matrix ---- */

/* Border columns that a row touches, and its rows of A there: column k moves the slack by
 * (t[k], x[k], y[k]). */
typedef struct touched {
    int count, column[4];
    pp_cone by[4];
} touched;

static void touch(touched *c, int column, pp_cone by)
{
    c->column[c->count] = column;
    c->by[c->count++] = by;
}

static touched touched_by(const pp_pose_system *w, const pp_pose_row *r)
{
    touched c = {0};
    double sign = r->kind == PP_POSE_DISC ? -1 : 1;
    if (r->shift != PP_POSE_NONE) {
        touch(&c, r->shift, (pp_cone){0, sign, 0});
        touch(&c, r->shift + 1, (pp_cone){0, 0, sign});
    }
    if (r->turn != PP_POSE_NONE)
        touch(&c, r->turn,
              r->kind == PP_POSE_TURN ? (pp_cone){0, 1, 0} : (pp_cone){0, -r->gx, -r->gy});
    if (r->kind == PP_POSE_DISC && w->radius != PP_POSE_NONE)
        touch(&c, w->radius, (pp_cone){-1, 0, 0});
    return c;
}

static void add_row(pp_pose_system *w, const pp_pose_row *r, const pp_cone_weight *m)
{
    touched c = touched_by(w, r);
    double *arm = w->arm + PP_POSE_LINE * w->border * r->tube;
    for (int j = 0; j < c.count; j++) {
        pp_cone heavy = pp_cone_weigh(m, c.by[j]);
        for (int k = 0; k < c.count; k++)
            w->corner[(size_t)c.column[k] * w->border + (size_t)c.column[j]] +=
                pp_cone_dot(c.by[k], heavy);
        if (r->kind != PP_POSE_DISC) continue;
        double *column = arm + c.column[j];
        column[0] += heavy.x;
        column[w->border] += heavy.y;
        column[2 * w->border] += r->s * heavy.x;
        column[3 * w->border] += r->s * heavy.y;
    }
    if (r->kind != PP_POSE_DISC) return;
    double *b = w->block + (size_t)10 * r->tube, s = r->s;
    b[0] += m->xx; /* rows: ax; ay; bx; by */
    b[1] += m->xy, b[2] += m->yy;
    b[3] += s * m->xx, b[4] += s * m->xy, b[5] += s * s * m->xx;
    b[6] += s * m->xy, b[7] += s * m->yy, b[8] += s * s * m->xy, b[9] += s * s * m->yy;
}

/* Lower triangle by rows, in place; false when it is not positive. */
static bool factor_block(double b[10])
{
    for (int i = 0; i < PP_POSE_LINE; i++)
        for (int j = 0; j <= i; j++) {
            double *row = b + i * (i + 1) / 2, *other = b + j * (j + 1) / 2, sum = row[j];
            for (int k = 0; k < j; k++) sum -= row[k] * other[k];
            if (i == j && !(sum > 0)) return false;
            row[j] = i == j ? sqrt(sum) : sum / other[j];
        }
    return true;
}

/* arm = factor^-1 arm;  corner -= arm' arm (lower triangle) */
static void fold_arm(pp_pose_system *w, size_t tube)
{
    const double *b = w->block + 10 * tube;
    size_t n = w->border;
    double *arm = w->arm + PP_POSE_LINE * n * tube;
    for (size_t i = 0; i < PP_POSE_LINE; i++) {
        const double *row = b + i * (i + 1) / 2;
        for (size_t k = 0; k < i; k++)
            for (size_t j = 0; j < n; j++) arm[i * n + j] -= row[k] * arm[k * n + j];
        for (size_t j = 0; j < n; j++) arm[i * n + j] /= row[i];
    }
    const double *p = arm, *q = arm + n, *r = arm + 2 * n, *t = arm + 3 * n;
    for (size_t i = 0; i < n; i++) {
        double *corner = w->corner + i * n, pi = p[i], qi = q[i], ri = r[i], ti = t[i];
        if (pi == 0 && qi == 0 && ri == 0 && ti == 0) continue; /* a plate the tube does not meet */
        for (size_t j = 0; j <= i; j++) corner[j] -= pi * p[j] + qi * q[j] + ri * r[j] + ti * t[j];
    }
}

static bool factor_corner(pp_pose_system *w)
{
    size_t n = w->border;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j <= i; j++) {
            double *row = w->corner + i * n, *other = w->corner + j * n, sum = row[j];
            for (size_t k = 0; k < j; k++) sum -= row[k] * other[k];
            if (i == j && !(sum > 0)) return false;
            row[j] = i == j ? sqrt(sum) : sum / other[j];
        }
    return true;
}

bool pp_pose_factor(void *context, const pp_cone_weight *weight)
{
    pp_pose_system *w = context;
    memset(w->block, 0, 10 * w->tubes * sizeof *w->block);
    memset(w->arm, 0, PP_POSE_LINE * w->tubes * w->border * sizeof *w->arm);
    memset(w->corner, 0, w->border * w->border * sizeof *w->corner);
    for (size_t i = 0; i < w->rows; i++) add_row(w, &w->row[i], &weight[i]);
    for (size_t j = 0; j < w->border; j++) w->corner[j * w->border + j] += w->curve[j];
    for (size_t k = 0; k < w->tubes; k++) {
        if (!factor_block(w->block + 10 * k)) return false;
        fold_arm(w, k);
    }
    return factor_corner(w);
}

static void solve_block(const double b[10], double y[PP_POSE_LINE], bool back)
{
    for (int step = 0; step < PP_POSE_LINE; step++) {
        int i = back ? PP_POSE_LINE - 1 - step : step;
        const double *row = b + i * (i + 1) / 2;
        if (back)
            for (int k = i + 1; k < PP_POSE_LINE; k++) y[i] -= b[k * (k + 1) / 2 + i] * y[k];
        else
            for (int k = 0; k < i; k++) y[i] -= row[k] * y[k];
        y[i] /= row[i];
    }
}

void pp_pose_solve(const void *context, double *right)
{
    const pp_pose_system *w = context;
    size_t n = w->border;
    double *border = right + PP_POSE_LINE * w->tubes;
    for (size_t k = 0; k < w->tubes; k++) {
        double *y = right + PP_POSE_LINE * k;
        const double *arm = w->arm + PP_POSE_LINE * n * k;
        solve_block(w->block + 10 * k, y, false);
        for (size_t i = 0; i < PP_POSE_LINE; i++)
            for (size_t j = 0; j < n; j++) border[j] -= arm[i * n + j] * y[i];
    }
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 0; k < i; k++) border[i] -= w->corner[i * n + k] * border[k];
        border[i] /= w->corner[i * n + i];
    }
    for (size_t i = n; i-- > 0;) {
        for (size_t k = i + 1; k < n; k++) border[i] -= w->corner[k * n + i] * border[k];
        border[i] /= w->corner[i * n + i];
    }
    for (size_t k = 0; k < w->tubes; k++) {
        double *y = right + PP_POSE_LINE * k;
        const double *arm = w->arm + PP_POSE_LINE * n * k;
        for (size_t i = 0; i < PP_POSE_LINE; i++)
            for (size_t j = 0; j < n; j++) y[i] -= arm[i * n + j] * border[j];
        solve_block(w->block + 10 * k, y, true);
    }
}

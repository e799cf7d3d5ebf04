#include "bundle/pose_program.h"

#include <math.h>
#include <string.h>

#include "bundle/cone_program.h"

enum { LINE = 4, NONE = -1 };
static const double GAP = 2e-10;         /* mm, of the radius */
static const double OFF_THE_WALL = 0.02; /* share of the play that the start keeps away from it */
static const double AT_START = 0.1;      /* mm of slack at the start */
/* Where rounding ends a programme early, as with thirty plates: mm of radius, which the bound says;
 * mm2 of the least moves. */
static const double GOOD_ENOUGH = 2e-6;
static const double HARDLY_OFF_THE_WALL = 1e-6;

typedef enum row_kind { ROW_DISC, ROW_SHIFT, ROW_TURN } row_kind;

/* One cone: a disc of a tube, or the play of a plate. */
typedef struct pose_row {
    row_kind kind;
    uint32_t tube; /* its block, of a disc */
    int shift;     /* border column of dx (dy next to it), or NONE */
    int turn;      /* border column of the turn, in mm at the rim, or NONE */
    double s;      /* station, -1 .. 1 */
    double t, x, y;
    double gx, gy; /* how the centre goes with the turn */
} pose_row;

typedef struct pose_work {
    size_t tubes, rows, border; /* border: columns behind the lines */
    int radius;                 /* border column of the radius, NONE: a constant */
    pose_row *row;
    double *block;     /* [tubes][10]: lower triangle of a 4 x 4 factor */
    double *arm;       /* [tubes][4][border]: factor^-1 of the coupling to the border */
    double *corner;    /* [border][border]: factor of the border, lower */
    double *at_border; /* [border]: dx, dy, turn where linearised; objective of `least` */
    double *curve;     /* [border]: diagonal of P there */
} pose_work;

static size_t unknowns_of(const pose_work *w) { return LINE * w->tubes + w->border; }

/* ---- A x + b ---- */

static void pose_move(const void *context, const double *d, pp_cone *out)
{
    const pose_work *w = context;
    const double *border = d + LINE * w->tubes;
    for (size_t i = 0; i < w->rows; i++) {
        const pose_row *r = &w->row[i];
        double dx = r->shift != NONE ? border[r->shift] : 0;
        double dy = r->shift != NONE ? border[r->shift + 1] : 0;
        double turn = r->turn != NONE ? border[r->turn] : 0;
        if (r->kind == ROW_SHIFT) {
            out[i] = (pp_cone){0, dx, dy};
        } else if (r->kind == ROW_TURN) {
            out[i] = (pp_cone){0, turn, 0};
        } else {
            const double *line = d + (size_t)LINE * r->tube;
            out[i] = (pp_cone){w->radius != NONE ? -border[w->radius] : 0,
                               line[0] + r->s * line[2] - dx - r->gx * turn,
                               line[1] + r->s * line[3] - dy - r->gy * turn};
        }
    }
}

static void pose_slacks(const void *context, const double *x, pp_cone *out)
{
    const pose_work *w = context;
    pose_move(w, x, out);
    for (size_t i = 0; i < w->rows; i++) {
        const pose_row *r = &w->row[i];
        out[i] = (pp_cone){out[i].t + r->t, out[i].x + r->x, out[i].y + r->y};
    }
}

static void pose_gather(const void *context, const pp_cone *z, double *out)
{
    const pose_work *w = context;
    double *border = out + LINE * w->tubes;
    memset(out, 0, unknowns_of(w) * sizeof *out);
    for (size_t i = 0; i < w->rows; i++) {
        const pose_row *r = &w->row[i];
        double sign = r->kind == ROW_DISC ? -1 : 1;
        if (r->shift != NONE) {
            border[r->shift] += sign * z[i].x;
            border[r->shift + 1] += sign * z[i].y;
        }
        if (r->turn != NONE)
            border[r->turn] += r->kind == ROW_TURN ? z[i].x : -r->gx * z[i].x - r->gy * z[i].y;
        if (r->kind != ROW_DISC) continue;
        double *line = out + (size_t)LINE * r->tube;
        line[0] += z[i].x;
        line[1] += z[i].y;
        line[2] += r->s * z[i].x;
        line[3] += r->s * z[i].y;
        if (w->radius != NONE) border[w->radius] -= z[i].t;
    }
}

/* P is diagonal, and 0 but for the moves of the plates. */
static void pose_curve(const void *context, const double *x, double *out)
{
    const pose_work *w = context;
    const double *border = x + LINE * w->tubes;
    memset(out, 0, unknowns_of(w) * sizeof *out);
    for (size_t j = 0; j < w->border; j++) out[LINE * w->tubes + j] = w->curve[j] * border[j];
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

static touched touched_by(const pose_work *w, const pose_row *r)
{
    touched c = {0};
    double sign = r->kind == ROW_DISC ? -1 : 1;
    if (r->shift != NONE) {
        touch(&c, r->shift, (pp_cone){0, sign, 0});
        touch(&c, r->shift + 1, (pp_cone){0, 0, sign});
    }
    if (r->turn != NONE)
        touch(&c, r->turn, r->kind == ROW_TURN ? (pp_cone){0, 1, 0} : (pp_cone){0, -r->gx, -r->gy});
    if (r->kind == ROW_DISC && w->radius != NONE) touch(&c, w->radius, (pp_cone){-1, 0, 0});
    return c;
}

static void add_row(pose_work *w, const pose_row *r, const pp_cone_weight *m)
{
    touched c = touched_by(w, r);
    double *arm = w->arm + LINE * w->border * r->tube;
    for (int j = 0; j < c.count; j++) {
        pp_cone heavy = pp_cone_weigh(m, c.by[j]);
        for (int k = 0; k < c.count; k++)
            w->corner[(size_t)c.column[k] * w->border + (size_t)c.column[j]] +=
                pp_cone_dot(c.by[k], heavy);
        if (r->kind != ROW_DISC) continue;
        double *column = arm + c.column[j];
        column[0] += heavy.x;
        column[w->border] += heavy.y;
        column[2 * w->border] += r->s * heavy.x;
        column[3 * w->border] += r->s * heavy.y;
    }
    if (r->kind != ROW_DISC) return;
    double *b = w->block + (size_t)10 * r->tube, s = r->s;
    b[0] += m->xx; /* rows: ax; ay; bx; by */
    b[1] += m->xy, b[2] += m->yy;
    b[3] += s * m->xx, b[4] += s * m->xy, b[5] += s * s * m->xx;
    b[6] += s * m->xy, b[7] += s * m->yy, b[8] += s * s * m->xy, b[9] += s * s * m->yy;
}

/* Lower triangle by rows, in place; false when it is not positive. */
static bool factor_block(double b[10])
{
    for (int i = 0; i < LINE; i++)
        for (int j = 0; j <= i; j++) {
            double *row = b + i * (i + 1) / 2, *other = b + j * (j + 1) / 2, sum = row[j];
            for (int k = 0; k < j; k++) sum -= row[k] * other[k];
            if (i == j && !(sum > 0)) return false;
            row[j] = i == j ? sqrt(sum) : sum / other[j];
        }
    return true;
}

/* arm = factor^-1 arm;  corner -= arm' arm (lower triangle) */
static void fold_arm(pose_work *w, size_t tube)
{
    const double *b = w->block + 10 * tube;
    size_t n = w->border;
    double *arm = w->arm + LINE * n * tube;
    for (size_t i = 0; i < LINE; i++) {
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

static bool factor_corner(pose_work *w)
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

static bool pose_factor(void *context, const pp_cone_weight *weight)
{
    pose_work *w = context;
    memset(w->block, 0, 10 * w->tubes * sizeof *w->block);
    memset(w->arm, 0, LINE * w->tubes * w->border * sizeof *w->arm);
    memset(w->corner, 0, w->border * w->border * sizeof *w->corner);
    for (size_t i = 0; i < w->rows; i++) add_row(w, &w->row[i], &weight[i]);
    for (size_t j = 0; j < w->border; j++) w->corner[j * w->border + j] += w->curve[j];
    for (size_t k = 0; k < w->tubes; k++) {
        if (!factor_block(w->block + 10 * k)) return false;
        fold_arm(w, k);
    }
    return factor_corner(w);
}

static void solve_block(const double b[10], double y[LINE], bool back)
{
    for (int step = 0; step < LINE; step++) {
        int i = back ? LINE - 1 - step : step;
        const double *row = b + i * (i + 1) / 2;
        if (back)
            for (int k = i + 1; k < LINE; k++) y[i] -= b[k * (k + 1) / 2 + i] * y[k];
        else
            for (int k = 0; k < i; k++) y[i] -= row[k] * y[k];
        y[i] /= row[i];
    }
}

static void pose_solve(const void *context, double *right)
{
    const pose_work *w = context;
    size_t n = w->border;
    double *border = right + LINE * w->tubes;
    for (size_t k = 0; k < w->tubes; k++) {
        double *y = right + LINE * k;
        const double *arm = w->arm + LINE * n * k;
        solve_block(w->block + 10 * k, y, false);
        for (size_t i = 0; i < LINE; i++)
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
        double *y = right + LINE * k;
        const double *arm = w->arm + LINE * n * k;
        for (size_t i = 0; i < LINE; i++)
            for (size_t j = 0; j < n; j++) y[i] -= arm[i * n + j] * border[j];
        solve_block(w->block + 10 * k, y, true);
    }
}

/* ---- from the bundle to rows and back ---- */

typedef struct pose_columns {
    int shift[PP_PLATES_MAX], turn[PP_PLATES_MAX];
} pose_columns;

static void add_play_rows(pose_work *w, const pp_pose_problem *p, const pose_columns *columns)
{
    for (size_t k = 0; k < p->plates; k++) {
        const pp_play *play = &p->play[k];
        const pp_move *at = &p->at[k];
        if (columns->shift[k] != NONE) {
            w->row[w->rows++] = (pose_row){.kind = ROW_SHIFT,
                                           .shift = columns->shift[k],
                                           .turn = NONE,
                                           .t = play->radius,
                                           .x = at->dx,
                                           .y = at->dy};
            w->at_border[columns->shift[k]] = at->dx;
            w->at_border[columns->shift[k] + 1] = at->dy;
        }
        if (columns->turn[k] != NONE) {
            w->row[w->rows++] = (pose_row){.kind = ROW_TURN,
                                           .shift = NONE,
                                           .turn = columns->turn[k],
                                           .t = play->angle * play->rim,
                                           .x = at->angle * play->rim};
            w->at_border[columns->turn[k]] = at->angle * play->rim;
        }
    }
}

/* Stations run from -1 to 1 over all discs of the programme. */
static void find_span(const pp_pose_problem *p, double *middle, double *half)
{
    double low = INFINITY, high = -INFINITY;
    for (size_t k = 0; k < p->count; k++) {
        size_t first = p->discs->first[p->tube[k]], end = p->discs->first[p->tube[k] + 1];
        for (size_t i = first; i < end; i++) {
            low = fmin(low, p->discs->disc[i].s);
            high = fmax(high, p->discs->disc[i].s);
        }
    }
    *middle = (low + high) / 2;
    *half = (high - low) / 2;
}

static void add_disc_rows(pose_work *w, const pp_pose_problem *p, const pose_columns *columns,
                          double less)
{
    double middle, half;
    find_span(p, &middle, &half);
    for (size_t k = 0; k < p->count; k++) {
        size_t first = p->discs->first[p->tube[k]], end = p->discs->first[p->tube[k] + 1];
        for (size_t i = first; i < end; i++) {
            uint8_t plate = p->discs->plate[i];
            const pp_play *play = &p->play[plate];
            pp_disc d = pp_disc_moved(p->discs->disc[i], play, &p->at[plate]);
            double lx = d.x - play->x - p->at[plate].dx, ly = d.y - play->y - p->at[plate].dy;
            w->row[w->rows++] = (pose_row){.kind = ROW_DISC,
                                           .tube = (uint32_t)k,
                                           .shift = columns->shift[plate],
                                           .turn = columns->turn[plate],
                                           .s = (d.s - middle) / half,
                                           .t = d.r - less,
                                           .x = -d.x,
                                           .y = -d.y,
                                           .gx = -ly / play->rim,
                                           .gy = lx / play->rim};
        }
    }
}

static size_t give_columns(const pp_pose_problem *p, pose_columns *columns)
{
    int next = 0;
    for (size_t k = 0; k < p->plates; k++) {
        columns->shift[k] = columns->turn[k] = NONE;
        if (p->play[k].radius > 0) columns->shift[k] = next, next += 2;
        if (p->play[k].angle > 0) columns->turn[k] = next++;
    }
    return (size_t)next;
}

/* less: what every radius is reduced by; NAN: the radius is an unknown. */
static pp_status build(const pp_pose_problem *p, double less, pp_arena *scratch, pose_work *w,
                       pose_columns *columns, pp_error *error)
{
    size_t moving = give_columns(p, columns), discs = 0;
    for (size_t k = 0; k < p->count; k++)
        discs += p->discs->first[p->tube[k] + 1] - p->discs->first[p->tube[k]];
    *w = (pose_work){.tubes = p->count,
                     .border = moving + (isnan(less) ? 1 : 0),
                     .radius = isnan(less) ? (int)moving : NONE};
    PP_TAKE_ZERO(w->row, scratch, discs + 2 * p->plates);
    PP_TAKE(w->block, scratch, 10 * p->count);
    PP_TAKE(w->arm, scratch, LINE * p->count * w->border);
    PP_TAKE(w->corner, scratch, w->border * w->border);
    PP_TAKE_ZERO(w->at_border, scratch, w->border);
    PP_TAKE_ZERO(w->curve, scratch, w->border);
    add_disc_rows(w, p, columns, isnan(less) ? 0 : less);
    add_play_rows(w, p, columns);
    return PP_OK;
}

static pp_status take_room(const pose_work *w, pp_arena *scratch, pp_cone_room *room,
                           pp_error *error)
{
    PP_TAKE(room->cone, scratch, w->rows);
    PP_TAKE(room->weight, scratch, w->rows);
    PP_TAKE(room->buffer, scratch, w->rows);
    PP_TAKE(room->right, scratch, unknowns_of(w));
    PP_TAKE(room->residual, scratch, unknowns_of(w));
    return PP_OK;
}

/* Every tube's best line where the search begins. */
static void start_lines(const pp_pose_problem *p, double *x)
{
    double middle, half;
    find_span(p, &middle, &half);
    for (size_t k = 0; k < p->count; k++) {
        pp_disc discs[PP_EDGES_MAX];
        pp_passage line;
        size_t count = pp_discs_of(p->discs, p->tube[k], p->play, p->start, discs);
        pp_passage_find(discs, count, &line, NULL);
        x[LINE * k] = line.ax + line.bx * middle;
        x[LINE * k + 1] = line.ay + line.by * middle;
        x[LINE * k + 2] = line.bx * half;
        x[LINE * k + 3] = line.by * half;
    }
}

/* The moves where the search begins, against where the programme is linearised; no plate on the
 * wall of its play: each a little shorter, by `share` of itself. */
static void start_moves(const pp_pose_problem *p, const pose_columns *columns, double share,
                        double *border)
{
    for (size_t k = 0; k < p->plates; k++) {
        const pp_move *a = &p->at[k], *b = &p->start[k];
        if (columns->shift[k] != NONE) {
            border[columns->shift[k]] = (1 - share) * b->dx - a->dx;
            border[columns->shift[k] + 1] = (1 - share) * b->dy - a->dy;
        }
        if (columns->turn[k] != NONE)
            border[columns->turn[k]] = ((1 - share) * b->angle - a->angle) * p->play[k].rim;
    }
}

static void read_moves(const pp_pose_problem *p, const pose_columns *columns, const double *border,
                       pp_move *move)
{
    for (size_t k = 0; k < p->plates; k++) {
        move[k] = p->at[k];
        if (columns->shift[k] != NONE) {
            move[k].dx += border[columns->shift[k]];
            move[k].dy += border[columns->shift[k] + 1];
        }
        if (columns->turn[k] != NONE) move[k].angle += border[columns->turn[k]] / p->play[k].rim;
    }
}

/* A turn d beyond where it is linearised takes every hole d^2 / 2 of its lever nearer to the
 * plate's origin. What that costs the radius is taken off it: bend d^2 / 2; the border counts turns
 * in mm at the rim. Without it two placements can follow each other for ever. */
static void take_off_bends(pose_work *w, const pp_pose_problem *p, const pose_columns *columns,
                           const double *bend)
{
    for (size_t k = 0; k < p->plates; k++) {
        double rim = p->play[k].rim;
        if (columns->turn[k] != NONE) w->curve[columns->turn[k]] = bend[k] / (rim * rim);
    }
}

/* The second derivative of the radius by each plate's turn, from the multipliers: -sum v.lever */
static void read_bends(const pose_work *w, const pp_pose_problem *p, const pose_columns *columns,
                       const pp_cone *z, double *bend)
{
    for (size_t k = 0; k < p->plates; k++) {
        bend[k] = 0;
        if (columns->turn[k] == NONE) continue;
        for (size_t i = 0; i < w->rows; i++) {
            const pose_row *r = &w->row[i];
            if (r->kind == ROW_DISC && r->turn == columns->turn[k])
                bend[k] -= p->play[k].rim * (z[i].x * r->gy - z[i].y * r->gx);
        }
    }
}

static double bends_off(const pose_work *w, const double *border)
{
    double off = 0;
    for (size_t j = 0; j < w->border; j++) off += w->curve[j] * border[j] * border[j] / 2;
    return off;
}

/* What taking it off can have cost: P y times how far the turn can still be from the best, at most
 * from one end of the play to the other. */
static double cost_of_turns(const pose_work *w, const double *border)
{
    double cost = 0;
    for (size_t i = 0; i < w->rows; i++) {
        const pose_row *r = &w->row[i];
        if (r->kind == ROW_TURN) cost += w->curve[r->turn] * fabs(border[r->turn]) * 2 * r->t;
    }
    return cost;
}

static pp_status not_ended(const pp_cone_end *end, pp_error *error)
{
    return pp_fail(error, PP_ENUMERIC,
                   "the placement of the plates did not reach its accuracy (%.3g mm); check the "
                   "lists for holes far out of place",
                   end->gap);
}

/* A start inside every cone: the moves a little off the wall, the radius below what passes then. */
static void start_best(const pose_work *w, const pp_pose_problem *p, const pose_columns *columns,
                       double *x, pp_cone *z)
{
    double *border = x + LINE * w->tubes, each = 1 / (double)w->rows;
    start_lines(p, x);
    start_moves(p, columns, OFF_THE_WALL, border);
    border[w->radius] = 0;
    double least = INFINITY;
    size_t discs = 0;
    for (size_t i = 0; i < w->rows; i++) discs += w->row[i].kind == ROW_DISC;
    for (size_t i = 0; i < w->rows; i++) z[i] = (pp_cone){each, 0, 0};
    for (size_t i = 0; i < w->rows; i++) {
        const pose_row *r = &w->row[i];
        if (r->kind != ROW_DISC) continue;
        z[i].t = 1 / (double)discs;
        const double *line = x + (size_t)LINE * r->tube;
        double dx = r->shift != NONE ? border[r->shift] : 0;
        double dy = r->shift != NONE ? border[r->shift + 1] : 0;
        double turn = r->turn != NONE ? border[r->turn] : 0;
        double ex = line[0] + r->s * line[2] + r->x - dx - r->gx * turn;
        double ey = line[1] + r->s * line[3] + r->y - dy - r->gy * turn;
        least = fmin(least, r->t - hypot(ex, ey));
    }
    border[w->radius] = least - AT_START;
}

static pp_status solve_best(const pp_pose_problem *p, const double *bend, pp_arena *scratch,
                            pp_pose_answer *answer, pp_error *error)
{
    pose_work w;
    pose_columns columns;
    pp_cone_room room;
    pp_cone_end end;
    double *x, *cost;
    pp_cone *z;
    PP_TRY(build(p, NAN, scratch, &w, &columns, error));
    PP_TRY(take_room(&w, scratch, &room, error));
    PP_TAKE(x, scratch, unknowns_of(&w));
    PP_TAKE_ZERO(cost, scratch, unknowns_of(&w));
    PP_TAKE(z, scratch, w.rows);
    cost[unknowns_of(&w) - 1] = -1;
    start_best(&w, p, &columns, x, z);
    take_off_bends(&w, p, &columns, bend);
    pp_cone_program program = {unknowns_of(&w), w.rows,      cost,       pose_slacks,
                               pose_move,       pose_gather, pose_curve, pose_factor,
                               pose_solve,      &w,          GAP,        1e-9};
    bool ended = pp_cone_program_solve(&program, &room, x, z, &end);
    /* rounding may end it a little early: value and bound say what it is worth */
    if (!ended && !(end.gap < GOOD_ENOUGH && end.residual < GOOD_ENOUGH))
        return not_ended(&end, error);
    const double *border = x + LINE * w.tubes;
    read_moves(p, &columns, border, answer->move);
    answer->radius = border[w.radius];
    answer->reached = answer->radius - bends_off(&w, border);
    read_bends(&w, p, &columns, z, answer->bend);
    answer->turning = cost_of_turns(&w, border);
    answer->bound = answer->radius + end.gap + answer->turning;
    for (size_t i = 0, k = 0; i < w.rows; i++)
        if (w.row[i].kind == ROW_DISC) answer->share[k++] = z[i].t;
    return PP_OK;
}

pp_status pp_pose_best(const pp_pose_problem *problem, const double *bend, pp_arena *scratch,
                       pp_pose_answer *answer, pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    pp_status status = solve_best(problem, bend, scratch, answer, error);
    pp_arena_release(scratch, mark);
    return status;
}

static pp_status solve_least(const pp_pose_problem *p, double radius, pp_arena *scratch,
                             pp_pose_answer *answer, pp_error *error)
{
    const double mu = 1e-4;
    pose_work w;
    pose_columns columns;
    pp_cone_room room;
    pp_cone_end end;
    double *x, *cost;
    pp_cone *z;
    PP_TRY(build(p, radius, scratch, &w, &columns, error));
    PP_TRY(take_room(&w, scratch, &room, error));
    PP_TAKE_ZERO(x, scratch, unknowns_of(&w));
    PP_TAKE_ZERO(cost, scratch, unknowns_of(&w));
    PP_TAKE(z, scratch, w.rows);
    memcpy(cost + LINE * w.tubes, w.at_border, w.border * sizeof *cost);
    for (size_t j = 0; j < w.border; j++) w.curve[j] = 1; /* half the sum of squares */
    start_lines(p, x);
    start_moves(p, &columns, HARDLY_OFF_THE_WALL, x + LINE * w.tubes);
    pose_slacks(&w, x, room.buffer);
    for (size_t i = 0; i < w.rows; i++) z[i] = (pp_cone){mu / fmax(room.buffer[i].t, mu), 0, 0};
    pp_cone_program program = {unknowns_of(&w), w.rows,      cost,       pose_slacks,
                               pose_move,       pose_gather, pose_curve, pose_factor,
                               pose_solve,      &w,          1e-9,       1e-8};
    bool ended = pp_cone_program_solve(&program, &room, x, z, &end);
    if (!ended && !(end.gap < GOOD_ENOUGH && end.residual < 1e-5)) return not_ended(&end, error);
    read_moves(p, &columns, x + LINE * w.tubes, answer->move);
    return PP_OK;
}

pp_status pp_pose_least(const pp_pose_problem *problem, double radius, pp_arena *scratch,
                        pp_pose_answer *answer, pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    pp_status status = solve_least(problem, radius, scratch, answer, error);
    pp_arena_release(scratch, mark);
    return status;
}

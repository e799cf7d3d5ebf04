#include "bundle/pose_program.h"

#include <math.h>
#include <string.h>

#include "bundle/pose_system.h"

static const double GAP = 2e-10;         /* mm, of the radius */
static const double ROUGH = 1e-4;        /* mm, mm2: enough to see which tubes are missing */
static const double OFF_THE_WALL = 0.02; /* share of the play that the start keeps away from it */
static const double AT_START = 0.1;      /* mm of slack at the start */
/* Where rounding ends a programme early, as with thirty plates: mm of radius, which the bound says;
 * mm2 of the least moves. */
static const double GOOD_ENOUGH = 2e-6;
static const double HARDLY_OFF_THE_WALL = 1e-6;

/* ---- from the bundle to rows and back ---- */

typedef struct pose_columns {
    int shift[PP_PLATES_MAX], turn[PP_PLATES_MAX];
} pose_columns;

static void add_play_rows(pp_pose_system *w, const pp_pose_problem *p, const pose_columns *columns)
{
    for (size_t k = 0; k < p->plates; k++) {
        const pp_play *play = &p->play[k];
        const pp_move *at = &p->at[k];
        if (columns->shift[k] != PP_POSE_NONE) {
            w->row[w->rows++] = (pp_pose_row){.kind = PP_POSE_SHIFT,
                                              .shift = columns->shift[k],
                                              .turn = PP_POSE_NONE,
                                              .t = play->radius,
                                              .x = at->dx,
                                              .y = at->dy};
            w->at_border[columns->shift[k]] = at->dx;
            w->at_border[columns->shift[k] + 1] = at->dy;
        }
        if (columns->turn[k] != PP_POSE_NONE) {
            w->row[w->rows++] = (pp_pose_row){.kind = PP_POSE_TURN,
                                              .shift = PP_POSE_NONE,
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

static void add_disc_rows(pp_pose_system *w, const pp_pose_problem *p, const pose_columns *columns,
                          double less)
{
    double middle, half;
    pp_plate_moved stand[PP_PLATES_MAX];
    find_span(p, &middle, &half);
    pp_plate_moved_of(p->play, p->at, p->plates, stand);
    for (size_t k = 0; k < p->count; k++) {
        size_t first = p->discs->first[p->tube[k]], end = p->discs->first[p->tube[k] + 1];
        for (size_t i = first; i < end; i++) {
            uint8_t plate = p->discs->plate[i];
            const pp_play *play = &p->play[plate];
            pp_disc d = pp_disc_moved(p->discs->disc[i], &stand[plate]);
            double lx = d.x - play->x - p->at[plate].dx, ly = d.y - play->y - p->at[plate].dy;
            w->row[w->rows++] = (pp_pose_row){.kind = PP_POSE_DISC,
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
        columns->shift[k] = columns->turn[k] = PP_POSE_NONE;
        if (p->play[k].radius > 0) columns->shift[k] = next, next += 2;
        if (p->play[k].angle > 0) columns->turn[k] = next++;
    }
    return (size_t)next;
}

/* less: what every radius is reduced by; NAN: the radius is an unknown. */
static pp_status build(const pp_pose_problem *p, double less, pp_arena *scratch, pp_pose_system *w,
                       pose_columns *columns, pp_error *error)
{
    size_t moving = give_columns(p, columns), discs = 0;
    for (size_t k = 0; k < p->count; k++)
        discs += p->discs->first[p->tube[k] + 1] - p->discs->first[p->tube[k]];
    *w = (pp_pose_system){.tubes = p->count,
                          .border = moving + (isnan(less) ? 1 : 0),
                          .radius = isnan(less) ? (int)moving : PP_POSE_NONE};
    PP_TAKE_ZERO(w->row, scratch, discs + 2 * p->plates);
    PP_TAKE(w->block, scratch, 10 * p->count);
    PP_TAKE(w->arm, scratch, PP_POSE_LINE * p->count * w->border);
    PP_TAKE(w->corner, scratch, w->border * w->border);
    PP_TAKE_ZERO(w->at_border, scratch, w->border);
    PP_TAKE_ZERO(w->curve, scratch, w->border);
    add_disc_rows(w, p, columns, isnan(less) ? 0 : less);
    add_play_rows(w, p, columns);
    return PP_OK;
}

static pp_status take_room(const pp_pose_system *w, pp_arena *scratch, pp_cone_room *room,
                           pp_error *error)
{
    PP_TAKE(room->cone, scratch, w->rows);
    PP_TAKE(room->weight, scratch, w->rows);
    PP_TAKE(room->buffer, scratch, w->rows);
    PP_TAKE(room->right, scratch, pp_pose_unknowns(w));
    PP_TAKE(room->residual, scratch, pp_pose_unknowns(w));
    return PP_OK;
}

/* Every tube's best line where the search begins. */
static void start_lines(const pp_pose_problem *p, double *x)
{
    double middle, half;
    pp_plate_moved stand[PP_PLATES_MAX];
    find_span(p, &middle, &half);
    pp_plate_moved_of(p->play, p->start, p->plates, stand);
    for (size_t k = 0; k < p->count; k++) {
        pp_disc discs[PP_EDGES_MAX];
        pp_passage line;
        size_t count = pp_discs_of(p->discs, p->tube[k], stand, discs);
        pp_passage_find(discs, count, &line, NULL);
        x[PP_POSE_LINE * k] = line.ax + line.bx * middle;
        x[PP_POSE_LINE * k + 1] = line.ay + line.by * middle;
        x[PP_POSE_LINE * k + 2] = line.bx * half;
        x[PP_POSE_LINE * k + 3] = line.by * half;
    }
}

/* The moves where the search begins, against where the programme is linearised; no plate on the
 * wall of its play: each a little shorter, by `share` of itself. */
static void start_moves(const pp_pose_problem *p, const pose_columns *columns, double share,
                        double *border)
{
    for (size_t k = 0; k < p->plates; k++) {
        const pp_move *a = &p->at[k], *b = &p->start[k];
        if (columns->shift[k] != PP_POSE_NONE) {
            border[columns->shift[k]] = (1 - share) * b->dx - a->dx;
            border[columns->shift[k] + 1] = (1 - share) * b->dy - a->dy;
        }
        if (columns->turn[k] != PP_POSE_NONE)
            border[columns->turn[k]] = ((1 - share) * b->angle - a->angle) * p->play[k].rim;
    }
}

static void read_moves(const pp_pose_problem *p, const pose_columns *columns, const double *border,
                       pp_move *move)
{
    for (size_t k = 0; k < p->plates; k++) {
        move[k] = p->at[k];
        if (columns->shift[k] != PP_POSE_NONE) {
            move[k].dx += border[columns->shift[k]];
            move[k].dy += border[columns->shift[k] + 1];
        }
        if (columns->turn[k] != PP_POSE_NONE)
            move[k].angle += border[columns->turn[k]] / p->play[k].rim;
    }
}

/* A turn d beyond where it is linearised takes every hole d^2 / 2 of its lever nearer to the
 * plate's origin. What that costs the radius is taken off it: bend d^2 / 2; the border counts turns
 * in mm at the rim. Without it two placements can follow each other for ever. */
static void take_off_bends(pp_pose_system *w, const pp_pose_problem *p, const pose_columns *columns,
                           const double *bend)
{
    for (size_t k = 0; k < p->plates; k++) {
        double rim = p->play[k].rim;
        if (columns->turn[k] != PP_POSE_NONE) w->curve[columns->turn[k]] = bend[k] / (rim * rim);
    }
}

/* The second derivative of the radius by each plate's turn, from the multipliers: -sum v.lever */
static void read_bends(const pp_pose_system *w, const pp_pose_problem *p,
                       const pose_columns *columns, const pp_cone *z, double *bend)
{
    for (size_t k = 0; k < p->plates; k++) {
        bend[k] = 0;
        if (columns->turn[k] == PP_POSE_NONE) continue;
        for (size_t i = 0; i < w->rows; i++) {
            const pp_pose_row *r = &w->row[i];
            if (r->kind == PP_POSE_DISC && r->turn == columns->turn[k])
                bend[k] -= p->play[k].rim * (z[i].x * r->gy - z[i].y * r->gx);
        }
    }
}

static double bends_off(const pp_pose_system *w, const double *border)
{
    double off = 0;
    for (size_t j = 0; j < w->border; j++) off += w->curve[j] * border[j] * border[j] / 2;
    return off;
}

/* What taking it off can have cost: P y times how far the turn can still be from the best, at most
 * from one end of the play to the other. */
static double cost_of_turns(const pp_pose_system *w, const double *border)
{
    double cost = 0;
    for (size_t i = 0; i < w->rows; i++) {
        const pp_pose_row *r = &w->row[i];
        if (r->kind == PP_POSE_TURN) cost += w->curve[r->turn] * fabs(border[r->turn]) * 2 * r->t;
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
static void start_best(const pp_pose_system *w, const pp_pose_problem *p,
                       const pose_columns *columns, double *x, pp_cone *z)
{
    double *border = x + PP_POSE_LINE * w->tubes, each = 1 / (double)w->rows;
    start_lines(p, x);
    start_moves(p, columns, OFF_THE_WALL, border);
    border[w->radius] = 0;
    double least = INFINITY;
    size_t discs = 0;
    for (size_t i = 0; i < w->rows; i++) discs += w->row[i].kind == PP_POSE_DISC;
    for (size_t i = 0; i < w->rows; i++) z[i] = (pp_cone){each, 0, 0};
    for (size_t i = 0; i < w->rows; i++) {
        const pp_pose_row *r = &w->row[i];
        if (r->kind != PP_POSE_DISC) continue;
        z[i].t = 1 / (double)discs;
        const double *line = x + (size_t)PP_POSE_LINE * r->tube;
        double dx = r->shift != PP_POSE_NONE ? border[r->shift] : 0;
        double dy = r->shift != PP_POSE_NONE ? border[r->shift + 1] : 0;
        double turn = r->turn != PP_POSE_NONE ? border[r->turn] : 0;
        double ex = line[0] + r->s * line[2] + r->x - dx - r->gx * turn;
        double ey = line[1] + r->s * line[3] + r->y - dy - r->gy * turn;
        least = fmin(least, r->t - hypot(ex, ey));
    }
    border[w->radius] = least - AT_START;
}

/* What the cone solver is to do with the equations of the poses. */
static pp_cone_program program_of(pp_pose_system *w, const double *cost)
{
    return (pp_cone_program){.unknowns = pp_pose_unknowns(w),
                             .cones = w->rows,
                             .cost = cost,
                             .slacks = pp_pose_slacks,
                             .move = pp_pose_move,
                             .gather = pp_pose_gather,
                             .curve = pp_pose_curve,
                             .factor = pp_pose_factor,
                             .solve = pp_pose_solve,
                             .context = w};
}

static pp_status solve_best(const pp_pose_problem *p, const double *bend, pp_arena *scratch,
                            pp_pose_answer *answer, pp_error *error)
{
    pp_pose_system w;
    pose_columns columns;
    pp_cone_room room;
    pp_cone_end end;
    double *x, *cost;
    pp_cone *z;
    PP_TRY(build(p, NAN, scratch, &w, &columns, error));
    PP_TRY(take_room(&w, scratch, &room, error));
    PP_TAKE(x, scratch, pp_pose_unknowns(&w));
    PP_TAKE_ZERO(cost, scratch, pp_pose_unknowns(&w));
    PP_TAKE(z, scratch, w.rows);
    cost[pp_pose_unknowns(&w) - 1] = -1;
    start_best(&w, p, &columns, x, z);
    take_off_bends(&w, p, &columns, bend);
    pp_cone_program program = program_of(&w, cost);
    program.gap_wanted = p->roughly ? ROUGH : GAP;
    program.residual_wanted = 1e-9;
    bool ended = pp_cone_program_solve(&program, &room, x, z, &end);
    /* rounding may end it a little early: value and bound say what it is worth */
    if (!ended && !(end.gap < GOOD_ENOUGH && end.residual < GOOD_ENOUGH))
        return not_ended(&end, error);
    const double *border = x + PP_POSE_LINE * w.tubes;
    read_moves(p, &columns, border, answer->move);
    answer->radius = border[w.radius];
    answer->reached = answer->radius - bends_off(&w, border);
    read_bends(&w, p, &columns, z, answer->bend);
    answer->turning = cost_of_turns(&w, border);
    answer->bound = answer->radius + end.gap + answer->turning;
    for (size_t i = 0, k = 0; i < w.rows; i++)
        if (w.row[i].kind == PP_POSE_DISC) answer->share[k++] = z[i].t;
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
    pp_pose_system w;
    pose_columns columns;
    pp_cone_room room;
    pp_cone_end end;
    double *x, *cost;
    pp_cone *z;
    PP_TRY(build(p, radius, scratch, &w, &columns, error));
    PP_TRY(take_room(&w, scratch, &room, error));
    PP_TAKE_ZERO(x, scratch, pp_pose_unknowns(&w));
    PP_TAKE_ZERO(cost, scratch, pp_pose_unknowns(&w));
    PP_TAKE(z, scratch, w.rows);
    memcpy(cost + PP_POSE_LINE * w.tubes, w.at_border, w.border * sizeof *cost);
    for (size_t j = 0; j < w.border; j++) w.curve[j] = 1; /* half the sum of squares */
    start_lines(p, x);
    start_moves(p, &columns, HARDLY_OFF_THE_WALL, x + PP_POSE_LINE * w.tubes);
    pp_pose_slacks(&w, x, room.buffer);
    for (size_t i = 0; i < w.rows; i++) z[i] = (pp_cone){mu / fmax(room.buffer[i].t, mu), 0, 0};
    pp_cone_program program = program_of(&w, cost);
    program.gap_wanted = p->roughly ? ROUGH : 1e-9;
    program.residual_wanted = 1e-8;
    bool ended = pp_cone_program_solve(&program, &room, x, z, &end);
    if (!ended && !(end.gap < GOOD_ENOUGH && end.residual < 1e-5)) return not_ended(&end, error);
    read_moves(p, &columns, x + PP_POSE_LINE * w.tubes, answer->move);
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

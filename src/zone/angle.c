#include "zone/angle.h"

#include <math.h>

#include "base/constants.h"

enum { FIRST_ANGLES = 6 }; /* spread over the full circle, to bound far angles at once */

pp_zone_turn pp_zone_turn_of(double angle)
{
    double half = sin(0.5 * angle);
    return (pp_zone_turn){angle, -2 * half * half, sin(angle)};
}

/* The turn with tan(angle / 2) = rise / run. */
static pp_zone_turn turn_of_half_tangent(double rise, double run)
{
    double square = rise * rise + run * run;
    return (pp_zone_turn){2 * atan2(rise, run), -2 * rise * rise / square, 2 * rise * run / square};
}

/* (R - 1) m */
static void turned_by(const pp_zone_turn *turn, double mx, double my, double *x, double *y)
{
    *x = turn->cosine_less_1 * mx - turn->sine * my;
    *y = turn->sine * mx + turn->cosine_less_1 * my;
}

static double height_of(const pp_zone_cut *cut, const pp_zone_turn *turn)
{
    return cut->d + cut->a * turn->cosine_less_1 + cut->b * turn->sine;
}

typedef struct search {
    size_t count;
    const pp_zone_hole *holes;
    pp_zone_point *points;
    pp_zone_workspace *work;
    pp_zone_optimum best;
} search;

static void consider(pp_zone_workspace *w, pp_zone_turn turn)
{
    if (!isfinite(turn.cosine_less_1) || !isfinite(turn.sine)) return;
    double height = -INFINITY;
    for (size_t k = 0; k < w->cuts; k++) height = fmax(height, height_of(&w->cut[k], &turn));
    w->turn[w->turns] = turn;
    w->height[w->turns++] = height;
}

/* Where d + a (cos - 1) + b sin = 0, as a quadratic in tan(angle / 2). */
static void consider_crossings(pp_zone_workspace *w, double a, double b, double d)
{
    double lead = d - 2 * a, disc = b * b - lead * d;
    if (!(disc >= 0)) return;
    double q = -(b + copysign(sqrt(disc), b));
    consider(w, turn_of_half_tangent(q, lead));
    consider(w, turn_of_half_tangent(d, q));
}

static void add_cut(pp_zone_workspace *w, const pp_zone_cut *cut)
{
    for (size_t k = 0; k < w->turns; k++)
        w->height[k] = fmax(w->height[k], height_of(cut, &w->turn[k]));
    w->cut[w->cuts++] = *cut;
    consider(w, pp_zone_turn_of(atan2(-cut->b, -cut->a)));
    for (size_t k = 0; k + 1 < w->cuts; k++) {
        const pp_zone_cut *old = &w->cut[k];
        consider_crossings(w, cut->a - old->a, cut->b - old->b, cut->d - old->d);
    }
}

/* What the distance between two holes proves, whatever the angle. The difference of the distances
 * comes from that of their squares, so that nothing of the size of the plate cancels. */
static void raise_floor(search *s, size_t first, size_t second)
{
    const pp_zone_hole *p = &s->holes[first], *q = &s->holes[second];
    double mx = q->mx - p->mx, my = q->my - p->my, ex = q->ex - p->ex, ey = q->ey - p->ey;
    double nx = mx - ex, ny = my - ey;
    double sum = sqrt(mx * mx + my * my) + sqrt(nx * nx + ny * ny);
    if (sum == 0) return;
    double apart = fabs(ex * (mx + nx) + ey * (my + ny)) / sum;
    double floor = 0.5 * (apart - p->allowance - q->allowance);
    if (floor <= s->work->floor) return;
    s->work->floor = floor;
    s->work->floor_item[0] = first, s->work->floor_item[1] = second;
}

/* Solve the circle at one angle: a value, and a cut that holds at every angle. */
static void evaluate(search *s, pp_zone_turn turn)
{
    for (size_t i = 0; i < s->count; i++) {
        const pp_zone_hole *h = &s->holes[i];
        double tx, ty;
        turned_by(&turn, h->mx, h->my, &tx, &ty);
        s->points[i] = (pp_zone_point){-(h->ex + tx), -(h->ey + ty), h->allowance};
    }
    pp_zone_circle circle;
    pp_zone_circle_solve(s->count, s->points, &circle);
    s->best.evaluations++;
    if (circle.value < s->best.value) {
        s->best.value = circle.value;
        s->best.turn = turn;
        s->best.x = circle.x, s->best.y = circle.y;
    }
    pp_zone_cut cut = {.count = circle.count};
    for (int k = 0; k < circle.count; k++) {
        const pp_zone_hole *h = &s->holes[circle.item[k]];
        double vx = circle.vx[k], vy = circle.vy[k];
        cut.item[k] = circle.item[k];
        cut.a += vx * h->mx + vy * h->my;
        cut.b += vy * h->mx - vx * h->my;
        cut.d += vx * h->ex + vy * h->ey - circle.lambda[k] * h->allowance;
    }
    add_cut(s->work, &cut);
    if (circle.count == 2) raise_floor(s, circle.item[0], circle.item[1]);
}

static size_t lowest_turn(const pp_zone_workspace *w)
{
    size_t low = 0;
    for (size_t k = 1; k < w->turns; k++)
        if (w->height[k] < w->height[low]) low = k;
    return low;
}

void pp_zone_angle_solve(size_t count, const pp_zone_hole *holes, double tolerance,
                         pp_zone_point *points, pp_zone_workspace *workspace,
                         pp_zone_optimum *optimum)
{
    search s = {.count = count, .holes = holes, .points = points, .work = workspace};
    s.best = (pp_zone_optimum){.value = INFINITY, .bound = -INFINITY};
    workspace->cuts = workspace->turns = 0;
    workspace->floor = -INFINITY;
    evaluate(&s, pp_zone_turn_of(0));
    for (int k = 0; k < FIRST_ANGLES; k++)
        evaluate(&s, pp_zone_turn_of(2 * PP_PI * (k + 0.5) / FIRST_ANGLES - PP_PI));
    for (;;) {
        size_t low = lowest_turn(workspace);
        double bound = fmax(workspace->height[low], workspace->floor);
        s.best.bound = fmin(bound, s.best.value);
        s.best.bound_turn = workspace->turn[low];
        if (s.best.value - s.best.bound <= tolerance || workspace->cuts == PP_ZONE_CUTS_MAX) break;
        evaluate(&s, workspace->turn[low]);
    }
    *optimum = s.best;
}

static size_t insert_once(size_t *items, size_t count, size_t item)
{
    size_t at = count;
    while (at > 0 && items[at - 1] > item) at--;
    if (at > 0 && items[at - 1] == item) return count;
    for (size_t k = count; k > at; k--) items[k] = items[k - 1];
    items[at] = item;
    return count + 1;
}

size_t pp_zone_angle_support(const pp_zone_workspace *workspace, const pp_zone_optimum *optimum,
                             double slack, size_t *items)
{
    size_t count = 0;
    if (workspace->floor >= optimum->bound - slack) {
        for (int i = 0; i < 2; i++) count = insert_once(items, count, workspace->floor_item[i]);
        return count;
    }
    for (size_t k = 0; k < workspace->cuts; k++) {
        const pp_zone_cut *cut = &workspace->cut[k];
        if (height_of(cut, &optimum->bound_turn) < optimum->bound - slack) continue;
        for (int i = 0; i < cut->count; i++) count = insert_once(items, count, cut->item[i]);
    }
    return count;
}

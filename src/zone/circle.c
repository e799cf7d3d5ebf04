#include "zone/circle.h"

#include <math.h>
#include <stdbool.h>

enum {
    BASIS_MAX = 3,
    POLISH_STEPS = 2,    /* Newton steps after the closed form of a centre touching three */
    IDLE_ROUNDS_MAX = 12 /* rounds that improve neither the centre nor the proof */
};

typedef struct place {
    double x, y;
} place;

typedef struct choice { /* a subset of the points at hand, and its centre */
    int count;
    size_t item[BASIS_MAX];
    place centre;
    double value; /* true maximum over the points at hand */
} choice;

typedef struct proof {
    double bound;
    int count;
    size_t item[BASIS_MAX];
    double lambda[BASIS_MAX], vx[BASIS_MAX], vy[BASIS_MAX];
} proof;

typedef struct hand { /* the basis and the point that joins it */
    const pp_zone_point *points;
    int count;
    size_t item[BASIS_MAX + 1];
    choice best;
    proof dual;
} hand;

static double excess(const pp_zone_point *p, place t)
{
    double dx = t.x - p->x, dy = t.y - p->y;
    return sqrt(dx * dx + dy * dy) - p->allowance;
}

static double largest(const pp_zone_point *points, int count, const size_t *item, place t)
{
    double value = excess(&points[item[0]], t);
    for (int k = 1; k < count; k++) value = fmax(value, excess(&points[item[k]], t));
    return value;
}

/* --- proofs ------------------------------------------------------------------------------- */

static void offer_proof(hand *h, const proof *candidate)
{
    if (candidate->bound > h->dual.bound) h->dual = *candidate;
}

static void prove_one(hand *h, size_t a)
{
    proof d = {.bound = -h->points[a].allowance, .count = 1, .item = {a}, .lambda = {1}};
    offer_proof(h, &d);
}

static void prove_two(hand *h, size_t a, size_t b)
{
    const pp_zone_point *p = &h->points[a], *q = &h->points[b];
    double dx = q->x - p->x, dy = q->y - p->y, d = sqrt(dx * dx + dy * dy);
    if (d == 0) return;
    double vx = 0.5 * dx / d, vy = 0.5 * dy / d;
    proof both = {.bound = 0.5 * (d - p->allowance - q->allowance),
                  .count = 2,
                  .item = {a, b},
                  .lambda = {0.5, 0.5},
                  .vx = {vx, -vx},
                  .vy = {vy, -vy}};
    offer_proof(h, &both);
}

/* Weights lambda_k with sum lambda_k u_k = 0 for the unit vectors u_k from p_k to the centre. */
static void prove_three(hand *h, const size_t item[3], place t)
{
    double ux[3], uy[3];
    for (int k = 0; k < 3; k++) {
        const pp_zone_point *p = &h->points[item[k]];
        double dx = t.x - p->x, dy = t.y - p->y, d = sqrt(dx * dx + dy * dy);
        if (d == 0) return;
        ux[k] = dx / d, uy[k] = dy / d;
    }
    double w[3], sign = 0;
    for (int k = 0; k < 3; k++) {
        int i = (k + 1) % 3, j = (k + 2) % 3;
        w[k] = ux[i] * uy[j] - uy[i] * ux[j];
        sign += w[k];
    }
    proof d = {.count = 3, .item = {item[0], item[1], item[2]}};
    for (int k = 0; k < 3; k++) {
        if (!(w[k] * sign > 0)) return; /* the centre lies outside: no proof in these three */
        d.vx[k] = fabs(w[k]) * ux[k], d.vy[k] = fabs(w[k]) * uy[k];
    }
    d.vx[2] = -(d.vx[0] + d.vx[1]), d.vy[2] = -(d.vy[0] + d.vy[1]); /* sum v = 0 in every digit */
    double sum = 0;
    for (int k = 0; k < 3; k++) sum += d.lambda[k] = hypot(d.vx[k], d.vy[k]);
    for (int k = 0; k < 3; k++) {
        d.lambda[k] /= sum, d.vx[k] /= sum, d.vy[k] /= sum;
        const pp_zone_point *p = &h->points[item[k]];
        d.bound -= d.vx[k] * (p->x - t.x) + d.vy[k] * (p->y - t.y) + d.lambda[k] * p->allowance;
    }
    offer_proof(h, &d);
}

/* --- centres ------------------------------------------------------------------------------ */

static void offer_centre(hand *h, int count, const size_t *item, place centre)
{
    double value = largest(h->points, h->count, h->item, centre);
    if (!(value < h->best.value)) return; /* also when the centre is no number */
    h->best = (choice){.count = count, .centre = centre, .value = value};
    for (int k = 0; k < count; k++) h->best.item[k] = item[k];
}

static void try_one(hand *h, size_t a)
{
    offer_centre(h, 1, &a, (place){h->points[a].x, h->points[a].y});
    prove_one(h, a);
}

static void try_two(hand *h, size_t a, size_t b)
{
    const pp_zone_point *p = &h->points[a], *q = &h->points[b];
    double dx = q->x - p->x, dy = q->y - p->y, d = sqrt(dx * dx + dy * dy);
    double from_p = 0.5 * (d + p->allowance - q->allowance);
    if (!(from_p > 0 && from_p < d)) return; /* one of the two circles lies inside the other */
    size_t item[2] = {a, b};
    offer_centre(h, 2, item, (place){p->x + from_p * (dx / d), p->y + from_p * (dy / d)});
    prove_two(h, a, b);
}

/* Newton on |t - p_k| - r_k = F, k = 0..2: rounding of the closed form goes. */
static place polish(const pp_zone_point *p[3], place t)
{
    for (int step = 0; step < POLISH_STEPS; step++) {
        double ux[3], uy[3], value[3];
        for (int k = 0; k < 3; k++) {
            double dx = t.x - p[k]->x, dy = t.y - p[k]->y, d = sqrt(dx * dx + dy * dy);
            if (d == 0) return t;
            ux[k] = dx / d, uy[k] = dy / d, value[k] = d - p[k]->allowance;
        }
        double a = ux[1] - ux[0], b = uy[1] - uy[0], c = ux[2] - ux[0], d = uy[2] - uy[0];
        double f = value[0] - value[1], g = value[0] - value[2], det = a * d - b * c;
        if (det == 0) return t;
        t.x += (f * d - b * g) / det, t.y += (a * g - f * c) / det;
    }
    return t;
}

/* Centres at distance F + r_k from each of three points. Relative to the first point, with
 * R = F + r_0, q_k = p_k - p_0, s_k = r_k - r_0: |t| = R and 2 q_k . t = |q_k|^2 - s_k^2 - 2 R s_k,
 * so t = a + b R and (b^2 - 1) R^2 + 2 a.b R + a^2 = 0. */
static void try_three(hand *h, const size_t item[3])
{
    const pp_zone_point *p[3] = {&h->points[item[0]], &h->points[item[1]], &h->points[item[2]]};
    double qx[2], qy[2], s[2], half[2];
    for (int k = 0; k < 2; k++) {
        qx[k] = p[k + 1]->x - p[0]->x, qy[k] = p[k + 1]->y - p[0]->y;
        s[k] = p[k + 1]->allowance - p[0]->allowance;
        half[k] = 0.5 * (qx[k] * qx[k] + qy[k] * qy[k] - s[k] * s[k]);
    }
    double det = qx[0] * qy[1] - qy[0] * qx[1];
    if (det == 0) return;
    double ax = (half[0] * qy[1] - qy[0] * half[1]) / det;
    double ay = (qx[0] * half[1] - half[0] * qx[1]) / det;
    double bx = -(s[0] * qy[1] - qy[0] * s[1]) / det, by = -(qx[0] * s[1] - s[0] * qx[1]) / det;
    double a = bx * bx + by * by - 1, b = ax * bx + ay * by, c = ax * ax + ay * ay;
    double disc = b * b - a * c;
    if (!(disc >= 0)) return;
    double q = -(b + copysign(sqrt(disc), b));
    double root[2] = {q / a, c / q};
    for (int k = 0; k < 2; k++) {
        if (!(root[k] >= 0 && isfinite(root[k]))) continue;
        place raw = {p[0]->x + ax + bx * root[k], p[0]->y + ay + by * root[k]};
        place t = polish(p, raw);
        offer_centre(h, 3, item, raw);
        offer_centre(h, 3, item, t);
        prove_three(h, item, t);
    }
}

/* The best of all subsets of the points at hand, and the best proof in any of them. */
static void choose(hand *h)
{
    h->best.value = INFINITY;
    h->dual.bound = -INFINITY;
    const size_t *item = h->item;
    int n = h->count;
    for (int a = 0; a < n; a++) {
        try_one(h, item[a]);
        for (int b = a + 1; b < n; b++) {
            try_two(h, item[a], item[b]);
            for (int c = b + 1; c < n; c++) try_three(h, (size_t[3]){item[a], item[b], item[c]});
        }
    }
}

static size_t farthest(size_t count, const pp_zone_point *points, place t, double *value)
{
    size_t at = 0;
    *value = -INFINITY;
    for (size_t i = 0; i < count; i++) {
        double e = excess(&points[i], t);
        if (e > *value) *value = e, at = i;
    }
    return at;
}

/* The basis and the point farthest outside it. False when that point is in it already: all that is
 * left then is rounding. */
static bool next_hand(const hand *from, size_t outside, hand *to)
{
    *to = (hand){.points = from->points, .count = from->best.count};
    for (int k = 0; k < from->best.count; k++) {
        if (from->best.item[k] == outside) return false;
        to->item[k] = from->best.item[k];
    }
    to->item[to->count++] = outside;
    choose(to);
    return true;
}

/* In exact arithmetic every round raises the basis's value, so none comes twice. In floating point
 * a basis of two is flat across its join: a point outside by delta raises the value by delta^2
 * only, which may be nothing. Rounds therefore go on while the centre or the proof still improves.
 */
void pp_zone_circle_solve(size_t count, const pp_zone_point *points, pp_zone_circle *circle)
{
    hand h = {.points = points, .count = 1, .item = {0}}, next;
    choose(&h);
    place best = h.best.centre;
    proof dual = h.dual;
    double value, best_value;
    size_t outside = farthest(count, points, best, &best_value);
    for (int idle = 0; idle < IDLE_ROUNDS_MAX && best_value > dual.bound; idle++) {
        if (!next_hand(&h, outside, &next)) break;
        h = next;
        outside = farthest(count, points, h.best.centre, &value);
        if (value < best_value) best_value = value, best = h.best.centre, idle = 0;
        if (h.dual.bound > dual.bound) dual = h.dual, idle = 0;
    }
    *circle = (pp_zone_circle){.x = best.x, .y = best.y, .value = best_value, .count = dual.count};
    for (int k = 0; k < dual.count; k++) {
        circle->item[k] = dual.item[k];
        circle->lambda[k] = dual.lambda[k];
        circle->vx[k] = dual.vx[k], circle->vy[k] = dual.vy[k];
    }
}

#include "bundle/cone_program.h"

enum { STEPS_MAX = 60 };
static const double TO_THE_WALL = 0.99; /* share of the way to the nearest wall that is gone */
static const double STALLED = 1e-9;     /* a shorter step leads nowhere */

static void read_slacks(const pp_cone_program *p, const pp_cone_room *room, const double *x)
{
    p->slacks(p->context, x, room->buffer);
    for (size_t i = 0; i < p->cones; i++) room->cone[i].s = room->buffer[i];
}

/* residual = P x + c - A'z; returns the largest */
static double read_residual(const pp_cone_program *p, const pp_cone_room *room, const double *x,
                            const pp_cone *z)
{
    double largest = 0;
    p->gather(p->context, z, room->right);
    if (p->curve)
        p->curve(p->context, x, room->residual);
    else
        for (size_t k = 0; k < p->unknowns; k++) room->residual[k] = 0;
    for (size_t k = 0; k < p->unknowns; k++) {
        room->residual[k] += p->cost[k] - room->right[k];
        largest = fmax(largest, fabs(room->residual[k]));
    }
    return largest;
}

/* (P + A'W^-2 A) dx = A'push - residual;  ds = A dx;  dz = push - W^-2 ds */
static void find_direction(const pp_cone_program *p, const pp_cone_room *room)
{
    for (size_t i = 0; i < p->cones; i++) room->buffer[i] = room->cone[i].push;
    p->gather(p->context, room->buffer, room->right);
    for (size_t k = 0; k < p->unknowns; k++) room->right[k] -= room->residual[k];
    p->solve(p->context, room->right);
    p->move(p->context, room->right, room->buffer);
    for (size_t i = 0; i < p->cones; i++) {
        pp_cone_work *c = &room->cone[i];
        c->ds = room->buffer[i];
        c->dz = pp_cone_plus(c->push, -1, pp_cone_weigh(&room->weight[i], c->ds));
    }
}

static double longest_step(const pp_cone_program *p, const pp_cone_room *room, const pp_cone *z)
{
    double step = 2;
    for (size_t i = 0; i < p->cones; i++) {
        const pp_cone_work *c = &room->cone[i];
        double primal = pp_cone_step(c->s, c->ds), dual = pp_cone_step(z[i], c->dz);
        if (primal < step) step = primal;
        if (dual < step) step = dual;
    }
    return step;
}

/* Towards s'z = 0 at once: W dz + W^-1 ds = -lambda */
static double predict(const pp_cone_program *p, const pp_cone_room *room, const pp_cone *z,
                      double gap)
{
    for (size_t i = 0; i < p->cones; i++) room->cone[i].push = (pp_cone){-z[i].t, -z[i].x, -z[i].y};
    find_direction(p, room);
    double step = fmin(1, longest_step(p, room, z)), left = 0;
    for (size_t i = 0; i < p->cones; i++) {
        const pp_cone_work *c = &room->cone[i];
        left += pp_cone_dot(pp_cone_plus(c->s, step, c->ds), pp_cone_plus(z[i], step, c->dz));
    }
    double share = fmin(1, fmax(0, left / gap));
    return share * share * share;
}

/* lambda o (W dz + W^-1 ds) = centred - lambda o lambda - (W^-1 ds') o (W dz') */
static void correct(const pp_cone_program *p, const pp_cone_room *room, double centred)
{
    for (size_t i = 0; i < p->cones; i++) {
        pp_cone_work *c = &room->cone[i];
        const pp_cone_scaling *w = &c->scaling;
        pp_cone second = pp_cone_product(pp_cone_unscale(w, c->ds), pp_cone_scale(w, c->dz));
        pp_cone want = pp_cone_plus(pp_cone_product(w->lambda, w->lambda), 1, second);
        want = (pp_cone){centred - want.t, -want.x, -want.y};
        c->push = pp_cone_unscale(w, pp_cone_divide(w->lambda, want));
    }
    find_direction(p, room);
}

static bool scale_all(const pp_cone_program *p, const pp_cone_room *room, const pp_cone *z)
{
    for (size_t i = 0; i < p->cones; i++)
        if (!pp_cone_scaling_of(room->cone[i].s, z[i], &room->cone[i].scaling, &room->weight[i]))
            return false;
    return p->factor(p->context, room->weight);
}

bool pp_cone_program_solve(const pp_cone_program *p, const pp_cone_room *room, double *x,
                           pp_cone *z, pp_cone_end *end)
{
    for (int steps = 0;; steps++) {
        double gap = 0;
        read_slacks(p, room, x);
        for (size_t i = 0; i < p->cones; i++) gap += pp_cone_dot(room->cone[i].s, z[i]);
        double residual = read_residual(p, room, x, z);
        *end = (pp_cone_end){.gap = gap, .residual = residual, .steps = steps};
        if (gap <= p->gap_wanted && residual <= p->residual_wanted) return true;
        if (steps == STEPS_MAX || !scale_all(p, room, z)) return false;
        double centring = predict(p, room, z, gap);
        correct(p, room, centring * gap / (double)p->cones);
        double step = fmin(1, TO_THE_WALL * longest_step(p, room, z));
        if (!(step > STALLED)) return false;
        for (size_t k = 0; k < p->unknowns; k++) x[k] += step * room->right[k];
        for (size_t i = 0; i < p->cones; i++) z[i] = pp_cone_plus(z[i], step, room->cone[i].dz);
    }
}

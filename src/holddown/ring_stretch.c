#include "holddown/ring_stretch.h"

#include <math.h>

enum { STEPS = 400 };

/* Slope of the deflection over the radius, outer radius 1: particular + even r + inverse/r */
typedef struct ring {
    double bore, nu;
    double even, inverse;
} ring;

typedef struct slope {
    double value, change; /* th and dth/dr */
} slope;

static slope slope_at(const ring *p, double r)
{
    double b2 = p->bore * p->bore;
    return (slope){r * r * r / 16 - b2 * r * log(r) / 4 + p->even * r + p->inverse / r,
                   3 * r * r / 16 - b2 * (log(r) + 1) / 4 + p->even - p->inverse / (r * r)};
}

static double moment_at(const ring *p, double r)
{
    slope s = slope_at(p, r);
    return s.change + p->nu * s.value / r;
}

/* No moment at either edge; of a disc nothing that grows without bound at the middle. */
static ring free_of_moments(double bore, double nu)
{
    ring p = {.bore = bore, .nu = nu};
    double outside = moment_at(&p, 1);
    if (bore > 0) {
        double inside = moment_at(&p, bore);
        p.inverse = (inside - outside) / ((1 - nu) * (1 / (bore * bore) - 1));
    }
    p.even = -(outside - (1 - nu) * p.inverse) / (1 + nu);
    return p;
}

/* Integrals from the bore on, by the rule of the middle */
typedef struct sums {
    double deflection, heat, area, mean, square, bending;
} sums;

static void add_step(sums *s, const ring *p, double r, double dr)
{
    slope at = slope_at(p, r);
    double hoop = at.value / r, before = s->heat;
    s->deflection += at.value * dr;
    s->heat += at.value * hoop / 2 * dr;
    double g = 0.5 * (before + s->heat);
    s->area += r * dr;
    s->mean += g * r * dr;
    s->square += g * g * r * dr;
    s->bending += (at.change * at.change + hoop * hoop + 2 * p->nu * at.change * hoop) * r * dr;
}

double pp_ring_stretch(double bore, double poisson_ratio)
{
    ring p = free_of_moments(bore, poisson_ratio);
    sums s = {0};
    double from = bore;
    for (int k = 1; k <= STEPS; k++) {
        double to = bore + (1 - bore) * k / STEPS;
        add_step(&s, &p, 0.5 * (from + to), to - from);
        from = to;
    }
    double stretching = 0.5 * (s.square - s.mean * s.mean / s.area);
    double bending = s.bending / (24 * (1 - poisson_ratio * poisson_ratio));
    /* of the cap's height, what lies between the edges */
    double between = (1 - bore * bore) / s.deflection;
    return 2 * stretching / bending * between * between;
}

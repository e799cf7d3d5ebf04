#include "holddown/clamp_scale.h"

#include <math.h>

typedef struct stretch {
    double from, step; /* N */
    size_t places;     /* steps in it; 0: no end */
} stretch;

static const stretch SCALE[] = {{0, 50, 40}, {2000, 100, 20}, {4000, 200, 30}, {10000, 500, 0}};
/* a force read back from a report is not to fall onto the next step for its last digits */
static const double ROUNDING = 1e-9;

double pp_clamp_force_at(size_t place)
{
    const stretch *s = SCALE;
    while (s->places && place > s->places) place -= s++->places;
    return s->from + s->step * (double)place;
}

size_t pp_clamp_place_of(double force)
{
    size_t before = 0;
    const stretch *s = SCALE;
    while (s->places && force > s[1].from * (1 + ROUNDING)) before += s++->places;
    return before + (size_t)ceil((force - s->from) / s->step - ROUNDING * force / s->step);
}

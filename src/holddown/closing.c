#include "holddown/closing.h"

#include <math.h>

static const double CLOSE_TOLERANCE = 1e-9; /* mm, of a gap brought to its target */
static const double NARROWEST = 1e-14;      /* share of the force, of a bracket worth halving */

bool pp_closing_open(pp_closing *c, double over)
{
    c->tried++;
    if (fabs(over) < CLOSE_TOLERANCE) return false;
    if (over > 0)
        c->low = c->force;
    else
        c->high = c->force;
    if (c->low >= c->cap) {
        c->force = NAN;
        return false;
    }
    return c->tried < PP_CLOSING_MOST;
}

/* Whether the gap has risen over the last step, and rises on */
static bool rises_on(pp_closing *c, double over, const pp_contact_straight *line)
{
    bool up = isinf(c->high) && !(line->slope < 0);
    bool on = up && over >= c->risen; /* false for NaN */
    c->risen = up ? over : NAN;
    return on && c->force >= c->steady;
}

bool pp_closing_next(pp_closing *c, double over, const pp_contact_straight *line)
{
    double next = -line->at_zero / line->slope;
    bool nowhere = !(line->slope < 0) || next > c->cap;
    if (rises_on(c, over, line)) {
        c->force = NAN, c->far = true;
        return false;
    }
    if (nowhere) next = c->cap, c->far = true;
    if (over > 0 && next > c->step * c->force) next = c->step * c->force;
    if (!(next > c->low && next < c->high))
        next = isinf(c->high) ? c->cap : 0.5 * (c->low + c->high);
    if (next > c->cap) next = c->cap;
    bool narrow = isfinite(c->high) && c->high - c->low <= NARROWEST * c->high;
    if (next == c->force || narrow) return false;
    c->force = next;
    return true;
}

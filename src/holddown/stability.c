#include "holddown/stability.h"

#include <math.h>

#include "base/constants.h"

enum { DIRECTIONS = 720 };
static const double LINE_LEAST = 0.1; /* of the width: supports nearer to the middle are no line */

/* Touched as surveyed, before the tolerance grew */
static bool was_touched(const pp_hold_plate *plate, size_t i)
{
    return plate->touching[i] && -plate->survey_lift[i] <= plate->touch_gap_asked;
}

/* How far the supports reach from the centre of gravity that way: those at rest, or without
 * `state` those touched as surveyed */
static double reach(const pp_hold_plate *plate, const pp_hold_state *state, double angle)
{
    const pp_supports *s = &plate->supports;
    double farthest = -INFINITY;
    size_t count = state ? state->base.active : s->count;
    for (size_t j = 0; j < count; j++) {
        size_t i = state ? state->base.order[j] : j;
        if (!state && !was_touched(plate, i)) continue;
        farthest = fmax(farthest, (s->x[i] - plate->mesh->centre_x) * cos(angle) +
                                      (s->y[i] - plate->mesh->centre_y) * sin(angle));
    }
    return farthest;
}

double pp_tip_distance(const pp_hold_plate *plate, const pp_hold_state *state)
{
    double least = INFINITY, line = INFINITY, farthest = 0;
    for (int k = 0; k < DIRECTIONS; k++) {
        double angle = PP_TURN * k / DIRECTIONS;
        least = fmin(least, reach(plate, state, angle));
        if (!plate->touch_gap_grown) continue;
        double first = reach(plate, NULL, angle);
        line = fmin(line, first);
        farthest = fmax(farthest, first);
    }
    bool is_line = farthest > LINE_LEAST * pp_outline_across(&plate->mesh->shape);
    return fmin(fmax(least, 0), is_line ? fabs(line) : INFINITY);
}

#include "holddown/stability.h"

#include <math.h>

#include "base/constants.h"

enum { DIRECTIONS = 720 };

double pp_tip_distance(const pp_hold_plate *plate, const pp_hold_state *state)
{
    const pp_contact_base *base = &state->base;
    double least = INFINITY;
    for (int k = 0; k < DIRECTIONS; k++) {
        double angle = PP_TURN * k / DIRECTIONS, farthest = -INFINITY;
        for (size_t j = 0; j < base->active; j++) {
            size_t i = base->order[j];
            farthest =
                fmax(farthest, (plate->supports.x[i] - plate->mesh->centre_x) * cos(angle) +
                                   (plate->supports.y[i] - plate->mesh->centre_y) * sin(angle));
        }
        least = fmin(least, farthest);
    }
    return fmax(least, 0);
}

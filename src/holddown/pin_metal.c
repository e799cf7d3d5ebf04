#include "holddown/pin_metal.h"

#include <math.h>

#include "base/compare.h"
#include "base/grid.h"

double pp_drilled_radius(const pp_nominal *nominal, size_t hole, double hole_diameter)
{
    bool other = nominal->kind && nominal->kind[hole] == PP_OTHER_HOLE && nominal->diameter;
    double own = other ? nominal->diameter[hole] : NAN;
    return 0.5 * (own > 0 ? own : hole_diameter);
}

double pp_pin_metal(const pp_nominal *nominal, double hole_diameter, double pin_diameter, double x,
                    double y, uint32_t *nearest)
{
    double least = INFINITY;
    uint32_t who = PP_NONE;
    for (size_t h = 0; h < nominal->count; h++) {
        double metal = hypot(nominal->x[h] - x, nominal->y[h] - y) -
                       pp_drilled_radius(nominal, h, hole_diameter) - 0.5 * pin_diameter;
        if (metal < least) least = metal, who = (uint32_t)h;
    }
    if (nearest) *nearest = who;
    return least;
}

pp_status pp_pins_check_metal(const pp_pin_clearance *c, size_t count, const double *x,
                              const double *y, double *metal, pp_error *error)
{
    for (size_t k = 0; k < count; k++) {
        metal[k] = pp_pin_metal(c->nominal, c->hole_diameter, c->pin_diameter, x[k], y[k], NULL);
        if (pp_less_than(metal[k], c->least))
            return pp_fail(error, PP_ENUMERIC,
                           "a pin at (%g, %g) would stand %.3f mm from a hole, and %.3f mm are "
                           "asked for; give the pins as a list of your own",
                           x[k], y[k], metal[k], c->least);
    }
    return PP_OK;
}

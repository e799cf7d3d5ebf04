#include "holddown/pin_fixture.h"

#include <math.h>

#include "base/constants.h"
#include "holddown/pin_metal.h"

pp_status pp_pin_fixture_make(const pp_fixture_request *r, pp_memory *memory,
                              const pp_fixture_pin **pins, pp_error *error)
{
    const pp_supports *s = r->supports;
    bool sized = r->pin_diameter > 0 && r->hole_diameter > 0;
    double top = PP_PI / 4 * r->pin_diameter * r->pin_diameter;
    pp_fixture_pin *list;
    PP_TAKE(list, &memory->keep, s->count);
    for (size_t i = 0; i < s->count; i++) {
        double solid = r->solid ? r->solid[i] : NAN, drilled = r->drilled ? r->drilled[i] : NAN;
        list[i] = (pp_fixture_pin){.number = (size_t)s->pin[i] + 1,
                                   .x = s->x[i],
                                   .y = s->y[i],
                                   .height = s->level + s->height[i],
                                   .metal = NAN,
                                   .nearest = PP_NONE,
                                   .load_solid = solid,
                                   .load_drilled = drilled,
                                   .pressure = fmax(solid, drilled) / top}; /* skips NaN */
        if (sized)
            list[i].metal = pp_pin_metal(r->nominal, r->hole_diameter, r->pin_diameter, s->x[i],
                                         s->y[i], &list[i].nearest);
    }
    *pins = list;
    return PP_OK;
}

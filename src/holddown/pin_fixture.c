#include "holddown/pin_fixture.h"

#include <math.h>

#include "base/constants.h"
#include "base/grid.h"

enum { NEAR_MAX = 1024 };

static double radius_of(const pp_fixture_request *r, uint32_t hole)
{
    const pp_nominal *n = r->nominal;
    bool own = n->kind && n->kind[hole] != PP_TUBE_HOLE && n->diameter;
    double diameter = own && pp_given(n->diameter[hole]) ? n->diameter[hole] : r->hole_diameter;
    return diameter / 2;
}

/* The hole whose edge comes nearest to the pin's */
static void find_metal(const pp_fixture_request *r, const pp_grid *grid, pp_fixture_pin *pin)
{
    uint32_t near[NEAR_MAX];
    size_t count = pp_grid_near(grid, pin->x, pin->y, r->reach, NEAR_MAX, near);
    pin->metal = INFINITY;
    for (size_t k = 0; k < count && k < NEAR_MAX; k++) {
        uint32_t h = near[k];
        double centres = hypot(r->nominal->x[h] - pin->x, r->nominal->y[h] - pin->y);
        double metal = centres - radius_of(r, h) - r->pin_diameter / 2;
        if (metal < pin->metal || (metal == pin->metal && h < pin->nearest))
            pin->metal = metal, pin->nearest = h;
    }
}

pp_status pp_pin_fixture_make(const pp_fixture_request *r, pp_memory *memory,
                              const pp_fixture_pin **pins, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    const pp_supports *s = r->supports;
    bool sized = r->pin_diameter > 0 && r->hole_diameter > 0;
    double top = PP_PI / 4 * r->pin_diameter * r->pin_diameter;
    pp_fixture_pin *list;
    pp_grid grid;
    PP_TAKE(list, &memory->keep, s->count);
    PP_TRY(pp_grid_build(r->nominal->count, r->nominal->x, r->nominal->y, r->reach,
                         &memory->scratch, &grid, error));
    for (size_t i = 0; i < s->count; i++) {
        double solid = r->solid ? r->solid[i] : NAN, drilled = r->drilled ? r->drilled[i] : NAN;
        list[i] = (pp_fixture_pin){.number = (size_t)s->pin[i] + 1,
                                   .x = s->x[i],
                                   .y = s->y[i],
                                   .height = s->height[i],
                                   .metal = NAN,
                                   .nearest = PP_NONE,
                                   .load_solid = solid,
                                   .load_drilled = drilled,
                                   .pressure = fmax(solid, drilled) / top}; /* skips NaN */
        if (sized) find_metal(r, &grid, &list[i]);
    }
    pp_arena_release(&memory->scratch, mark);
    *pins = list;
    return PP_OK;
}

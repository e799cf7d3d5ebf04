/* A plate that was set out turned or mirrored: by name its holes miss, by place they match. */
#include "base/grid.h"
#include "bundle/mates.h"

enum { TRIALS = 6 };
static const double MOST = 0.8; /* share of the holes that has to miss, and to match */

static const struct {
    double xx, xy, yx, yy; /* what is done to a point about the plate's origin */
    const char *remedy;
} TRIAL[TRIALS] = {
    {-1, 0, 0, -1, "turn it by 180 deg (turn)"},
    {0, -1, 1, 0, "turn it by 90 deg (turn)"},
    {0, 1, -1, 0, "turn it by -90 deg (turn)"},
    {-1, 0, 0, 1, "mirror it left to right (view)"},
    {1, 0, 0, -1, "mirror it top to bottom (view)"},
    {0, 1, 1, 0, "mirror it and turn it by 90 deg (view and turn)"},
};

/* Holes of the plate that have a tube by name, and how many lie within `reach` of where the tube
 * should be when the plate is first treated as `trial` says. */
static size_t in_place(const pp_set_plate *plate, const pp_plate_holes *holes,
                       const uint32_t *tube_of, const pp_tube_list *tubes, double reach, int trial,
                       size_t *named)
{
    size_t count = 0;
    *named = 0;
    for (size_t i = 0; i < holes->count; i++) {
        const pp_plate_hole *h = &holes->hole[i];
        if (!h->measured || tube_of[i] == PP_NONE) continue;
        double x = h->x[0] - plate->shift_x, y = h->y[0] - plate->shift_y, tx = x, ty = y;
        if (trial < TRIALS) {
            tx = TRIAL[trial].xx * x + TRIAL[trial].xy * y;
            ty = TRIAL[trial].yx * x + TRIAL[trial].yy * y;
        }
        double dx = tx + plate->shift_x - tubes->x[tube_of[i]];
        double dy = ty + plate->shift_y - tubes->y[tube_of[i]];
        ++*named;
        count += hypot(dx, dy) <= reach;
    }
    return count;
}

static pp_status count_places(const pp_plate_holes *holes, const uint32_t *tube_of,
                              const pp_tube_list *tubes, double reach, pp_memory *memory,
                              size_t *count, pp_error *error)
{
    pp_grid grid;
    *count = 0;
    PP_TRY(
        pp_grid_build(tubes->count, tubes->x, tubes->y, 2 * reach, &memory->scratch, &grid, error));
    for (size_t i = 0; i < holes->count; i++) {
        const pp_plate_hole *h = &holes->hole[i];
        double distance;
        if (!h->measured || tube_of[i] == PP_NONE) continue;
        *count += pp_grid_nearest(&grid, h->x[0], h->y[0], reach, &distance) != UINT32_MAX;
    }
    return PP_OK;
}

pp_status pp_turn_hint(const pp_set_plate *plate, const pp_plate_holes *holes,
                       const uint32_t *tube_of, const pp_tube_list *tubes, pp_memory *memory,
                       bool *turned, const char **hint, pp_error *error)
{
    size_t named, places, right;
    double reach = tubes->pitch / 2;
    *turned = false;
    *hint = NULL;
    if (!(reach > 0)) return PP_OK;
    right = in_place(plate, holes, tube_of, tubes, reach, TRIALS, &named);
    if (!named || (double)(named - right) <= MOST * (double)named) return PP_OK;
    for (int trial = 0; trial < TRIALS && !*hint; trial++)
        if ((double)in_place(plate, holes, tube_of, tubes, reach, trial, &named) >
            MOST * (double)named)
            *hint = TRIAL[trial].remedy;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = count_places(holes, tube_of, tubes, reach, memory, &places, error);
    pp_arena_release(&memory->scratch, mark);
    *turned = *hint || (double)places > MOST * (double)named;
    return status;
}

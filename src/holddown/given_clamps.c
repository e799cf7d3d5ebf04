#include "holddown/given_clamps.h"

#include <math.h>

#include "holddown/clamp_forces.h"
#include "holddown/curvature.h"

static const double APART =
    1; /* mm; nearer than that two clamps are one. Common practice, no source */

static pp_status list_blocks(const pp_hold_places *holes, double reach, pp_arena *keep,
                             pp_clamp *clamp, pp_error *error)
{
    uint32_t *blocks;
    size_t n = 0;
    if (!(reach > 0)) return PP_OK;
    for (size_t h = 0; h < holes->count; h++)
        n += hypot(holes->x[h] - clamp->x, holes->y[h] - clamp->y) <= reach;
    PP_TAKE(blocks, keep, n);
    clamp->blocks = blocks;
    for (uint32_t h = 0; h < holes->count; h++)
        if (hypot(holes->x[h] - clamp->x, holes->y[h] - clamp->y) <= reach)
            blocks[clamp->block_count++] = h;
    return PP_OK;
}

static double distance_from_pin(const pp_hold_plate *plate, double x, double y)
{
    double least = INFINITY;
    if (plate->table) return 0;
    for (size_t i = 0; i < plate->supports.count; i++)
        least = fmin(least, hypot(plate->supports.x[i] - x, plate->supports.y[i] - y));
    return least;
}

pp_status pp_given_clamps_list(const pp_given_clamps *given, const pp_hold_plate *plate,
                               const pp_hold_places *holes, double hole_diameter, pp_memory *memory,
                               const pp_clamp **clamps, pp_error *error)
{
    pp_clamp *list;
    double half_hole = hole_diameter > 0 ? hole_diameter / 2 : 0;
    PP_TAKE(list, &memory->keep, given->count);
    for (size_t k = 0; k < given->count; k++) {
        const pp_job_clamp *one = &given->clamps[k];
        if (!pp_mesh_inside(plate->mesh, one->x, one->y))
            return pp_fail_at(error, PP_EINPUT, given->job_file, one->line, 0,
                              "clamp %s at (%g, %g) stands beside the plate; give the place where "
                              "it presses, in the plate's axes",
                              one->name, one->x, one->y);
        for (size_t i = 0; i < k; i++)
            if (hypot(one->x - list[i].x, one->y - list[i].y) < APART)
                return pp_fail_at(error, PP_EINPUT, given->job_file, one->line, 0,
                                  "clamps %s and %s stand on one spot, (%g, %g); give one clamp of "
                                  "their force together, or its own place to each",
                                  list[i].name, one->name, one->x, one->y);
        list[k] = (pp_clamp){.name = one->name,
                             .x = one->x,
                             .y = one->y,
                             .force = one->force,
                             .edge_stop = one->kind == PP_EDGE_STOP,
                             .from_pin = distance_from_pin(plate, one->x, one->y)};
        if (one->pad > 0)
            PP_TRY(list_blocks(holes, one->pad / 2 + half_hole, &memory->keep, &list[k], error));
    }
    *clamps = list;
    return PP_OK;
}

pp_status pp_given_clamps_stress(const pp_hold_plate *plate, const pp_hold_state *rest,
                                 const pp_plate_spec *material, size_t count,
                                 const pp_clamp *clamps, pp_memory *memory, double *stress,
                                 pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    size_t n = plate->mesh->dofs;
    pp_hold_state with;
    pp_hold_force *forces;
    double *change;
    PP_TAKE(forces, &memory->scratch, count);
    PP_TAKE(change, &memory->scratch, n);
    PP_TRY(pp_hold_state_take(plate, &memory->scratch, &with, error));
    PP_TRY(pp_clamp_forces(plate, count, clamps, memory, forces, error));
    PP_TRY(pp_hold_settle(plate, NULL, count, forces, &rest->base, memory, &with, error));
    for (size_t i = 0; i < n; i++) change[i] = with.field[i] - rest->field[i];
    *stress = pp_curvature_stress(material, plate->mesh, change);
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

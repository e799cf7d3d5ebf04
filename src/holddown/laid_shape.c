#include "holddown/laid_shape.h"

#include <math.h>
#include <string.h>

#include "flatness/map.h"
#include "holddown/study.h"

pp_status pp_laid_shape(const pp_flatness *flatness, const pp_thickness_readings *readings,
                        pp_memory *memory, const double **shape, bool *underside, pp_error *error)
{
    const pp_surface *top = &flatness->surface, *below = flatness->underside;
    *shape = top->field;
    *underside = below && flatness->thickness.valid && below->mesh->dofs == top->mesh->dofs;
    double *raised;
    size_t n = top->mesh->dofs;
    if (!*underside && !readings->terms) return PP_OK;
    PP_TAKE(raised, &memory->keep, n);
    *shape = raised;
    if (!*underside) { /* the top less the thickness, as read */
        memcpy(raised, top->field, n * sizeof *raised);
        pp_thickness_take_off(readings, top->mesh, raised);
        return PP_OK;
    }
    for (size_t i = 0; i < n; i++)
        raised[i] = below->field[i] + (i % 4 == 0 ? flatness->thickness.mean : 0);
    return PP_OK;
}

pp_status pp_gap_sample(const pp_flatness *flatness, const double *field, bool table,
                        pp_memory *memory, const double **gap, pp_error *error)
{
    const pp_map *map = &flatness->map;
    size_t count = map->rows * map->columns;
    const double *height;
    double *clipped;
    *gap = NULL;
    if (count == 0) return PP_OK;
    PP_TAKE(clipped, &memory->keep, count);
    PP_TRY(pp_map_sample(map, flatness->surface.mesh, field, memory, &height, error));
    for (size_t i = 0; i < count; i++)
        clipped[i] = isnan(height[i]) ? NAN : table ? fmax(height[i], 0) : height[i];
    *gap = clipped;
    return PP_OK;
}

pp_status pp_holddown_map_gap(const pp_job *job, const pp_flatness *flatness, pp_memory *memory,
                              const double **gap, pp_error *error)
{
    *gap = NULL;
    if (job->support.kind == PP_SUPPORT_NONE || job->survey.laid != PP_LAID_ON_SUPPORTS ||
        !flatness->surface_valid)
        return PP_OK;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    bool on_pins = job->support.kind == PP_SUPPORT_PINS, underside;
    pp_place_list pins;
    const double *shape;
    double *seated;
    if (on_pins) PP_TRY(pp_places_read(job, &job->support.file, memory, &pins, error));
    pp_thickness_readings readings;
    PP_TRY(pp_thickness_read(job, flatness->surface.mesh, memory, &readings, error));
    PP_TRY(pp_laid_shape(flatness, &readings, memory, &shape, &underside, error));
    PP_TAKE(seated, &memory->scratch, flatness->surface.mesh->dofs);
    pp_support_spec spec =
        pp_support_spec_of(job, flatness->surface.standard_error, on_pins ? &pins : NULL, NULL);
    PP_TRY(pp_hold_seat(flatness->surface.mesh, shape, &spec, memory, seated, error));
    PP_TRY(pp_gap_sample(flatness, seated, !on_pins, memory, gap, error));
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

#include "flatness/surface_system.h"

#include <math.h>
#include <string.h>

#include "linalg/linalg.h"

static const double energy_poisson = 0.3; /* in the bending energy used for smoothing */

pp_status pp_surface_stiffness(const pp_mesh *mesh, pp_memory *memory, double *k, pp_error *error)
{
    size_t column = mesh->half_bandwidth + 1;
    double sum = 0;
    unsigned char *active;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    PP_TAKE(active, &memory->scratch, mesh->nodes);
    PP_TRY(pp_mesh_stiffness(mesh, energy_poisson, k, error));
    pp_mesh_active_nodes(mesh, active);
    /* any value does for the inert: this one keeps the condition number that of the plate */
    for (size_t d = 0; d < mesh->dofs; d++)
        if (active[d / 4]) sum += k[d * column];
    for (size_t d = 0; d < mesh->dofs; d++)
        if (!active[d / 4]) k[d * column] = sum / (double)mesh->active_dofs;
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

/* The surface's polynomials above the base plane. */
static pp_status above_base(const pp_surface *surface, const pp_base_plane *base, pp_memory *memory,
                            pp_cell_polynomial **cells, pp_error *error)
{
    const pp_mesh *mesh = surface->mesh;
    double *field;
    PP_TAKE(field, &memory->scratch, mesh->dofs);
    PP_TAKE(*cells, &memory->scratch, mesh->nx * mesh->ny);
    for (size_t j = 0; j <= mesh->ny; j++)
        for (size_t i = 0; i <= mesh->nx; i++) {
            size_t d = 4 * pp_mesh_node(mesh, i, j);
            double x = mesh->x0 + (double)i * mesh->hx - mesh->centre_x;
            double y = mesh->y0 + (double)j * mesh->hy - mesh->centre_y;
            field[d] = surface->field[d] - base->height - base->slope_x * x - base->slope_y * y;
            field[d + 1] = surface->field[d + 1] - mesh->hx * base->slope_x;
            field[d + 2] = surface->field[d + 2] - mesh->hy * base->slope_y;
            field[d + 3] = surface->field[d + 3];
        }
    pp_cell_polynomials(mesh, field, *cells);
    return PP_OK;
}

pp_status pp_surface_system_make(const pp_survey *survey, const pp_surface *surface, double scale,
                                 int threads, pp_memory *memory, pp_surface_system *system,
                                 pp_error *error)
{
    const pp_mesh *mesh = surface->mesh;
    pp_survey_pass pass = {.survey = survey,
                           .mesh = mesh,
                           .base = pp_survey_base_plane(survey, mesh),
                           .threads = threads};
    pp_survey_moments plain, weighted;
    PP_TRY(pp_survey_gather(&pass, memory, &plain, error));
    const pp_survey_moments *used = &plain;
    if (scale > 0) {
        pp_cell_polynomial *cells;
        PP_TRY(above_base(surface, &pass.base, memory, &cells, error));
        PP_TAKE(weighted.cells, &memory->scratch, mesh->nx * mesh->ny);
        PP_TRY(pp_survey_gather_weighted(&pass, cells, scale, &plain, memory, &weighted, error));
        used = &weighted;
    }
    pp_surface_system s = {.mesh = mesh,
                           .base = pass.base,
                           .n = mesh->dofs,
                           .half_bandwidth = mesh->half_bandwidth,
                           .zz = used->zz,
                           .weight = used->weight,
                           .count = plain.count};
    PP_TAKE_ZERO(s.normal, &memory->scratch, s.n * (s.half_bandwidth + 1));
    PP_TAKE_ZERO(s.load, &memory->scratch, s.n);
    PP_TAKE(s.stiffness, &memory->scratch, s.n * (s.half_bandwidth + 1));
    PP_TRY(pp_surface_stiffness(mesh, memory, s.stiffness, error));
    pp_survey_normal_equations(used, mesh, s.normal, s.load);
    *system = s;
    return PP_OK;
}

pp_status pp_surface_system_find(const pp_survey *survey, const pp_surface *surface, double scale,
                                 int threads, pp_memory *memory, pp_surface_system *system,
                                 pp_error *error)
{
    if (!surface->system || scale > 0)
        return pp_surface_system_make(survey, surface, scale, threads, memory, system, error);
    *system = *surface->system;
    return PP_OK;
}

pp_status pp_surface_system_factor(const pp_surface_system *s, double mu, double *factor,
                                   pp_error *error)
{
    size_t values = s->n * (s->half_bandwidth + 1);
    for (size_t k = 0; k < values; k++) factor[k] = s->normal[k] + mu * s->stiffness[k];
    return pp_band_factor(s->n, s->half_bandwidth, factor, error);
}

bool pp_surface_row(const pp_mesh *mesh, double x, double y, pp_mesh_row *row)
{
    static const double BEYOND = 1.25, BEFORE = -0.25; /* a quarter cell, as in the fit */
    pp_mesh_place p = pp_mesh_find(mesh, x, y);
    if (p.s > BEYOND || p.s < BEFORE || p.t > BEYOND || p.t < BEFORE) return false;
    pp_mesh_shape(mesh, p, 0, 0, row);
    return true;
}

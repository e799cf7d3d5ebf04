/* Plates with a known shape for the hold-down tests: no survey, no fit in between. */
#ifndef PP_TESTS_HOLDPLATES_H
#define PP_TESTS_HOLDPLATES_H

#include <math.h>
#include <stdlib.h>

#include "elements/mesh.h"
#include "input/job/job.h"
#include "rules/holddown_rules.h"

/* Height and derivatives of a surface at (x, y) from the plate's centre: w, w_x, w_y, w_xy. */
typedef void (*test_shape)(double x, double y, double w[4]);

static inline pp_job test_hold_job(pp_outline outline, double width, double height,
                                   double thickness)
{
    return (pp_job){
        .path = "test.ini",
        .plate = {.outline = outline,
                  .diameter = width,
                  .width = width,
                  .height = height,
                  .thickness = thickness,
                  .thickness_variation = NAN,
                  .elastic_modulus = 200000,
                  .poisson_ratio = 0.3,
                  .density = 7850,
                  .yield_strength = NAN},
        .survey = {.laid = PP_LAID_ON_SUPPORTS},
        .support = {.kind = PP_SUPPORT_TABLE,
                    .seat = PP_SEAT_LEVEL,
                    .pin_load_limit = NAN,
                    .touch_gap = 0.02},
        .foot = {.force = 5000, .outer_diameter = NAN, .inner_diameter = NAN, .thrust = NAN},
        .holddown = {.gap_limit = 0.25,
                     .force_cap = NAN,
                     .clamp_force_limit = NAN,
                     .clamp_pad = NAN,
                     .tilt_limit = NAN},
        .holes = {.pitch = NAN, .tube_diameter = NAN},
        .rules = {.hole_nominal = {NAN, 0}}};
}

/* The shape as a field of the mesh: exact for products of cubics */
static inline double *test_field(const pp_mesh *m, test_shape shape, pp_memory *memory)
{
    double *field = pp_arena_take(&memory->keep, m->dofs, sizeof *field);
    for (size_t j = 0; j <= m->ny; j++)
        for (size_t i = 0; i <= m->nx; i++) {
            double w[4], *f = field + 4 * pp_mesh_node(m, i, j);
            shape(m->x0 + (double)i * m->hx - m->centre_x, m->y0 + (double)j * m->hy - m->centre_y,
                  w);
            f[0] = w[0], f[1] = m->hx * w[1], f[2] = m->hy * w[2], f[3] = m->hx * m->hy * w[3];
        }
    return field;
}

/* Everything that pp_holddown_study needs to know of the surface. */
static inline pp_flatness test_flatness(const pp_mesh *mesh, const double *field)
{
    return (pp_flatness){.surface_valid = true,
                         .surface = {.mesh = mesh, .field = field, .standard_error = 0.004}};
}

#endif

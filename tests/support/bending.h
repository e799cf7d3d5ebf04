/* The plate elements put under the loads and on the supports of the textbooks, by the names of
 * data/reference/plate_bending/coefficients.csv: deflection as a coefficient of q a^4/D or P a^2/D.
 */
#ifndef PP_TESTS_BENDING_H
#define PP_TESTS_BENDING_H

#include "base/constants.h"
#include "support/check.h"

#include <stdlib.h>

#include "elements/mesh.h"
#include "linalg/linalg.h"

#define BENDING_SIDE                                                                               \
    437.0 /* of the square; the disc's radius: a value no factor can hide behind                   \
           */
#define BENDING_PI PP_PI

typedef struct bending_model {
    pp_memory memory;
    pp_error error;
    pp_mesh mesh;
    double *band, *load;
    size_t column;
} bending_model;

static inline void bending_setup(bending_model *m, pp_outline outline, size_t cells, double nu)
{
    pp_outline_spec spec = {.kind = outline,
                            .diameter = 2 * BENDING_SIDE,
                            .width = BENDING_SIDE,
                            .height = BENDING_SIDE,
                            .centre_x = 91.7,
                            .centre_y = -233.1};
    *m = (bending_model){0};
    assert_ok(pp_mesh_make(spec, cells, &m->memory, &m->mesh, &m->error), &m->error);
    m->column = m->mesh.half_bandwidth + 1;
    m->band = pp_arena_take(&m->memory.keep, m->mesh.dofs * m->column, sizeof(double));
    m->load = pp_arena_take_zero(&m->memory.keep, m->mesh.dofs, sizeof(double));
    assert_ok(pp_mesh_stiffness(&m->mesh, nu, m->band, &m->error), &m->error);
}

/* Row of shape values at (x, y) from the centre. */
static inline pp_mesh_row bending_row_at(const bending_model *m, double x, double y)
{
    pp_mesh_row row;
    pp_mesh_shape(&m->mesh, pp_mesh_find(&m->mesh, m->mesh.centre_x + x, m->mesh.centre_y + y), 0,
                  0, &row);
    return row;
}

static inline void bending_add_force(bending_model *m, double x, double y, double force)
{
    pp_mesh_row row = bending_row_at(m, x, y);
    for (int l = 0; l < 16; l++) m->load[row.dof[l]] += force * row.value[l];
}

/* The same force spread evenly over a ring. */
static inline void bending_add_ring_force(bending_model *m, double radius, size_t points,
                                          double force)
{
    for (size_t k = 0; k < points; k++) {
        double angle = 2 * BENDING_PI * ((double)k + 0.25) / (double)points;
        bending_add_force(m, radius * cos(angle), radius * sin(angle), force / (double)points);
    }
}

static inline void bending_add_pressure(bending_model *m, double q)
{
    double *unit = pp_arena_take(&m->memory.scratch, m->mesh.dofs, sizeof(double));
    pp_mesh_uniform_load(&m->mesh, unit);
    for (size_t d = 0; d < m->mesh.dofs; d++) m->load[d] += q * unit[d];
}

static inline void bending_add_spring(bending_model *m, double x, double y, double stiffness)
{
    pp_mesh_row row = bending_row_at(m, x, y);
    for (int l = 0; l < 16; l++)
        for (int k = 0; k < 16; k++)
            if (row.dof[l] >= row.dof[k])
                m->band[row.dof[k] * m->column + (row.dof[l] - row.dof[k])] +=
                    stiffness * row.value[l] * row.value[k];
}

static inline void bending_hold(bending_model *m, size_t dof)
{
    for (size_t k = 1; k < m->column; k++) {
        if (dof + k < m->mesh.dofs) m->band[dof * m->column + k] = 0;
        if (k <= dof) m->band[(dof - k) * m->column + k] = 0;
    }
    m->band[dof * m->column] = 1;
    m->load[dof] = 0;
}

static inline void bending_solve(bending_model *m)
{
    size_t n = m->mesh.dofs, kd = m->mesh.half_bandwidth;
    assert_ok(pp_band_factor(n, kd, m->band, &m->error), &m->error);
    assert_ok(pp_band_solve(n, kd, m->band, 1, m->load, &m->error), &m->error);
}

static inline double bending_deflection(const bending_model *m, double x, double y)
{
    pp_mesh_row row = bending_row_at(m, x, y);
    return pp_mesh_value(&row, m->load);
}

enum bending_edge { SIMPLE, CLAMPED, SYMMETRIC };

static inline void bending_hold_edges(bending_model *m, enum bending_edge kind)
{
    const pp_mesh *mesh = &m->mesh;
    for (size_t j = 0; j <= mesh->ny; j++)
        for (size_t i = 0; i <= mesh->nx; i++) {
            bool x_edge = i == 0 || i == mesh->nx, y_edge = j == 0 || j == mesh->ny;
            if (!x_edge && !y_edge) continue;
            size_t node = pp_mesh_node(mesh, i, j);
            if (kind != SYMMETRIC || (x_edge && y_edge)) bending_hold(m, 4 * node);
            /* w = 0 along an edge takes the slope along it too; a mirror line has no slope across
             */
            if (kind == CLAMPED || (kind == SIMPLE ? y_edge : x_edge))
                bending_hold(m, 4 * node + 1);
            if (kind == CLAMPED || (kind == SIMPLE ? x_edge : y_edge))
                bending_hold(m, 4 * node + 2);
            if (kind != SIMPLE) bending_hold(m, 4 * node + 3);
        }
}

static inline void bending_add_unit_load(bending_model *m, bool pressure)
{
    if (pressure)
        bending_add_pressure(m, 1 / pow(BENDING_SIDE, 4));
    else
        bending_add_force(m, 0, 0, 1 / (BENDING_SIDE * BENDING_SIDE));
}

static inline double bending_square_on_edges(const char *name, size_t cells, double nu)
{
    bending_model m;
    bending_setup(&m, PP_OUTLINE_RECTANGLE, cells, nu);
    bending_add_unit_load(&m, strstr(name, "pressure") != NULL);
    bending_hold_edges(&m, strncmp(name, "ss", 2) == 0     ? SIMPLE
                           : strncmp(name, "flat", 4) == 0 ? SYMMETRIC
                                                           : CLAMPED);
    bending_solve(&m);
    double w = bending_deflection(&m, 0, strstr(name, "mid_span") ? -BENDING_SIDE / 2 : 0);
    pp_memory_free(&m.memory);
    return w;
}

static inline double bending_square_on_corners(const char *name, size_t cells, double nu)
{
    bending_model m;
    bending_setup(&m, PP_OUTLINE_RECTANGLE, cells, nu);
    bending_add_unit_load(&m, true);
    for (size_t j = 0; j <= m.mesh.ny; j += m.mesh.ny)
        for (size_t i = 0; i <= m.mesh.nx; i += m.mesh.nx)
            bending_hold(&m, 4 * pp_mesh_node(&m.mesh, i, j));
    bending_solve(&m);
    double w = bending_deflection(&m, strstr(name, "mid_edge") ? BENDING_SIDE / 2 : 0, 0);
    pp_memory_free(&m.memory);
    return w;
}

/* A disc under a load and the ring or points that carry it. Both are put on as forces in balance,
 * so that the three springs that stop the rigid motion carry nothing; w counts from the support. */
static inline double bending_disc(const char *name, size_t cells, double nu)
{
    bending_model m;
    bending_setup(&m, PP_OUTLINE_DISC, cells, nu);
    bool pressure = strstr(name, "pressure") || strstr(name, "ring_half");
    double radius = strstr(name, "post")        ? 0
                    : strstr(name, "ring_half") ? BENDING_SIDE / 2
                                                : BENDING_SIDE;
    size_t points = strstr(name, "two_points")      ? 2
                    : strstr(name, "three_points")  ? 3
                    : strstr(name, "four_points")   ? 4
                    : strstr(name, "twelve_points") ? 12
                    : radius == 0                   ? 1
                                                    : 1440;
    bending_add_unit_load(&m, pressure);
    bending_add_ring_force(&m, radius, points,
                           -(pressure
                                 ? BENDING_PI * BENDING_SIDE * BENDING_SIDE / pow(BENDING_SIDE, 4)
                                 : 1 / pow(BENDING_SIDE, 2)));
    for (int k = 0; k < 3; k++)
        bending_add_spring(&m, 0.6 * BENDING_SIDE * cos(2.1 * k), 0.6 * BENDING_SIDE * sin(2.1 * k),
                           1e-3);
    bending_solve(&m);
    double support = 0;
    for (size_t k = 0; k < points; k++) {
        double angle = 2 * BENDING_PI * ((double)k + 0.25) / (double)points;
        support +=
            bending_deflection(&m, radius * cos(angle), radius * sin(angle)) / (double)points;
    }
    double w;
    if (strstr(name,
               "free_edge")) { /* square to the two points; both ends, so that a tilt cancels */
        w = (bending_deflection(&m, -BENDING_SIDE * sqrt(0.5), BENDING_SIDE * sqrt(0.5)) +
             bending_deflection(&m, BENDING_SIDE * sqrt(0.5), -BENDING_SIDE * sqrt(0.5))) /
                2 -
            support;
    } else if (strstr(name, "edge")) {
        w = 0;
        for (int k = 0; k < 360; k++)
            w += bending_deflection(&m, BENDING_SIDE * cos(k * BENDING_PI / 180),
                                    BENDING_SIDE * sin(k * BENDING_PI / 180)) /
                 360;
        w -= support;
    } else {
        w = bending_deflection(&m, 0, 0) - support;
    }
    if (strstr(name, "_per_load")) w /= BENDING_PI; /* P = pi R^2 q */
    pp_memory_free(&m.memory);
    return w;
}

static inline double bending_coefficient(const char *name, size_t cells, double nu)
{
    if (strncmp(name, "disc", 4) == 0) return bending_disc(name, cells, nu);
    if (strncmp(name, "corner", 6) == 0) return bending_square_on_corners(name, cells, nu);
    return bending_square_on_edges(name, cells, nu);
}

#endif

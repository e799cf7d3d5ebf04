/* The plate elements against published and closed-form deflections of thin plates: square and disc,
 * supported on edges, corners, columns, rim points, rings, under pressure and point load.
 * Values, sources and tolerances: data/reference/plate_bending. */
#include "support/check.h"

#include <stdlib.h>

#include "linalg/linalg.h"
#include "plate/mesh.h"

#define SIDE 437.0 /* of the square; the disc's radius: a value no factor can hide behind */
static const double pi = 3.14159265358979323846;

typedef struct model {
    pp_memory memory;
    pp_error error;
    pp_mesh mesh;
    double *band, *load;
    size_t column;
} model;

static void setup(model *m, pp_outline outline, size_t cells, double nu)
{
    pp_job job = {.plate = {.outline = outline,
                            .diameter = 2 * SIDE,
                            .width = SIDE,
                            .height = SIDE,
                            .centre_x = 91.7,
                            .centre_y = -233.1}};
    *m = (model){0};
    assert_ok(pp_mesh_make(&job, cells, &m->memory, &m->mesh, &m->error), &m->error);
    m->column = m->mesh.half_bandwidth + 1;
    m->band = pp_arena_take(&m->memory.keep, m->mesh.dofs * m->column, sizeof(double));
    m->load = pp_arena_take_zero(&m->memory.keep, m->mesh.dofs, sizeof(double));
    assert_ok(pp_mesh_stiffness(&m->mesh, nu, m->band, &m->memory, &m->error), &m->error);
}

/* Row of shape values at (x, y) from the centre. */
static pp_mesh_row row_at(const model *m, double x, double y)
{
    pp_mesh_row row;
    pp_mesh_shape(&m->mesh, pp_mesh_find(&m->mesh, m->mesh.centre_x + x, m->mesh.centre_y + y), 0,
                  0, &row);
    return row;
}

static void add_force(model *m, double x, double y, double force)
{
    pp_mesh_row row = row_at(m, x, y);
    for (int l = 0; l < 16; l++) m->load[row.dof[l]] += force * row.value[l];
}

/* The same force spread evenly over a ring. */
static void add_ring_force(model *m, double radius, size_t points, double force)
{
    for (size_t k = 0; k < points; k++) {
        double angle = 2 * pi * ((double)k + 0.25) / (double)points;
        add_force(m, radius * cos(angle), radius * sin(angle), force / (double)points);
    }
}

static void add_pressure(model *m, double q)
{
    double *unit = pp_arena_take(&m->memory.scratch, m->mesh.dofs, sizeof(double));
    assert_ok(pp_mesh_uniform_load(&m->mesh, unit, &m->memory, &m->error), &m->error);
    for (size_t d = 0; d < m->mesh.dofs; d++) m->load[d] += q * unit[d];
}

static void add_spring(model *m, double x, double y, double stiffness)
{
    pp_mesh_row row = row_at(m, x, y);
    for (int l = 0; l < 16; l++)
        for (int k = 0; k < 16; k++)
            if (row.dof[l] >= row.dof[k])
                m->band[row.dof[k] * m->column + (row.dof[l] - row.dof[k])] +=
                    stiffness * row.value[l] * row.value[k];
}

static void hold(model *m, size_t dof)
{
    for (size_t k = 1; k < m->column; k++) {
        if (dof + k < m->mesh.dofs) m->band[dof * m->column + k] = 0;
        if (k <= dof) m->band[(dof - k) * m->column + k] = 0;
    }
    m->band[dof * m->column] = 1;
    m->load[dof] = 0;
}

static void solve(model *m)
{
    size_t n = m->mesh.dofs, kd = m->mesh.half_bandwidth;
    assert_ok(pp_band_factor(n, kd, m->band, &m->error), &m->error);
    assert_ok(pp_band_solve(n, kd, m->band, 1, m->load, &m->error), &m->error);
}

static double deflection(const model *m, double x, double y)
{
    pp_mesh_row row = row_at(m, x, y);
    return pp_mesh_value(&row, m->load);
}

enum edge { SIMPLE, CLAMPED, SYMMETRIC };

static void hold_edges(model *m, enum edge kind)
{
    const pp_mesh *mesh = &m->mesh;
    for (size_t j = 0; j <= mesh->ny; j++)
        for (size_t i = 0; i <= mesh->nx; i++) {
            bool x_edge = i == 0 || i == mesh->nx, y_edge = j == 0 || j == mesh->ny;
            if (!x_edge && !y_edge) continue;
            size_t node = mesh->x_fastest ? j * (mesh->nx + 1) + i : i * (mesh->ny + 1) + j;
            if (kind != SYMMETRIC || (x_edge && y_edge)) hold(m, 4 * node);
            /* w = 0 along an edge takes the slope along it too; a mirror line has no slope across
             */
            if (kind == CLAMPED || (kind == SIMPLE ? y_edge : x_edge)) hold(m, 4 * node + 1);
            if (kind == CLAMPED || (kind == SIMPLE ? x_edge : y_edge)) hold(m, 4 * node + 2);
            if (kind != SIMPLE) hold(m, 4 * node + 3);
        }
}

static void add_unit_load(model *m, bool pressure)
{
    if (pressure)
        add_pressure(m, 1 / pow(SIDE, 4));
    else
        add_force(m, 0, 0, 1 / (SIDE * SIDE));
}

static double square_on_edges(const char *name, size_t cells, double nu)
{
    model m;
    setup(&m, PP_OUTLINE_RECTANGLE, cells, nu);
    add_unit_load(&m, strstr(name, "pressure") != NULL);
    hold_edges(&m, strncmp(name, "ss", 2) == 0     ? SIMPLE
                   : strncmp(name, "flat", 4) == 0 ? SYMMETRIC
                                                   : CLAMPED);
    solve(&m);
    double w = deflection(&m, 0, strstr(name, "mid_span") ? -SIDE / 2 : 0);
    pp_memory_free(&m.memory);
    return w;
}

static double square_on_corners(const char *name, size_t cells, double nu)
{
    model m;
    setup(&m, PP_OUTLINE_RECTANGLE, cells, nu);
    add_unit_load(&m, true);
    for (size_t j = 0; j <= m.mesh.ny; j += m.mesh.ny)
        for (size_t i = 0; i <= m.mesh.nx; i += m.mesh.nx)
            hold(&m, 4 * (m.mesh.x_fastest ? j * (m.mesh.nx + 1) + i : i * (m.mesh.ny + 1) + j));
    solve(&m);
    double w = deflection(&m, strstr(name, "mid_edge") ? SIDE / 2 : 0, 0);
    pp_memory_free(&m.memory);
    return w;
}

/* A disc under a load and the ring or points that carry it. Both are put on as forces in balance,
 * so that the three springs that stop the rigid motion carry nothing; w counts from the support. */
static double disc(const char *name, size_t cells, double nu)
{
    model m;
    setup(&m, PP_OUTLINE_DISC, cells, nu);
    bool pressure = strstr(name, "pressure") || strstr(name, "ring_half");
    double radius = strstr(name, "post") ? 0 : strstr(name, "ring_half") ? SIDE / 2 : SIDE;
    size_t points = strstr(name, "two_points")      ? 2
                    : strstr(name, "three_points")  ? 3
                    : strstr(name, "twelve_points") ? 12
                    : radius == 0                   ? 1
                                                    : 1440;
    add_unit_load(&m, pressure);
    add_ring_force(&m, radius, points,
                   -(pressure ? pi * SIDE * SIDE / pow(SIDE, 4) : 1 / pow(SIDE, 2)));
    for (int k = 0; k < 3; k++)
        add_spring(&m, 0.6 * SIDE * cos(2.1 * k), 0.6 * SIDE * sin(2.1 * k), 1e-3);
    solve(&m);
    double support = 0;
    for (size_t k = 0; k < points; k++) {
        double angle = 2 * pi * ((double)k + 0.25) / (double)points;
        support += deflection(&m, radius * cos(angle), radius * sin(angle)) / (double)points;
    }
    double w;
    if (strstr(name,
               "free_edge")) { /* square to the two points; both ends, so that a tilt cancels */
        w = (deflection(&m, -SIDE * sqrt(0.5), SIDE * sqrt(0.5)) +
             deflection(&m, SIDE * sqrt(0.5), -SIDE * sqrt(0.5))) /
                2 -
            support;
    } else if (strstr(name, "edge")) {
        w = 0;
        for (int k = 0; k < 360; k++)
            w += deflection(&m, SIDE * cos(k * pi / 180), SIDE * sin(k * pi / 180)) / 360;
        w -= support;
    } else {
        w = deflection(&m, 0, 0) - support;
    }
    if (strstr(name, "_per_load")) w /= pi; /* P = pi R^2 q */
    pp_memory_free(&m.memory);
    return w;
}

static double coefficient(const char *name, size_t cells, double nu)
{
    if (strncmp(name, "disc", 4) == 0) return disc(name, cells, nu);
    if (strncmp(name, "corner", 6) == 0) return square_on_corners(name, cells, nu);
    return square_on_edges(name, cells, nu);
}

static void coefficients_agree(void **state)
{
    (void)state;
    FILE *file = fopen(PP_SOURCE_DIR "/data/reference/plate_bending/coefficients.csv", "r");
    assert_non_null(file);
    char line[200], name[80];
    int rows = 0, wrong = 0;
    while (fgets(line, sizeof line, file)) {
        double nu, value, tolerance;
        size_t cells;
        if (line[0] == '#') continue;
        assert_int_equal(
            sscanf(line, "%79[^,],%zu,%lf,%lf,%lf", name, &cells, &nu, &value, &tolerance), 5);
        double got = coefficient(name, cells, nu), off = got / value - 1;
        if (getenv("PP_SHOW")) print_message("%-40s n=%-3zu %.8g %.2g\n", name, cells, got, off);
        if (!(fabs(off) <= tolerance)) {
            print_error("%s at %zu cells: got %.8g, want %.8g, off by %.2g, tolerance %.2g\n", name,
                        cells, got, value, off, tolerance);
            wrong++;
        }
        rows++;
    }
    fclose(file);
    assert_int_equal(wrong, 0);
    assert_int_equal(rows, 35);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(coefficients_agree)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}

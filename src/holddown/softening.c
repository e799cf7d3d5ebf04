#include "holddown/softening.h"

#include <math.h>

#include "base/grid.h"

enum { TERMS = 5, SAMPLES = 4 };
static const double EFFICIENCY_LEAST = 0.1, EFFICIENCY_MOST = 0.6; /* of the polynomials */

typedef struct table_row {
    double thickness_over_pitch;
    double term[TERMS];
} table_row;

/* ASME VIII-1, UHX-11.5.2. From memory; they agree with a public copy of the code in every
 * digit but one, where that one breaks the run of the curves: square, nu*, third power at 1.00. */
static const table_row triangular_modulus[] = {{0.10, {0.0353, 1.2502, -0.0491, 0.3604, -0.6100}},
                                               {0.25, {0.0135, 0.9910, 1.0080, -1.0498, 0.0184}},
                                               {0.50, {0.0054, 0.5279, 3.0461, -4.3657, 1.9435}},
                                               {2.00, {-0.0029, 0.2126, 3.9906, -6.1730, 3.4307}}};
static const table_row triangular_poisson[] = {
    {0.10, {-0.0958, 0.6209, -0.8683, 2.1099, -1.6831}},
    {0.15, {0.8897, -9.0855, 36.1435, -59.5425, 35.8223}},
    {0.25, {0.7439, -4.4989, 12.5779, -14.2092, 5.7822}},
    {0.50, {0.9100, -4.8901, 12.4325, -12.7039, 4.4298}},
    {1.00, {0.9923, -4.8759, 12.3572, -13.7214, 5.7629}},
    {2.00, {0.9966, -4.1978, 9.0478, -7.9955, 2.2398}}};
static const table_row square_modulus[] = {{0.10, {0.0676, 1.5756, -1.2119, 1.7715, -1.2628}},
                                           {0.25, {0.0250, 1.9251, -3.5230, 6.9830, -5.0017}},
                                           {0.50, {0.0394, 1.3024, -1.1041, 2.8714, -2.3994}},
                                           {2.00, {0.0372, 1.0314, -0.6402, 2.6201, -2.1929}}};
static const table_row square_poisson[] = {{0.10, {-0.0791, 0.6008, -0.3468, 0.4858, -0.3606}},
                                           {0.15, {0.3345, -2.8420, 10.9709, -15.8994, 8.3516}},
                                           {0.25, {0.4296, -2.6350, 8.6864, -11.5227, 5.8544}},
                                           {0.50, {0.3636, -0.8057, 2.0463, -2.2902, 1.1862}},
                                           {1.00, {0.3527, -0.2842, 0.4354, -0.0901, -0.1590}},
                                           {2.00, {0.3341, 0.1260, -0.6920, 0.6877, -0.0600}}};

static double polynomial(const table_row *row, double x)
{
    double sum = 0;
    for (int k = TERMS - 1; k >= 0; k--) sum = sum * x + row->term[k];
    return sum;
}

/* Straight between the rows, the outermost row beyond them */
static double look_up(const table_row *rows, int count, double thickness_over_pitch, double x)
{
    int k = 1;
    while (k < count - 1 && thickness_over_pitch > rows[k].thickness_over_pitch) k++;
    double low = rows[k - 1].thickness_over_pitch, high = rows[k].thickness_over_pitch;
    double share = fmin(fmax((thickness_over_pitch - low) / (high - low), 0), 1);
    return (1 - share) * polynomial(&rows[k - 1], x) + share * polynomial(&rows[k], x);
}

#define LOOK_UP(rows, ratio, x) look_up(rows, (int)(sizeof(rows) / sizeof *(rows)), ratio, x)

bool pp_softening_constants(pp_pattern_kind kind, double efficiency, double thickness_over_pitch,
                            double *modulus_ratio, double *poisson_ratio)
{
    double x = efficiency, ratio = thickness_over_pitch;
    if (kind == PP_NO_PATTERN || !(x >= EFFICIENCY_LEAST && x <= EFFICIENCY_MOST)) return false;
    if (kind == PP_TRIANGULAR) {
        *modulus_ratio = LOOK_UP(triangular_modulus, ratio, x);
        *poisson_ratio = LOOK_UP(triangular_poisson, ratio, x);
    } else {
        *modulus_ratio = LOOK_UP(square_modulus, ratio, x);
        *poisson_ratio = LOOK_UP(square_poisson, ratio, x);
    }
    return true;
}

/* Inner holes have six neighbours a pitch away in a triangular pattern, four in a square one */
static pp_pattern_kind find_kind(const pp_grid *grid, double pitch)
{
    size_t six = 0, four = 0;
    for (size_t h = 0; h < grid->count; h++) { /* by place: whichever it is */
        size_t n = pp_grid_near(grid, grid->x[h], grid->y[h], 1.1 * pitch, 0, NULL) - 1;
        six += n == 6;
        four += n == 4;
    }
    /* at the rim of a triangular field holes with four neighbours are common too */
    if (2 * six > four && six > 0) return PP_TRIANGULAR;
    return four > 0 ? PP_SQUARE : PP_NO_PATTERN;
}

/* A cell counts as drilled when half of it lies no farther from a hole than a web centre of a
 * square pattern does, p / sqrt 2 */
static double mark_region(const pp_mesh *mesh, const pp_grid *grid, double pitch, uint8_t *region)
{
    double reach = 0.71 * pitch, drilled = 0;
    for (size_t j = 0; j < mesh->ny; j++)
        for (size_t i = 0; i < mesh->nx; i++) {
            int near = 0;
            for (int k = 0; k < SAMPLES * SAMPLES; k++) {
                double s = (k % SAMPLES + 0.5) / SAMPLES, t = (k / SAMPLES + 0.5) / SAMPLES;
                double x = mesh->x0 + ((double)i + s) * mesh->hx;
                double y = mesh->y0 + ((double)j + t) * mesh->hy;
                near += pp_grid_distance(grid, x, y, reach) <= reach;
            }
            size_t cell = j * mesh->nx + i;
            region[cell] = 2 * near >= SAMPLES * SAMPLES && mesh->fraction[cell] > 0;
            if (region[cell]) drilled += mesh->fraction[cell] * mesh->hx * mesh->hy;
        }
    return drilled / mesh->area;
}

static pp_status tube_holes(const pp_nominal *nominal, pp_arena *arena, double **x, double **y,
                            size_t *count, pp_error *error)
{
    PP_TAKE(*x, arena, nominal->count);
    PP_TAKE(*y, arena, nominal->count);
    *count = 0;
    for (size_t h = 0; h < nominal->count; h++) {
        if (nominal->kind && nominal->kind[h] != PP_TUBE_HOLE) continue;
        (*x)[*count] = nominal->x[h];
        (*y)[(*count)++] = nominal->y[h];
    }
    return PP_OK;
}

pp_status pp_softening_find(const pp_mesh *mesh, const pp_drilling *drilling, pp_memory *memory,
                            pp_softening *softening, pp_error *error)
{
    double pitch = drilling->pitch, hole_diameter = drilling->hole_diameter;
    if (!(pitch > 0) || !(hole_diameter > 0))
        return pp_fail_at(
            error, PP_EINPUT, drilling->job_file, 0, 0,
            "ligament_softening needs the pitch and the size of the holes; give pitch "
            "and tube_diameter under [holes]");
    pp_mark mark = pp_arena_mark(&memory->scratch);
    double *x = NULL, *y = NULL;
    size_t count = 0;
    pp_grid grid;
    uint8_t *region;
    pp_softening s = {.efficiency = (pitch - hole_diameter) / pitch};
    PP_TRY(tube_holes(drilling->nominal, &memory->scratch, &x, &y, &count, error));
    PP_TRY(pp_grid_build(count, x, y, 1.1 * pitch, &memory->scratch, &grid, error));
    s.kind = find_kind(&grid, pitch);
    if (!pp_softening_constants(s.kind, s.efficiency, drilling->thickness / pitch, &s.modulus_ratio,
                                &s.poisson_ratio))
        return pp_fail_at(error, PP_EINPUT, drilling->job_file, 0, 0,
                          "ligament_softening holds for triangular and square patterns with a "
                          "ligament of %g to %g of the pitch, and this one is %s with %.3g; leave "
                          "it out, or give effective elastic_modulus and poisson_ratio",
                          EFFICIENCY_LEAST, EFFICIENCY_MOST,
                          s.kind == PP_TRIANGULAR ? "triangular"
                          : s.kind == PP_SQUARE   ? "square"
                                                  : "neither",
                          s.efficiency);
    PP_TAKE(region, &memory->keep, mesh->nx * mesh->ny);
    s.share = mark_region(mesh, &grid, pitch, region);
    s.region = region;
    pp_arena_release(&memory->scratch, mark);
    *softening = s;
    return PP_OK;
}

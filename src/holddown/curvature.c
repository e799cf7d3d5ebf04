#include "holddown/curvature.h"

#include <math.h>

static const double EDGE_SHARE = 0.1; /* of the shorter side */

/* w_xx, w_yy, w_xy in the middle of a cell */
static void curvature_at(const pp_mesh *mesh, size_t i, size_t j, const double *shape, double k[3])
{
    static const int order[3][2] = {{2, 0}, {0, 2}, {1, 1}};
    pp_mesh_place place = {.i = i, .j = j, .s = 0.5, .t = 0.5};
    for (int d = 0; d < 3; d++) {
        pp_mesh_row row;
        pp_mesh_shape(mesh, place, order[d][0], order[d][1], &row);
        k[d] = pp_mesh_value(&row, shape);
    }
}

pp_curvature pp_curvature_of(const pp_plate_spec *plate, const pp_mesh *mesh, const double *shape)
{
    double nu = plate->poisson_ratio, worst = 0, gaussian = 0;
    double side = fmin(mesh->width, mesh->height);
    size_t cells = 0;
    for (size_t j = 0; j < mesh->ny; j++)
        for (size_t i = 0; i < mesh->nx; i++) {
            double x = mesh->x0 + ((double)i + 0.5) * mesh->hx;
            double y = mesh->y0 + ((double)j + 0.5) * mesh->hy;
            if (mesh->fraction[j * mesh->nx + i] < 1 - 1e-12) continue;
            if (!pp_mesh_within(mesh, x, y, EDGE_SHARE * side)) continue;
            double k[3];
            curvature_at(mesh, i, j, shape, k);
            double mean = 0.5 * (k[0] + k[1]), radius = hypot(0.5 * (k[0] - k[1]), k[2]);
            double k1 = mean + radius, k2 = mean - radius;
            worst = fmax(worst, fmax(fabs(k1 + nu * k2), fabs(k2 + nu * k1)));
            gaussian += k1 * k2;
            cells++;
        }
    return (pp_curvature){.flattening_stress = plate->elastic_modulus * plate->thickness /
                                               (2 * (1 - nu * nu)) * worst,
                          .double_height =
                              cells ? sqrt(fabs(gaussian) / (double)cells) * side * side / 8 : 0};
}

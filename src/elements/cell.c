#include "elements/cell.h"

#include <math.h>

/* Gauss-Legendre, 6 points on [0, 1]. */
static const double gauss_at[PP_CELL_GAUSS] = {0.033765242898423975, 0.16939530676686776,
                                               0.3806904069584015,   0.6193095930415985,
                                               0.8306046932331322,   0.966234757101576};
static const double gauss_weight[PP_CELL_GAUSS] = {0.08566224618958487, 0.18038078652406947,
                                                   0.23395696728634569, 0.23395696728634569,
                                                   0.18038078652406947, 0.08566224618958487};

void pp_cell_cubics(double s, int order, double h[4])
{
    switch (order) {
    case 0:
        h[2] = s * s * (3 - 2 * s);
        h[0] = 1 - h[2];
        h[1] = s * (1 - s) * (1 - s);
        h[3] = s * s * (s - 1);
        break;
    case 1:
        h[2] = 6 * s * (1 - s);
        h[0] = -h[2];
        h[1] = (1 - s) * (1 - 3 * s);
        h[3] = s * (3 * s - 2);
        break;
    case 2:
        h[2] = 6 - 12 * s;
        h[0] = -h[2];
        h[1] = 6 * s - 4;
        h[3] = 6 * s - 2;
        break;
    default:
        h[0] = 12, h[1] = 6, h[2] = -12, h[3] = 6;
    }
}

void pp_cell_dofs(const pp_mesh *mesh, size_t i, size_t j, size_t dof[PP_CELL_DOFS])
{
    for (size_t corner = 0; corner < 4; corner++) {
        size_t first = 4 * pp_mesh_node(mesh, i + (corner & 1), j + (corner >> 1));
        for (size_t k = 0; k < 4; k++) dof[4 * corner + k] = first + k;
    }
}

/* The larger of the distances of a cell's two sides from the centre line. */
static double far_side(double low, double size) { return fmax(fabs(low), fabs(low + size)); }

bool pp_cell_uncut(const pp_mesh *mesh, size_t i, size_t j)
{
    if (mesh->outline != PP_OUTLINE_DISC) return true;
    double x = far_side(mesh->x0 + (double)i * mesh->hx - mesh->centre_x, mesh->hx);
    double y = far_side(mesh->y0 + (double)j * mesh->hy - mesh->centre_y, mesh->hy);
    return hypot(x, y) <= mesh->radius;
}

/* Insert `at` into the ascending splits if it lies between the first and the last of them. */
static size_t insert_split(double *splits, size_t count, double at)
{
    if (!(at > splits[0] && at < splits[count - 1])) return count;
    size_t k = count;
    for (; splits[k - 1] > at; k--) splits[k] = splits[k - 1];
    splits[k] = at;
    return count + 1;
}

/* Abscissae (from the centre) at which the chord within the cell changes kind. */
static size_t chord_splits(double radius, double xa, double xb, double ya, double yb,
                           double splits[PP_CELL_PIECES + 1])
{
    size_t count = 2;
    splits[0] = xa, splits[1] = xb;
    count = insert_split(splits, count, -radius);
    count = insert_split(splits, count, radius);
    const double sides[2] = {ya, yb};
    for (int k = 0; k < 2; k++) {
        double square = radius * radius - sides[k] * sides[k];
        if (square <= 0) continue;
        count = insert_split(splits, count, -sqrt(square));
        count = insert_split(splits, count, sqrt(square));
    }
    return count;
}

void pp_cell_cut_points(const pp_mesh *mesh, size_t i, size_t j, pp_cell_points *points)
{
    double hx = mesh->hx, hy = mesh->hy, r = mesh->radius;
    double xa = mesh->x0 + (double)i * hx - mesh->centre_x, xb = xa + hx;
    double ya = mesh->y0 + (double)j * hy - mesh->centre_y, yb = ya + hy;
    double splits[PP_CELL_PIECES + 1];
    size_t count = chord_splits(r, xa, xb, ya, yb, splits);
    points->count = 0;
    for (size_t piece = 0; piece + 1 < count; piece++) {
        double u = splits[piece], length = splits[piece + 1] - u;
        for (int a = 0; a < PP_CELL_GAUSS; a++) {
            double g = gauss_at[a], x = u + length * g * g * (3 - 2 * g);
            if (fabs(x) >= r) continue;
            double half_chord = sqrt((r - x) * (r + x));
            double low = fmax(ya, -half_chord), high = fmin(yb, half_chord);
            if (high <= low) continue;
            double share_x = gauss_weight[a] * length * 6 * g * (1 - g) / hx;
            for (int b = 0; b < PP_CELL_GAUSS; b++) {
                size_t k = points->count++;
                points->s[k] = (x - xa) / hx;
                points->t[k] = (low + (high - low) * gauss_at[b] - ya) / hy;
                points->weight[k] = share_x * gauss_weight[b] * (high - low) / hy;
            }
        }
    }
}

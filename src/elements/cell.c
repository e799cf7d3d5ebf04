#include "elements/cell.h"

#include <math.h>

#include "base/constants.h"

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

/* Whether a straight edge comes through the inside of a box (Liang and Barsky's clipping). */
static bool line_meets(const pp_edge *e, double xa, double ya, double xb, double yb)
{
    const double from[4] = {xa - e->x0, e->x0 - xb, ya - e->y0, e->y0 - yb};
    const double along[4] = {e->x1 - e->x0, e->x0 - e->x1, e->y1 - e->y0, e->y0 - e->y1};
    double begin = 0, end = 1;
    for (int k = 0; k < 4; k++) {
        if (along[k] > 0)
            begin = fmax(begin, from[k] / along[k]);
        else if (along[k] < 0)
            end = fmin(end, from[k] / along[k]);
        else if (from[k] > 0)
            return false;
    }
    return begin < end;
}

/* The same of the whole circle of an arc: a cell too many counts as cut then, and no harm done. */
static bool circle_meets(const pp_edge *e, double xa, double ya, double xb, double yb)
{
    double near_x = fmax(0, fmax(xa - e->centre_x, e->centre_x - xb));
    double near_y = fmax(0, fmax(ya - e->centre_y, e->centre_y - yb));
    double far = hypot(far_side(xa - e->centre_x, xb - xa), far_side(ya - e->centre_y, yb - ya));
    return hypot(near_x, near_y) < e->radius && e->radius < far;
}

bool pp_cell_uncut(const pp_mesh *mesh, size_t i, size_t j)
{
    static const double ASIDE = 1e-9; /* of the cell: an edge along its side does not cut it */
    if (mesh->outline == PP_OUTLINE_RECTANGLE) return true;
    double xa = mesh->x0 + (double)i * mesh->hx, ya = mesh->y0 + (double)j * mesh->hy;
    if (mesh->outline == PP_OUTLINE_DISC) {
        double x = far_side(xa - mesh->centre_x, mesh->hx);
        double y = far_side(ya - mesh->centre_y, mesh->hy);
        return hypot(x, y) <= mesh->radius;
    }
    const pp_outline_spec *shape = &mesh->shape;
    double ex = ASIDE * mesh->hx, ey = ASIDE * mesh->hy;
    double xb = xa + mesh->hx - ex, yb = ya + mesh->hy - ey;
    for (size_t k = 0; k < pp_outline_edge_count(shape); k++) {
        pp_edge e = pp_outline_edge(shape, k);
        if (e.radius > 0 ? circle_meets(&e, xa + ex, ya + ey, xb, yb)
                         : line_meets(&e, xa + ex, ya + ey, xb, yb))
            return false;
    }
    return pp_outline_holds(shape, xa + mesh->hx / 2, ya + mesh->hy / 2);
}

/* Insert `at` into the ascending splits if it lies between the first and the last of them. */
static void insert_split(pp_cell_cutting *c, double at)
{
    if (!(at > c->splits[0] && at < c->splits[c->split_count - 1])) return;
    size_t k = c->split_count++;
    for (; c->splits[k - 1] > at; k--) c->splits[k] = c->splits[k - 1];
    c->splits[k] = at;
}

/* Abscissae at which the chord within the cell changes kind along one edge. */
static void split_at_edge(pp_cell_cutting *c, const pp_edge *e, const double sides[2])
{
    insert_split(c, e->radius > 0 ? -e->radius : e->x0);
    insert_split(c, e->radius > 0 ? e->radius : e->x1);
    for (int k = 0; k < 2; k++) {
        if (e->radius > 0) {
            double square = e->radius * e->radius - sides[k] * sides[k];
            if (square <= 0) continue;
            insert_split(c, -sqrt(square));
            insert_split(c, sqrt(square));
        } else if ((e->y0 > sides[k]) != (e->y1 > sides[k])) {
            double share = (sides[k] - e->y0) / (e->y1 - e->y0);
            insert_split(c, e->x0 + share * (e->x1 - e->x0));
        }
    }
}

void pp_cell_cut(const pp_mesh *mesh, size_t i, size_t j, pp_cell_cutting *c)
{
    c->mesh = mesh;
    c->shape = mesh->shape;
    c->shape.centre_x = c->shape.centre_y = 0;
    c->xa = mesh->x0 + (double)i * mesh->hx - mesh->shape.centre_x;
    c->ya = mesh->y0 + (double)j * mesh->hy - mesh->shape.centre_y;
    c->curved = mesh->outline != PP_OUTLINE_POLYGON;
    c->split_count = 2;
    c->splits[0] = c->xa, c->splits[1] = c->xa + mesh->hx;
    c->piece = 0, c->gauss = 0;
    const double sides[2] = {c->ya, c->ya + mesh->hy};
    for (size_t k = 0; k < pp_outline_edge_count(&c->shape); k++) {
        pp_edge e = pp_outline_edge(&c->shape, k);
        if (e.radius > 0 && fabs(e.sweep) < PP_TURN) {
            insert_split(c, e.x0); /* corners between arc and cut */
            insert_split(c, e.x1);
        }
        split_at_edge(c, &e, sides);
    }
}

/* The points of one stretch of a line at x, of which the cell's points carry `share_x`. */
static void add_stretch(const pp_cell_cutting *c, double x, double share_x, const pp_chord *chord,
                        pp_cell_points *points)
{
    double hx = c->mesh->hx, hy = c->mesh->hy;
    double low = fmax(c->ya, chord->begin), high = fmin(c->ya + hy, chord->end);
    if (high <= low) return;
    for (int b = 0; b < PP_CELL_GAUSS; b++) {
        size_t k = points->count++;
        points->s[k] = (x - c->xa) / hx;
        points->t[k] = (low + (high - low) * gauss_at[b] - c->ya) / hy;
        points->weight[k] = share_x * gauss_weight[b] * (high - low) / hy;
    }
}

bool pp_cell_cut_next(pp_cell_cutting *c, pp_cell_points *points)
{
    if (c->piece + 1 >= c->split_count) return false;
    pp_chord chords[PP_CHORDS_MAX];
    double u = c->splits[c->piece], length = c->splits[c->piece + 1] - u;
    double g = gauss_at[c->gauss];
    double x = u + length * (c->curved ? g * g * (3 - 2 * g) : g);
    double rate = c->curved ? 6 * g * (1 - g) : 1;
    double share_x = gauss_weight[c->gauss] * length * rate / c->mesh->hx;
    size_t count = pp_outline_chords(&c->shape, x, 0, 0, 1, chords);
    points->count = 0;
    for (size_t k = 0; k < count; k++) add_stretch(c, x, share_x, &chords[k], points);
    if (++c->gauss == PP_CELL_GAUSS) c->gauss = 0, c->piece++;
    return true;
}

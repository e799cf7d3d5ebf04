/* The plate as bicubic Hermite (Bogner-Fox-Schmit) elements on a regular grid, cut at the outline.
 *
 * Node dof [w, hx w_x, hy w_y, hx hy w_xy]: scaled slopes, every dof in mm. Nodes are numbered with
 * the shorter direction fastest; dof = 4 * node + k. A dof that touches no active cell is inert
 * (unit diagonal, zero load). Plate frame, mm, N, MPa.
 */
#ifndef PP_ELEMENTS_MESH_H
#define PP_ELEMENTS_MESH_H

#include <stdbool.h>
#include <stddef.h>

#include "base/memory.h"
#include "base/outline.h"

typedef struct pp_mesh {
    pp_outline outline;
    pp_outline_spec shape;     /* of which that is the kind */
    double centre_x, centre_y; /* of its area */
    double radius;             /* disc */
    double width, height;      /* bounding box; of a disc twice the radius */
    size_t nx, ny;             /* cells along x and y */
    double hx, hy;             /* cell size */
    double x0, y0;             /* lower corner of the grid */
    bool x_fastest;            /* node numbering */
    size_t nodes, dofs;        /* (nx+1)(ny+1), 4 * nodes */
    size_t active_dofs;        /* of dofs touching an active cell */
    size_t half_bandwidth;     /* of the stiffness, in dofs */
    const double *fraction;    /* [ny * nx], j * nx + i: covered share of each cell; 0: dropped */
    double area;               /* of the outline as integrated */
} pp_mesh;

/* Where in the mesh a point lies: the active cell that holds or is nearest to it, with the local
 * coordinates s, t (in [0,1] inside that cell). */
typedef struct pp_mesh_place {
    size_t i, j;
    double s, t;
} pp_mesh_place;

/* The 16 dofs and shape values of one cell at one place. */
typedef struct pp_mesh_row {
    size_t dof[16];
    double value[16];
} pp_mesh_row;

/* A grid of `cells` on the long side (at least 20 on the short one when cells >= 20).
 *
 * given    outline  of the plate; cells 1..512
 * memory   keep     the covered shares
 * out      mesh     filled only on success
 * errors   PP_ENOTHING  no outline
 *          PP_EINPUT    an outline without a size, or a number of cells out of range
 *          PP_ENOMEM
 */
pp_status pp_mesh_make(pp_outline_spec outline, size_t cells, pp_memory *memory, pp_mesh *mesh,
                       pp_error *error);

/* The active cell nearest to a place in a dropped one; see pp_mesh_find. */
pp_mesh_place pp_mesh_find_active(const pp_mesh *mesh, double x, double y);

/* Number of the cell that holds `at` cells from the lower side, the outermost one beyond. */
static inline size_t pp_mesh_clamp_cell(double at, size_t count)
{
    if (!(at > 0)) return 0;
    return at < (double)count ? (size_t)at : count - 1;
}

/* The active cell that holds a place, or the nearest one, with the local coordinates of the place.
 */
static inline pp_mesh_place pp_mesh_find(const pp_mesh *m, double x, double y)
{
    double s = (x - m->x0) / m->hx, t = (y - m->y0) / m->hy;
    size_t i = pp_mesh_clamp_cell(s, m->nx), j = pp_mesh_clamp_cell(t, m->ny);
    if (m->fraction[j * m->nx + i] == 0) return pp_mesh_find_active(m, x, y);
    return (pp_mesh_place){.i = i, .j = j, .s = s - (double)i, .t = t - (double)j};
}

bool pp_mesh_inside(const pp_mesh *mesh, double x, double y); /* on or within the outline */
/* The same of the outline drawn in by `inset`, to the last bit. */
bool pp_mesh_within(const pp_mesh *mesh, double x, double y, double inset);

/* Number of the node at corner (i, j) of the grid, i = 0..nx, j = 0..ny; its dofs are 4 * node + k.
 */
static inline size_t pp_mesh_node(const pp_mesh *m, size_t i, size_t j)
{
    return m->x_fastest ? j * (m->nx + 1) + i : i * (m->ny + 1) + j;
}

/* Shape functions (order dx, dy: derivatives 0..2 along x and y, in 1/mm each) at a place. */
void pp_mesh_shape(const pp_mesh *mesh, pp_mesh_place place, int dx, int dy, pp_mesh_row *row);
/* sum of value * field[dof] */
double pp_mesh_value(const pp_mesh_row *row, const double *field);

/* Bending stiffness K for D = 1 (multiply by D), Poisson's ratio nu, in LAPACK lower-band columns
 * band[dof * (half_bandwidth + 1) + k] = K[dof + k][dof]; weakly covered cells propped as the
 * theory page says.
 * errors   PP_EINPUT: a Poisson's ratio not between -1 and 1 */
pp_status pp_mesh_stiffness(const pp_mesh *mesh, double poisson_ratio, double *band,
                            pp_error *error);

typedef struct pp_plate_part {
    double rigidity, poisson_ratio;
} pp_plate_part;
enum { PP_PLATE_PARTS_MAX = 4 };
/* The same for a plate of several parts: part[ny * nx] is the part of each cell (NULL: all 0), and
 * each of parts[count] has its own rigidity, as a share of D, and Poisson's ratio; count <= 4.
 * stiffer[ny * nx]: a factor on it for each cell (NULL: all 1).
 * errors   PP_EINPUT: a Poisson's ratio not between -1 and 1 */
pp_status pp_mesh_stiffness_parts(const pp_mesh *mesh, const unsigned char *part, size_t count,
                                  const pp_plate_part *parts, const double *stiffer, double *band,
                                  pp_error *error);

/* Consistent load of a uniform pressure of 1 N/mm2 over the covered area. load[dofs] */
void pp_mesh_uniform_load(const pp_mesh *mesh, double *load);

#endif

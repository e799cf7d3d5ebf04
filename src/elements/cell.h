/* One cell of the mesh: the cubic shape functions on it, its 16 dofs, and points and weights that
 * integrate over the part of it that lies within the outline.
 *
 * Local number l of a cell's 16 dofs = 4 corner + k: corner = 2 b + a for the corner at s = a, t =
 * b (a, b 0 or 1), k = 0..3 for w, hx w_x, hy w_y, hx hy w_xy. Its shape function is H_p(s) H_q(t)
 * with p = 2 a + (k & 1), q = 2 b + (k >> 1), where H_0 .. H_3 are the Hermite cubics of value at
 * 0, slope at 0, value at 1, slope at 1.
 */
#ifndef PP_ELEMENTS_CELL_H
#define PP_ELEMENTS_CELL_H

#include "elements/mesh.h"

enum {
    PP_CELL_DOFS = 16,
    PP_CELL_GAUSS = 6, /* per direction on each strip */
    PP_CELL_POINTS_MAX = PP_CHORDS_MAX * PP_CELL_GAUSS,
    PP_CELL_SPLITS_MAX = 4 * PP_OUTLINE_CORNERS_MAX + 2
};

/* Weights are shares of the cell: summed over all lines they are the covered fraction. */
typedef struct pp_cell_points {
    size_t count;
    double s[PP_CELL_POINTS_MAX], t[PP_CELL_POINTS_MAX], weight[PP_CELL_POINTS_MAX];
} pp_cell_points;

/* The lines along y on which the covered part of a cell is integrated, one after the other. */
typedef struct pp_cell_cutting {
    const pp_mesh *mesh;
    pp_outline_spec shape;     /* about its own centre */
    double xa, ya;             /* lower corner of the cell, from that centre */
    bool curved;               /* chords may end like a square root */
    size_t split_count, piece; /* strips between the places where chords change kind */
    int gauss;                 /* line of that strip */
    double splits[PP_CELL_SPLITS_MAX];
} pp_cell_cutting;

typedef struct pp_cell_matrix {
    double k[PP_CELL_DOFS][PP_CELL_DOFS];
} pp_cell_matrix;

/* 1-D cubics or their `order`-th derivative (0..3) in s. */
void pp_cell_cubics(double s, int order, double h[4]);
static inline int pp_cell_along_s(size_t local)
{
    return (int)(2 * ((local >> 2) & 1) + (local & 1));
}
static inline int pp_cell_along_t(size_t local)
{
    return (int)(2 * (local >> 3) + ((local >> 1) & 1));
}

/* Numbers in the mesh of the 16 dofs of cell (i, j), by their local number. */
void pp_cell_dofs(const pp_mesh *mesh, size_t i, size_t j, size_t dof[PP_CELL_DOFS]);

/* Whether the cell lies within the outline altogether. */
bool pp_cell_uncut(const pp_mesh *mesh, size_t i, size_t j);

/* Points over the covered part of a cell that the outline cuts: chords in y at Gauss points in x,
 * x mapped so that the square-root ends of the chords of a circle stay smooth.
 *     pp_cell_cut(mesh, i, j, &cutting);
 *     while (pp_cell_cut_next(&cutting, &points)) ...  */
void pp_cell_cut(const pp_mesh *mesh, size_t i, size_t j, pp_cell_cutting *cutting);
/* The points of the next line (possibly none); false when there is no other. */
bool pp_cell_cut_next(pp_cell_cutting *cutting, pp_cell_points *points);

/* Add a cell's symmetric 16 x 16 matrix to a lower band of the mesh. */
void pp_cell_add(const pp_mesh *mesh, size_t i, size_t j, const pp_cell_matrix *k, double *band);
/* active[nodes]: 1 where a node touches an active cell. */
void pp_mesh_active_nodes(const pp_mesh *mesh, unsigned char *active);

#endif

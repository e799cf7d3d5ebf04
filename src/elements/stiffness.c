/* Bending stiffness of the plate and its load, per unit of flexural rigidity and of pressure.
 *
 * Energy of a Kirchhoff plate (Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells):
 *   U = D/2 int w_xx^2 + w_yy^2 + 2 nu w_xx w_yy + 2 (1 - nu) w_xy^2 dA = D/2 w' K w.
 * Free edges are natural: nothing is imposed on them. Element: Bogner, Fox and Schmit (1965).
 *
 * A cell covered in part is integrated over that part (cell.h) and propped by a small share of the
 * stiffness of its uncovered rest, or its outer dofs would hang on almost nothing: with none the
 * condition number reaches 1e17, with this share 1e9; results change by less than 2e-6.
 */
#include <string.h>

#include "elements/cell.h"
#include "elements/mesh.h"

enum { GAUSS = 4 }; /* points per direction: exact for products of two cubics */
static const double gauss_at[GAUSS] = {0.06943184420297371, 0.33000947820757187, 0.6699905217924281,
                                       0.9305681557970262};
static const double gauss_weight[GAUSS] = {0.17392742256872684, 0.32607257743127312,
                                           0.32607257743127312, 0.17392742256872684};
static const double prop_share = 1e-6;

/* a[p][q] = integral over [0, 1] of the m-th derivative of H_p times the n-th of H_q */
static void product_integrals(int m, int n, double a[4][4])
{
    memset(a, 0, 16 * sizeof(double));
    for (int g = 0; g < GAUSS; g++) {
        double left[4], right[4];
        pp_cell_cubics(gauss_at[g], m, left);
        pp_cell_cubics(gauss_at[g], n, right);
        for (int p = 0; p < 4; p++)
            for (int q = 0; q < 4; q++) a[p][q] += gauss_weight[g] * left[p] * right[q];
    }
}

static void full_cell(const pp_mesh *mesh, double nu, pp_cell_matrix *k)
{
    double a00[4][4], a11[4][4], a22[4][4], a20[4][4];
    product_integrals(0, 0, a00);
    product_integrals(1, 1, a11);
    product_integrals(2, 2, a22);
    product_integrals(2, 0, a20); /* a02 is its transpose */
    double hx2 = mesh->hx * mesh->hx, hy2 = mesh->hy * mesh->hy, area = mesh->hx * mesh->hy;
    for (size_t l = 0; l < PP_CELL_DOFS; l++)
        for (size_t m = 0; m < PP_CELL_DOFS; m++) {
            int p = pp_cell_along_s(l), q = pp_cell_along_s(m);
            int r = pp_cell_along_t(l), s = pp_cell_along_t(m);
            k->k[l][m] =
                area * (a22[p][q] * a00[r][s] / (hx2 * hx2) + a00[p][q] * a22[r][s] / (hy2 * hy2) +
                        (nu * (a20[p][q] * a20[s][r] + a20[q][p] * a20[r][s]) +
                         2 * (1 - nu) * a11[p][q] * a11[r][s]) /
                            (hx2 * hy2));
        }
}

/* Curvatures (w_xx, w_yy, w_xy) of each of the 16 shape functions at one point. */
static void curvatures(const pp_mesh *mesh, double s, double t, double b[3][PP_CELL_DOFS])
{
    double hs[3][4], ht[3][4];
    for (int order = 0; order < 3; order++) {
        pp_cell_cubics(s, order, hs[order]);
        pp_cell_cubics(t, order, ht[order]);
    }
    double hx = mesh->hx, hy = mesh->hy;
    for (size_t l = 0; l < PP_CELL_DOFS; l++) {
        int p = pp_cell_along_s(l), q = pp_cell_along_t(l);
        b[0][l] = hs[2][p] * ht[0][q] / (hx * hx);
        b[1][l] = hs[0][p] * ht[2][q] / (hy * hy);
        b[2][l] = hs[1][p] * ht[1][q] / (hx * hy);
    }
}

/* Lower triangle of the stiffness that some points of a cell carry. */
static void add_points(const pp_mesh *mesh, const pp_cell_points *points, double nu,
                       pp_cell_matrix *k)
{
    for (size_t n = 0; n < points->count; n++) {
        double b[3][PP_CELL_DOFS], area = points->weight[n] * mesh->hx * mesh->hy;
        curvatures(mesh, points->s[n], points->t[n], b);
        for (size_t l = 0; l < PP_CELL_DOFS; l++) {
            double x = area * (b[0][l] + nu * b[1][l]), y = area * (b[1][l] + nu * b[0][l]);
            double twist = area * 2 * (1 - nu) * b[2][l];
            for (size_t m = 0; m <= l; m++)
                k->k[l][m] += x * b[0][m] + y * b[1][m] + twist * b[2][m];
        }
    }
}

static void cut_cell(const pp_mesh *mesh, size_t i, size_t j, double nu, const pp_cell_matrix *full,
                     pp_cell_matrix *k)
{
    double prop = prop_share * (1 - mesh->fraction[j * mesh->nx + i]);
    for (size_t l = 0; l < PP_CELL_DOFS; l++)
        for (size_t m = 0; m < PP_CELL_DOFS; m++) k->k[l][m] = prop * full->k[l][m];
    pp_cell_cutting cutting;
    pp_cell_points points;
    pp_cell_cut(mesh, i, j, &cutting);
    while (pp_cell_cut_next(&cutting, &points)) add_points(mesh, &points, nu, k);
    for (size_t l = 0; l < PP_CELL_DOFS; l++)
        for (size_t m = 0; m < l; m++) k->k[m][l] = k->k[l][m];
}

void pp_cell_add(const pp_mesh *mesh, size_t i, size_t j, const pp_cell_matrix *k, double *band)
{
    size_t dof[PP_CELL_DOFS], column = mesh->half_bandwidth + 1;
    pp_cell_dofs(mesh, i, j, dof);
    for (size_t l = 0; l < PP_CELL_DOFS; l++)
        for (size_t m = 0; m < PP_CELL_DOFS; m++)
            if (dof[l] >= dof[m]) band[dof[m] * column + (dof[l] - dof[m])] += k->k[l][m];
}

/* Give every dof that touches no active cell a unit diagonal. */
static void pin_inert(const pp_mesh *mesh, double *band)
{
    size_t column = mesh->half_bandwidth + 1;
    for (size_t d = 0; d < mesh->dofs; d++)
        if (band[d * column] == 0) band[d * column] = 1;
}

static void scale(pp_cell_matrix *k, double factor)
{
    for (size_t l = 0; l < PP_CELL_DOFS; l++)
        for (size_t m = 0; m < PP_CELL_DOFS; m++) k->k[l][m] *= factor;
}

pp_status pp_mesh_stiffness_parts(const pp_mesh *mesh, const unsigned char *part, size_t count,
                                  const pp_plate_part *parts, const double *stiffer, double *band,
                                  pp_error *error)
{
    pp_cell_matrix full[PP_PLATE_PARTS_MAX], cut;
    for (size_t p = 0; p < count; p++) {
        double nu = parts[p].poisson_ratio;
        if (!(nu > -1 && nu < 1))
            return pp_fail(
                error, PP_EINPUT,
                "Poisson's ratio %g is not between -1 and 1; give poisson_ratio under [plate]", nu);
        full_cell(mesh, nu, &full[p]);
    }
    memset(band, 0, mesh->dofs * (mesh->half_bandwidth + 1) * sizeof *band);
    for (size_t j = 0; j < mesh->ny; j++)
        for (size_t i = 0; i < mesh->nx; i++) {
            size_t cell = j * mesh->nx + i, p = part ? part[cell] : 0;
            if (mesh->fraction[cell] == 0) continue;
            if (pp_cell_uncut(mesh, i, j))
                cut = full[p];
            else
                cut_cell(mesh, i, j, parts[p].poisson_ratio, &full[p], &cut);
            double rigidity = parts[p].rigidity * (stiffer ? stiffer[cell] : 1);
            if (rigidity != 1) scale(&cut, rigidity);
            pp_cell_add(mesh, i, j, &cut, band);
        }
    pin_inert(mesh, band);
    return PP_OK;
}

pp_status pp_mesh_stiffness(const pp_mesh *mesh, double poisson_ratio, double *band,
                            pp_error *error)
{
    const pp_plate_part solid = {1, poisson_ratio};
    return pp_mesh_stiffness_parts(mesh, NULL, 1, &solid, NULL, band, error);
}

/* The load of some points of a cell. */
static void add_load(const pp_cell_points *points, double area, const size_t dof[PP_CELL_DOFS],
                     double *load)
{
    for (size_t n = 0; n < points->count; n++) {
        double hs[4], ht[4], share = area * points->weight[n];
        pp_cell_cubics(points->s[n], 0, hs);
        pp_cell_cubics(points->t[n], 0, ht);
        for (size_t l = 0; l < PP_CELL_DOFS; l++)
            load[dof[l]] += share * hs[pp_cell_along_s(l)] * ht[pp_cell_along_t(l)];
    }
}

void pp_mesh_uniform_load(const pp_mesh *mesh, double *load)
{
    static const double whole[4] = {0.5, 1.0 / 12, 0.5,
                                    -1.0 / 12}; /* integrals of H_p over [0,1] */
    memset(load, 0, mesh->dofs * sizeof *load);
    double area = mesh->hx * mesh->hy;
    for (size_t j = 0; j < mesh->ny; j++)
        for (size_t i = 0; i < mesh->nx; i++) {
            if (mesh->fraction[j * mesh->nx + i] == 0) continue;
            size_t dof[PP_CELL_DOFS];
            pp_cell_dofs(mesh, i, j, dof);
            if (pp_cell_uncut(mesh, i, j)) {
                for (size_t l = 0; l < PP_CELL_DOFS; l++)
                    load[dof[l]] += area * whole[pp_cell_along_s(l)] * whole[pp_cell_along_t(l)];
                continue;
            }
            pp_cell_cutting cutting;
            pp_cell_points points;
            pp_cell_cut(mesh, i, j, &cutting);
            while (pp_cell_cut_next(&cutting, &points)) add_load(&points, area, dof, load);
        }
}

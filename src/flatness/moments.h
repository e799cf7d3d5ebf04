/* Passes over the points of a survey for the smooth surface: they keep nothing per point, so that
 * ten million points cost one reading of the arrays each.
 *
 * The normal matrix of the fit is a sum of products of two bicubic shape functions, that is, of
 * polynomials of degree six in each cell's own coordinates. So the 49 sums of u^a v^b (a, b 0..6)
 * per cell carry the whole matrix, and 16 sums of z u^a v^b (a, b 0..3) the right-hand side.
 *
 * u, v = 2 s - 1, 2 t - 1 run over [-1, 1] in a cell. Heights count from a first plane, so that
 * neither a large offset nor a steep plate costs digits. Points are cut into parts whose number
 * depends on their count alone, and parts are summed in order: the same bits for any thread count.
 */
#ifndef PP_FLATNESS_MOMENTS_H
#define PP_FLATNESS_MOMENTS_H

#include <stdint.h>

#include "elements/cell.h"
#include "input/lists/survey.h"

/* z = height + slope_x (x - centre_x) + slope_y (y - centre_y), the centre of the mesh's outline */
typedef struct pp_base_plane {
    double height, slope_x, slope_y;
} pp_base_plane;

typedef struct pp_cell_moments {
    double m[7][8];  /* [a][b]: sum of u^a v^b; column 7 is padding */
    double mz[4][4]; /* [a][b]: sum of z u^a v^b */
} pp_cell_moments;

typedef struct pp_survey_moments {
    pp_cell_moments *cells; /* [ny * nx], as mesh->fraction */
    double weight;          /* sum of weights */
    double zz;              /* sum of weight z^2 */
    size_t count;           /* points used */
    size_t outside;         /* points too far beyond the outline to be used */
    uint64_t *seen; /* [ny * nx]: bit 8 b + a set when a point lies in eighth a (x), b (y) */
} pp_survey_moments;

/* A surface as one bicubic polynomial in u, v per cell, height above the base plane. */
typedef struct pp_cell_polynomial {
    double c[4][4]; /* [a][b] of u^a v^b */
} pp_cell_polynomial;

typedef struct pp_residual_sums {
    double squares; /* sum of e^2, every weight 1 */
    double largest; /* of |e| */
    double median;  /* of |e|, to about 1 % */
} pp_residual_sums;

typedef struct pp_survey_pass { /* what every pass needs */
    const pp_survey *survey;
    const pp_mesh *mesh;
    pp_base_plane base;
    int threads;
} pp_survey_pass;

/* A plane through at most 4096 of the points, by least squares of height. */
pp_base_plane pp_survey_base_plane(const pp_survey *survey, const pp_mesh *mesh);

/* Sums over all points with weight 1. Takes `moments` from memory->scratch. errors: PP_ENOMEM */
pp_status pp_survey_gather(const pp_survey_pass *pass, pp_memory *memory,
                           pp_survey_moments *moments, pp_error *error);

/* As `plain` (from pp_survey_gather), with Huber's weights min(1, 2.5 scale / |e|) for residuals e
 * from the surface given. Writes into `weighted`, whose cells the caller provides.
 * errors   PP_ENOMEM */
pp_status pp_survey_gather_weighted(const pp_survey_pass *pass, const pp_cell_polynomial *surface,
                                    double scale, const pp_survey_moments *plain, pp_memory *memory,
                                    pp_survey_moments *weighted, pp_error *error);

/* What is left of the points above a surface: the sums, and the median of the absolute residuals.
 *
 * given    surface[nx * ny]  polynomial of each cell
 * memory   scratch only
 * errors   PP_ENOMEM */
pp_status pp_survey_residuals(const pp_survey_pass *pass, const pp_cell_polynomial *surface,
                              pp_memory *memory, pp_residual_sums *sums, pp_error *error);

/* Survey indices, ascending, of the points used with |e| > threshold; the list from memory->keep.
 * errors   PP_ENOMEM */
pp_status pp_survey_far_points(const pp_survey_pass *pass, const pp_cell_polynomial *surface,
                               double threshold, pp_memory *memory, size_t *count,
                               const size_t **index, pp_error *error);

/* Add the normal matrix to a lower band of the mesh and the right-hand side to b[dofs]. */
void pp_survey_normal_equations(const pp_survey_moments *moments, const pp_mesh *mesh, double *band,
                                double *b);

/* phi' Z phi over a cell, phi its 16 shape functions: sum of c[a][b] u^a v^b. */
typedef struct pp_cell_form {
    double c[7][7];
} pp_cell_form;
/* The form of a cell's 16 x 16 matrix z, symmetric; u, v run from -1 to 1 across the cell. */
void pp_cell_form_of(const pp_cell_matrix *z, pp_cell_form *form);

/* The cells' polynomials of a field of dofs. */
void pp_cell_polynomials(const pp_mesh *mesh, const double *field, pp_cell_polynomial *cells);

#endif

/* The equations of the fitted surface once more, for what is asked of them after the fit: A from
 * the survey's points, K of the mesh, b. Heights count from the base plane. */
#ifndef PP_FLATNESS_SURFACE_SYSTEM_H
#define PP_FLATNESS_SURFACE_SYSTEM_H

#include "flatness/moments.h"
#include "flatness/surface.h"

typedef struct pp_surface_system {
    const pp_mesh *mesh;
    pp_base_plane base;
    size_t n, half_bandwidth;
    double *normal;                           /* A, lower band */
    double *stiffness;                        /* K, lower band */
    double *load;                             /* b [n] */
    double zz, weight;                        /* sum of weight z^2, sum of weights */
    size_t count;                             /* points used */
    const struct pp_smoothing_problem *guide; /* on larger cells; NULL: none */
} pp_surface_system;

/* K for D = 1 as the smoothing takes it, dofs of no active cell with an average diagonal:
 * stiffness[n * (half_bandwidth + 1)].
 * errors   PP_EINPUT: a Poisson's ratio not between -1 and 1; PP_ENOMEM */
pp_status pp_surface_stiffness(const pp_mesh *mesh, pp_memory *memory, double *stiffness,
                               pp_error *error);

/* Every array from memory->scratch. `scale` > 0:
 * Huber's weights for that scale about the surface, as in its last pass; else every weight is 1.
 * errors   PP_EINPUT: a Poisson's ratio not between -1 and 1; PP_ENOMEM */
pp_status pp_surface_system_make(const pp_survey *survey, const pp_surface *surface, double scale,
                                 int threads, pp_memory *memory, pp_surface_system *system,
                                 pp_error *error);

/* The same for the survey that the surface was fitted to: the fit's own where it has kept them,
 * which nobody may change.
 * errors   PP_EINPUT: a Poisson's ratio not between -1 and 1; PP_ENOMEM */
pp_status pp_surface_system_find(const pp_survey *survey, const pp_surface *surface, double scale,
                                 int threads, pp_memory *memory, pp_surface_system *system,
                                 pp_error *error);

/* factor[n * (half_bandwidth + 1)] <- Cholesky of A + mu K. errors: PP_ENUMERIC: it is not positive
 * definite; PP_ENOMEM */
pp_status pp_surface_system_factor(const pp_surface_system *system, double mu, double *factor,
                                   pp_error *error);

/* The shape functions at a place of the plate; false where it lies too far beyond the outline to
 * have taken part. */
bool pp_surface_row(const pp_mesh *mesh, double x, double y, pp_mesh_row *row);

#endif

/* The equations of the fit once more on cells twice as large, to see where to look for the
 * smoothing: a matrix of a quarter of the unknowns and half the band is factored in a tenth of the
 * time.
 *
 * Cells are taken in twos along either axis; where their number is odd, the last of the large ones
 * reaches beyond the plate by half. A surface on the large cells is one on the small ones too, so
 * with T its values there, A and K are T'A T and T'K T: the same sums over the points and the
 * plate, no pass over either. */
#ifndef PP_FLATNESS_COARSE_SYSTEM_H
#define PP_FLATNESS_COARSE_SYSTEM_H

#include "base/memory.h"
#include "elements/mesh.h"

typedef struct pp_coarse_system {
    size_t n, half_bandwidth;
    double *normal, *stiffness; /* lower bands [n * (half_bandwidth + 1)] */
    double *load;               /* [n] */
    size_t nx, ny;              /* cells */
    bool x_fastest;
    const unsigned char *active; /* [mesh->nodes]: small nodes that take part */
} pp_coarse_system;

/* Room for the system from memory->keep, and its stiffness T'K T, K a lower band of the mesh.
 * errors   PP_ENOMEM */
pp_status pp_coarse_system_make(const pp_mesh *mesh, const double *stiffness, pp_memory *memory,
                                pp_coarse_system *coarse, pp_error *error);

/* Its normal matrix and load: T'A T, T'b of a lower band and a vector of the mesh. */
void pp_coarse_system_load(const pp_mesh *mesh, const double *normal, const double *load,
                           const pp_coarse_system *coarse);

#endif

/* Where a rigid plate stands: the places that carry it, and its centre of mass. mm. */
#ifndef PP_HOLDDOWN_STAND_H
#define PP_HOLDDOWN_STAND_H

#include <math.h>
#include <stddef.h>

#include "elements/mesh.h"

typedef struct pp_stand {
    size_t count;
    const double *x, *y;       /* [count] */
    double centre_x, centre_y; /* of mass */
    double extent;             /* a length the size of the plate: scales tolerances */
} pp_stand;

/* A plate of even thickness on places x, y[count], which the result refers to. */
static inline pp_stand pp_stand_on(const pp_mesh *mesh, size_t count, const double *x,
                                   const double *y)
{
    return (pp_stand){count, x, y, mesh->centre_x, mesh->centre_y, fmax(mesh->width, mesh->height)};
}

#endif

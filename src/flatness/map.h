/* A smooth field sampled on a regular grid over the plate, to be drawn or written. */
#ifndef PP_FLATNESS_MAP_H
#define PP_FLATNESS_MAP_H

#include "elements/mesh.h"

typedef struct pp_map { /* the fitted surface sampled on a regular grid over the plate */
    size_t columns, rows;
    double x0, y0, dx, dy;
    const double *height;    /* [rows * columns], NaN outside the outline */
    const double *deviation; /* from the least-squares plane, along its normal */
} pp_map;

/* The grid: about 101 places on the long side, as even as that allows, edges included. Arrays NULL.
 */
pp_map pp_map_grid(const pp_mesh *mesh);

/* Sample field[mesh->dofs] at the places of the map: values[rows * columns], from memory->keep, row
 * by row from the lowest y, NaN outside the outline.
 * errors   PP_ENOMEM */
pp_status pp_map_sample(const pp_map *map, const pp_mesh *mesh, const double *field,
                        pp_memory *memory, const double **values, pp_error *error);

#endif

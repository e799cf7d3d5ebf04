#include "flatness/map.h"

#include <math.h>

enum { LONG_SIDE = 101, SHORT_SIDE_MIN = 11 };

static size_t places(double side, double longer)
{
    double wanted = round((LONG_SIDE - 1) * side / longer) + 1;
    return wanted > SHORT_SIDE_MIN ? (size_t)wanted : SHORT_SIDE_MIN;
}

pp_map pp_map_grid(const pp_mesh *mesh)
{
    double longer = fmax(mesh->width, mesh->height);
    pp_map map = {.columns = places(mesh->width, longer),
                  .rows = places(mesh->height, longer),
                  .x0 = mesh->x0,
                  .y0 = mesh->y0};
    map.dx = mesh->width / (double)(map.columns - 1);
    map.dy = mesh->height / (double)(map.rows - 1);
    return map;
}

pp_status pp_map_sample(const pp_map *map, const pp_mesh *mesh, const double *field,
                        pp_memory *memory, const double **values, pp_error *error)
{
    double *list;
    PP_TAKE(list, &memory->keep, map->rows * map->columns);
    for (size_t row = 0; row < map->rows; row++)
        for (size_t column = 0; column < map->columns; column++) {
            double x = map->x0 + (double)column * map->dx, y = map->y0 + (double)row * map->dy;
            double *value = &list[row * map->columns + column];
            *value = NAN;
            if (!pp_mesh_inside(mesh, x, y)) continue;
            pp_mesh_row shape;
            pp_mesh_shape(mesh, pp_mesh_find(mesh, x, y), 0, 0, &shape);
            *value = pp_mesh_value(&shape, field);
        }
    *values = list;
    return PP_OK;
}

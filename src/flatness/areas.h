/* Out-of-flat areas: connected parts of the plate where a smooth field passes a threshold. */
#ifndef PP_FLATNESS_AREAS_H
#define PP_FLATNESS_AREAS_H

#include "elements/mesh.h"
#include "input/lists/holelist.h"

typedef enum pp_area_side { PP_AREA_HIGH, PP_AREA_LOW, PP_AREA_GAP } pp_area_side;

typedef struct pp_area { /* a connected part of the surface out of flat, or with a gap beneath */
    pp_area_side side;
    double area; /* mm2 */
    double peak; /* positive, mm */
    double x, y; /* of the peak */
    double xmin, ymin, xmax, ymax;
    size_t holes; /* nominal holes whose centre lies in it */
} pp_area;

typedef struct pp_area_request {
    const pp_mesh *mesh;
    const double *field;       /* [mesh->dofs], mm */
    pp_area_side side;         /* high, gap: field > threshold; low: field < -threshold */
    double threshold;          /* mm */
    const pp_nominal *nominal; /* whose holes are counted; NULL: none */
} pp_area_request;

/* Find the areas, the largest first (ties: the smaller xmin, then ymin).
 *
 * memory   keep    the areas
 * errors   PP_ENOMEM
 *
 * Method: marching triangles. Every cell of the mesh is cut into 8 x 8, each into four triangles
 * about its middle, on which the field and the outline are taken as straight; an area of size r is
 * then right to about (h / 2 r)^2, h an eighth of a cell. Triangles are joined where the edge
 * between them lies in the area, so that parts that meet at a point stay apart. The peak is then
 * sought on the field itself, within the outline.
 */
pp_status pp_areas_find(const pp_area_request *request, pp_memory *memory, size_t *count,
                        const pp_area **areas, pp_error *error);

/* The place within the outline, near (*x, *y), where sign * field is largest, by compass search
 * with a first step of `step`; returns field there. */
double pp_field_peak(const pp_mesh *mesh, const double *field, double sign, double step, double *x,
                     double *y);

#endif

/* The order in which places are pressed: neighbours after each other, so that each is a warm start
 * for the next. */
#ifndef PP_HOLDDOWN_VISIT_ORDER_H
#define PP_HOLDDOWN_VISIT_ORDER_H

#include <stdint.h>

#include "elements/mesh.h"

/* Row of cells by row of cells, a serpentine up through the mesh.
 *
 * given    x, y          of the places, plate frame
 *          which[count]  places to visit; NULL: the first `count`
 *          scratch       for the sorting; nothing stays
 * out      order[count]  of indices into `which`
 * errors   PP_ENOMEM */
pp_status pp_visit_order(const pp_mesh *mesh, const double *x, const double *y, size_t count,
                         const uint32_t *which, pp_arena *scratch, uint32_t *order,
                         pp_error *error);

#endif

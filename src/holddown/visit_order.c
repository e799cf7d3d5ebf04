#include "holddown/visit_order.h"

#include <stdlib.h>

typedef struct visit {
    size_t band; /* row of cells: a serpentine up through the mesh */
    double at;
    uint32_t item;
} visit;

static int by_visit(const void *a, const void *b)
{
    const visit *p = a, *q = b;
    if (p->band != q->band) return p->band < q->band ? -1 : 1;
    if (p->at != q->at) return p->at < q->at ? -1 : 1;
    return p->item < q->item ? -1 : p->item > q->item;
}

pp_status pp_visit_order(const pp_mesh *mesh, const double *x, const double *y, size_t count,
                         const uint32_t *which, pp_arena *scratch, uint32_t *order, pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    visit *visits;
    PP_TAKE(visits, scratch, count);
    for (size_t k = 0; k < count; k++) {
        size_t at = which ? which[k] : k;
        double row = (y[at] - mesh->y0) / mesh->hy, along = x[at] - mesh->x0;
        size_t band = row > 0 ? (size_t)row : 0;
        visits[k] = (visit){.band = band, .at = band % 2 ? -along : along, .item = (uint32_t)k};
    }
    qsort(visits, count, sizeof *visits, by_visit);
    for (size_t k = 0; k < count; k++) order[k] = visits[k].item;
    pp_arena_release(scratch, mark);
    return PP_OK;
}

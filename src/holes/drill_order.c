#include "holes/drill_order.h"

#include <math.h>

pp_status pp_drill_order_take(const pp_readings *r, const uint32_t *hole_of_row, size_t holes,
                              pp_arena *scratch, double *order, pp_error *error)
{
    pp_mark mark = pp_arena_mark(scratch);
    uint32_t *round;
    PP_TAKE_ZERO(round, scratch, holes);
    for (size_t i = 0; i < holes; i++) order[i] = NAN;
    for (size_t row = 0; row < r->count; row++) {
        uint32_t hole = hole_of_row[row];
        if (hole >= holes || isnan(r->order[row])) continue;
        uint32_t told = r->round[row];
        bool later = told > round[hole];
        if (!later && !(told == round[hole] && r->order[row] < order[hole])) continue;
        order[hole] = r->order[row], round[hole] = told;
    }
    pp_arena_release(scratch, mark);
    return PP_OK;
}

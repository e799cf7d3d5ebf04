#include "holddown/turned_over.h"

#include <math.h>

pp_status pp_turn_over(const pp_hold_plate *plate, const pp_hold_question *question,
                       const pp_hold_places *holes, pp_memory *memory, pp_turned_plate *turned,
                       pp_turned_over *result, pp_error *error)
{
    pp_hold_gap *gaps;
    pp_turned_over r = {.worst_gap = -INFINITY};
    r.valid = pp_hold_plate_turns(plate->mesh, &r.about_x);
    *result = r;
    if (!r.valid) return PP_OK;
    PP_TAKE(gaps, &memory->keep, holes->count);
    PP_TRY(pp_hold_plate_turn(plate, memory, &turned->plate, error));
    PP_TRY(pp_hold_state_take(&turned->plate, &memory->scratch, &turned->state, error));
    PP_TAKE(turned->answers, &memory->scratch, holes->count);
    PP_TRY(pp_hold_settle(&turned->plate, NULL, 0, NULL, NULL, memory, &turned->state, error));
    PP_TRY(pp_hold_press(&turned->plate, &turned->state,
                         &(pp_hold_visit){question, holes, holes->count, NULL}, memory,
                         turned->answers, NULL, error));
    for (size_t i = 0; i < holes->count; i++) {
        const pp_hold_answer *a = &turned->answers[i];
        bool table = plate->table; /* which nothing goes below */
        gaps[i] = (pp_hold_gap){table ? fmax(a->gap, 0) : a->gap,
                                table ? fmax(a->gap_under_foot, 0) : a->gap_under_foot};
        r.worst_gap = fmax(r.worst_gap, gaps[i].under_foot);
    }
    r.gaps = gaps;
    *result = r;
    return PP_OK;
}

/* One arrangement of the layers reckoned through: settle, press, fold. */
#ifndef PP_STACK_EVALUATE_H
#define PP_STACK_EVALUATE_H

#include "stack/study.h"
#include "stack/under_foot.h"

typedef struct pp_stack_state {
    pp_stack_pile pile;
    pp_stack_rest rest;
    size_t count; /* of holes visited */
    pp_stack_answers at;
} pp_stack_state;

/* Reckon one arrangement, bottom first: way[layers], at the holes of the visit. `state` must stay
 * where it is; arena holds its arrays. errors: those of settling and pressing (pile.h,
 * under_foot.h) */
pp_status pp_stack_evaluate(const pp_stack_ground *ground, const pp_stack_way *way,
                            const pp_stack_visit *visit, pp_arena *arena, pp_arena *scratch,
                            pp_stack_state *state, pp_error *error);

/* What the arrangement comes to over its holes. */
void pp_stack_fold(const pp_stack_state *state, pp_stack_arranged *arranged);

/* Whether a is better than b by the aim: the smaller worst force; above the cap, the smaller worst
 * gap under the foot. */
bool pp_stack_better(pp_stack_aim aim, const pp_stack_arranged *a, const pp_stack_arranged *b);

#endif

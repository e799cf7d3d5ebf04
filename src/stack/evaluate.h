/* One arrangement of the layers reckoned through: settle, press, fold. */
#ifndef PP_STACK_EVALUATE_H
#define PP_STACK_EVALUATE_H

#include "stack/study.h"
#include "stack/under_foot.h"

typedef struct pp_stack_state {
    pp_stack_pile pile;
    pp_stack_rest rest;
    size_t count;
    pp_stack_answer *answers;     /* [count] */
    double *gap, *gap_under_foot; /* [count * layers] */
    size_t fallbacks;
} pp_stack_state;

/* Reckon one arrangement at places[which]. `state` must stay where it is; arena holds its arrays.
 */
pp_status pp_stack_evaluate(const pp_stack_ground *ground, const pp_stack_way *way,
                            const pp_stack_question *question, const pp_stack_holes_at *places,
                            size_t count, const uint32_t *which, int threads, pp_arena *arena,
                            pp_arena *scratch, pp_stack_state *state, pp_error *error);

/* What the arrangement comes to over its holes. */
void pp_stack_fold(const pp_stack_state *state, pp_stack_arranged *arranged);

/* Whether a is better than b by the aim: the smaller worst force; above the cap, the smaller worst
 * gap under the foot. */
bool pp_stack_better(pp_stack_aim aim, const pp_stack_arranged *a, const pp_stack_arranged *b);

#endif

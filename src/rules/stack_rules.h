/* The study of a stack judged: the class of every hole, and whether the stack is ready to drill. */
#ifndef PP_RULES_STACK_RULES_H
#define PP_RULES_STACK_RULES_H

#include "rules/holddown_rules.h"
#include "stack/study.h"

/* A layer of which a larger share lies far from any surveyed point is not known well enough. */
#define PP_STACK_UNSEEN_MOST 0.1

/* Holes by the force that closes their gaps between layers: closed as laid, closed by the foot, by
 * up to twice its force, by more, above the cap. */
enum { PP_STACK_BANDS = 5 };
/* Gaps under the foot: below half the limit, up to it, above it. */
typedef enum pp_gap_band { PP_GAP_BELOW = 0, PP_GAP_NEAR = 2, PP_GAP_ABOVE = 3 } pp_gap_band;

typedef struct pp_stack_bands {         /* for maps */
    const uint8_t *force;               /* [count], 0 .. PP_STACK_BANDS - 1 */
    size_t force_count[PP_STACK_BANDS]; /* how many of each */
    const uint8_t *gap;                 /* [count * layers] pp_gap_band */
} pp_stack_bands;

typedef struct pp_stack_judgement {
    const uint8_t *class_; /* pp_hold_class, by nominal index */
    const bool *uncertain; /* half of a layer's thickness variation could change the class */
    pp_hold_counts counts;
    pp_stack_bands bands;
    bool foot_closes;  /* the foot's force closes every gap between layers */
    bool within_error; /* the survey's error decides: standard error above a third of gap_limit */
    bool hides_bow;    /* a layer surveyed on its supports may hide more bow than gap_limit */
    bool ready; /* every hole is seated or seats under the foot, and every layer was surveyed, all
                   over */
} pp_stack_judgement;

/* Hold every gap against the limits of the study: seated where all are within them at rest, seated
 * under the foot where the foot closes them. Between pins the lowest layer sags where it lies below
 * them by more than the support's gap limit. memory->keep; PP_ENOMEM. */
pp_status pp_stack_judge(const pp_stack *stack, pp_memory *memory, pp_stack_judgement *judgement,
                         pp_error *error);

#endif

/* The foot on a pile at rest, hole by hole: the gaps of every interface, and the force that closes
 * them. Each hole is a contact place of every interface while the foot is on it, or the foot would
 * push layers through one another between mesh points. Theory: docs/theory/stack.md. */
#ifndef PP_STACK_UNDER_FOOT_H
#define PP_STACK_UNDER_FOOT_H

#include "stack/pile.h"

typedef struct pp_stack_question {
    double force;                    /* of the foot, N */
    double gap_limit;                /* between layers, mm */
    double table_gap_limit;          /* to the support, mm; NaN: not asked for */
    double force_cap;                /* N; NaN: none */
    bool only_close;                 /* no tilt */
    bool only_gaps;                  /* no tilt, no forces to close: these are NaN */
    const pp_stack_pressed *pressed; /* clamps that stay on; NULL: none */
} pp_stack_question;

typedef struct pp_stack_answer {
    double force_to_close;     /* between layers; 0: none needed; NaN: above the cap */
    double force_to_close_all; /* to the support too */
    double tilt;               /* of the top layer against its state at rest, mm/mm */
} pp_stack_answer;

typedef struct pp_stack_holes_at { /* where the foot comes down */
    size_t count;
    const double *x, *y;
} pp_stack_holes_at;

/* What is asked of which holes: places[which[i]], i = 0 .. count - 1. */
typedef struct pp_stack_visit {
    const pp_stack_question *question;
    const pp_stack_holes_at *places;
    size_t count;
    const uint32_t *which; /* [count]; NULL: every place */
    int threads;
} pp_stack_visit;

typedef struct pp_stack_answers { /* in the order of the visit */
    pp_stack_answer *answers;     /* [count] */
    double *gap, *gap_under_foot; /* [count * layers], by place, then interface */
    size_t fallbacks;             /* how often the exact path had to be followed */
} pp_stack_answers;

/* Put the foot down at every place of the visit.
 *
 * out      answers   its arrays are given and filled
 * errors   PP_ENUMERIC: the contact does not settle under the foot; PP_ENOMEM
 *
 * Places are visited in parts of a fixed size, each a warm start for the next: the same bits for
 * any number of threads. */
pp_status pp_stack_press(const pp_stack_pile *pile, const pp_stack_rest *rest,
                         const pp_stack_visit *visit, pp_arena *scratch, pp_stack_answers *answers,
                         pp_error *error);

#endif

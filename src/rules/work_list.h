/* The work list: what is to be done about the holes that do not conform or are not proven, a row a
 * hole whatever is wrong with it on either face, in an order that is a short way over the plate.
 *
 * Made from the findings: a hole is here because one of them does not conform or is not proven, or
 * because a share is broken by it, or because its repeat readings contradict each other or it was
 * not measured. No other hole whose findings all conform is here, nor is one that merely stands
 * beside a bad one: of two holes with too little metal between them that one is named whose place
 * and size took the metal. Nothing here is a repair instruction. */
#ifndef PP_RULES_WORK_LIST_H
#define PP_RULES_WORK_LIST_H

#include "rules/findings.h"

/* Rising: of what is to be done about several faults of a hole, the highest goes first. */
typedef enum pp_todo {
    PP_TODO_NOTHING,        /* settled: the customer has accepted it */
    PP_TODO_REMEASURE,      /* nobody knows well enough */
    PP_TODO_REAM,           /* undersize, and there is room to make it larger */
    PP_TODO_SECOND_OPINION, /* gauge and reading contradict each other */
    PP_TODO_DECIDE,         /* the customer's: concession, or a repair under the code */
    PP_TODOS                /* how many */
} pp_todo;

/* Why that and not the obvious. */
typedef enum pp_todo_reason {
    PP_REASON_PLAIN,
    PP_REASON_SETTLED,      /* accepted under a concession that has a reference */
    PP_REASON_LARGE_BESIDE, /* undersize by one reading, another leaves nothing to ream */
    PP_REASON_METAL,        /* reaming to size would take metal that the hole `keeps` needs */
    PP_REASON_EDGE,         /* the same of the metal to the plate's edge */
    PP_REASON_UNPROVABLE,   /* the tolerance is too narrow for the uncertainty of the diameter */
    PP_REASON_REPEATS       /* its repeat readings lie farther apart than they may */
} pp_todo_reason;

/* One thing that is wrong with a hole. */
typedef struct pp_fault {
    uint32_t finding; /* index; PP_NONE: the hole was not measured, and every hole is asked
                         for, or its repeats contradict each other (reason) */
    uint8_t todo;     /* pp_todo */
    uint8_t reason;   /* pp_todo_reason */
    double needed;    /* re-measure: expanded uncertainty (k = 2) of the value with which the same
                         value would be proven, mm; NaN: no uncertainty is concerned */
} pp_fault;

/* How far a hole may be reamed, mm. */
typedef struct pp_ream {
    double target; /* middle of the two, or nominal where there is no upper end; NaN: not to be
                      reamed */
    double lower, upper; /* the diameter that will be measured afterwards; upper NaN: no end */
    uint32_t keeps;      /* nominal index of the hole whose ligament sets `upper` or leaves no room;
                            PP_NONE */
    bool edge;           /* the metal to the plate's edge does */
} pp_ream;

/* What the measured list says of the hole's fate. */
typedef enum pp_settled {
    PP_UNSETTLED,
    PP_SETTLED,             /* in the round judged, with a reference */
    PP_SETTLED_EARLIER,     /* only in a round that was replaced since */
    PP_SETTLED_UNREFERENCED /* without a reference */
} pp_settled;

typedef struct pp_work_row {
    uint32_t hole; /* nominal index; PP_NONE: an extra hole */
    uint32_t bore; /* of its faces the one farther from nominal; PP_NONE: not measured */
    uint8_t todo;  /* pp_todo, the highest of its faults */
    uint8_t todos; /* a bit 1 << pp_todo for each that its faults ask for */
    uint8_t settled;
    const char *disposition, *reference; /* as written; NULL */
    pp_ream ream;
    size_t fault_count;
    const pp_fault *faults; /* in the order of the characteristics */
} pp_work_row;

typedef struct pp_work_list {
    size_t count;
    const pp_work_row *rows;
    size_t counts[PP_TODOS]; /* rows by todo */
    double length;           /* of the way, mm */
} pp_work_list;

/* Fold the findings of the holes into the list.
 *
 * given    judgement with its measures (NULL: an empty list)
 * memory   keep: the list
 * errors   PP_ENOMEM
 * Method: docs/theory/holes.md, "The work list". */
pp_status pp_work_list_make(const pp_judgement *judgement, pp_memory *memory, pp_work_list *list,
                            pp_error *error);

/* Where to find the hole on the plate, mm: its nominal place, an extra hole's own. */
pp_nominal_point pp_work_place(const pp_measures *measures, const pp_work_row *row);
/* Its name. */
const char *pp_work_name(const pp_measures *measures, const pp_work_row *row);
/* The other hole of a fault of two; NULL where there is none. */
const char *pp_work_other(const pp_judgement *judgement, const pp_work_row *row,
                          const pp_fault *fault);

#endif

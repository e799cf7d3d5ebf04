/* The layers of a drilled stack judged: measured ones as any plate, those between always guarded.
 */
#ifndef PP_RULES_DRILLED_RULES_H
#define PP_RULES_DRILLED_RULES_H

#include "rules/findings.h"
#include "stack/drilled.h"

typedef struct pp_drilled_layer { /* bottom first */
    size_t holes;                 /* with a position */
    double limit, largest, mean;  /* of the position, worse face of each hole; NaN: none */
    uint32_t largest_hole;        /* PP_NONE */
    size_t out, not_proven;
    pp_verdict position, verdict;
    const pp_judgement *own; /* of a measured layer, diameters and all; else NULL */
} pp_drilled_layer;

typedef struct pp_drilled_judgement {
    const pp_drilled_layer *layers; /* [layer_count] */
    const uint8_t *row_verdict;     /* pp_verdict of each of drilled->rows */
    pp_verdict verdict;             /* of the stack: the worst layer; one of which nothing is known
                                       leaves it at best not proven */
    const char *basis;
} pp_drilled_judgement;

/* given  own[layer_count]  judgement of each measured layer by the job's decision rule; NULL else
 * Nothing unmeasured is accepted on a bare value: a hole between conforms only where its position
 * and 1.645 standard uncertainties lie within the limit. memory->keep; PP_ENOMEM. */
pp_status pp_drilled_judge(const pp_job *job, const pp_limits *limits, const pp_drilled *drilled,
                           const pp_judgement *const *own, pp_memory *memory,
                           pp_drilled_judgement *judgement, pp_error *error);

#endif

/* Plain sentences of the diagnosis: what an engineer acts on, in the units of the job's reports. */
#ifndef PP_CAUSES_DIAGNOSIS_WORDS_H
#define PP_CAUSES_DIAGNOSIS_WORDS_H

#include "causes/diagnosis.h"

typedef struct pp_term_context { /* what a sentence needs beyond its term */
    pp_length_unit units;
    double expansion;    /* of the plate, per K: what a scale would mean as temperature */
    double order_span;   /* holes along the order */
    double longest_run;  /* of one tool, holes */
    double largest_step; /* of the diameter at a tool change */
    size_t tool_changes;
    double lean_x, lean_y, thickness; /* thickness NaN where not given */
} pp_term_context;

/* One sentence for a term that is a cause, in `arena`; a second one names what it cannot be told
 * from, where there is such. NULL when memory ran out. */
const char *pp_term_sentence(const pp_term *term, const pp_term_context *context, pp_arena *arena);

#endif

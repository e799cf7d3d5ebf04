/* Plain sentences of the diagnosis: what an engineer acts on, in millimetre. */
#ifndef PP_HOLES_DIAGNOSIS_WORDS_H
#define PP_HOLES_DIAGNOSIS_WORDS_H

#include "holes/diagnosis.h"

typedef struct pp_term_context { /* what a sentence needs beyond its term */
    double order_span;           /* holes along the order */
    double longest_run;          /* of one tool, holes */
    double largest_step;         /* of the diameter at a tool change */
    size_t tool_changes;
    double lean_x, lean_y, thickness; /* thickness NaN where not given */
} pp_term_context;

/* One sentence for a term that is a cause, in `arena`; names its partner where it has one. NULL
 * when memory ran out. */
const char *pp_term_sentence(const pp_term *term, const pp_term_context *context, pp_arena *arena);

/* "Plate and scale differed by ...". NULL when memory ran out. */
const char *pp_temperature_sentence(double difference, double standard_error, pp_arena *arena);

#endif

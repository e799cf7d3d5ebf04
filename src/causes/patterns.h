/* From the error field to the final fit: terms alone, then, if the gate sees anything, a model
 * chosen twice over, then the fit of what was chosen, and what it leaves. */
#ifndef PP_CAUSES_PATTERNS_H
#define PP_CAUSES_PATTERNS_H

#include "causes/fitting.h"
#include "causes/naming.h"
#include "causes/structure_left.h"

typedef struct pp_patterns {
    pp_label_set labels[PP_LABEL_KINDS];
    pp_fitting fitting;
    pp_choice choice; /* no member: nothing was searched */
    pp_search_space space;
    pp_screen plain;                  /* the screen without components: the space's fixed columns */
    bool tested[PP_ROBUST_TERMS_MAX]; /* [space.fixed] in the final fit */
    pp_pursuit model;                 /* the final model in the space */
    double s2;
    pp_left left;
    bool
        rare_reversals[2]; /* lost motion of the axis would show but at a few places of the order */
} pp_patterns;

/* Everything `patterns` points to lives in `scratch`; it must stay where it is.
 * errors  as pp_fitting_solve */
pp_status pp_patterns_find(const pp_measures *measures, pp_error_field *field, int threads,
                           pp_arena *scratch, pp_patterns *patterns, pp_error *error);

#endif

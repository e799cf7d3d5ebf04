/* What went wrong on the machine: systematic terms in the error field, each tested. */
#ifndef PP_HOLES_DIAGNOSIS_H
#define PP_HOLES_DIAGNOSIS_H

#include "holes/measures.h"

typedef enum pp_term_state { PP_TERM_FOUND, PP_TERM_NOT_FOUND, PP_TERM_NOT_TESTED } pp_term_state;

typedef struct pp_term {
    const char *name; /* "scale common", "scale x-y", "squareness", "bow of x axis", ... */
    pp_term_state state;
    double value, standard_error, p, p_adjusted; /* Holm; NaN where not tested */
    double share;        /* of the variance left after alignment, unique (type III) */
    double worst_effect; /* mm: largest vector of the term over the holes */
    bool is_cause; /* found, and worst_effect at least a quarter of the position limit's radius */
    const char
        *partner; /* not tested: the term found or fitted that it cannot be told from; NULL */
    const char *sentence; /* plain words for an engineer; NULL unless a cause */
} pp_term;

typedef struct pp_diagnosis {
    bool valid; /* enough holes to say anything */
    const char *why_not;
    size_t holes;
    bool order_known;
    size_t term_count;
    const pp_term *terms;
    size_t misdrilled_count;
    const uint32_t *misdrilled;  /* nominal indices with robust weight below .05 */
    double scatter_x, scatter_y; /* robust standard deviation about the model, mm */
    double autocorrelation;      /* lag 1 along the order */
    double temperature_difference, temperature_standard_error; /* K, of the common scale */
    size_t tool_change_count;
    const uint32_t
        *tool_changes; /* position in the order (from 1) of the first hole of each new tool */
    double rms_before, rms_after; /* of the error field, mm, terms found removed */
    const double *fitted_dx,
        *fitted_dy; /* [nominal index] found terms' vector; NaN where not measured */
} pp_diagnosis;

pp_status pp_diagnose(const pp_job *job, const pp_measures *measures, pp_memory *memory,
                      pp_diagnosis *diagnosis, pp_error *error);

#endif

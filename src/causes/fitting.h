/* The robust fit of the error field on shift, rotation, labels, components and terms, with what the
 * scatter asks for: weights of repeat readings, an uneven scale, errors that follow on each other.
 */
#ifndef PP_CAUSES_FITTING_H
#define PP_CAUSES_FITTING_H

#include "causes/labels.h"
#include "causes/local_scale.h"
#include "causes/separable_terms.h"
#include "causes/serial_correlation.h"

typedef struct pp_fitting {
    int label_columns, component_count;
    pp_component component[PP_COMPONENTS_MAX];
    pp_extra_column extra[PP_LABEL_COLUMNS_MAX + 2 * 2 * PP_COMPONENTS_MAX];
    int extra_of[PP_COMPONENTS_MAX]; /* a component's first extra column: x, y, sine x, sine y */
    pp_screen screen;
    pp_robust_fit fit;
    pp_serial serial;
    pp_local_scale scale;
    bool weighed; /* rows were divided by the local scale */
} pp_fitting;

typedef struct pp_fitting_request {
    const pp_measures *measures;
    pp_error_field *field; /* its extra columns and root weights become those of the fit */
    int label_columns;     /* the first extra columns */
    const pp_extra_column *labels;
    const char *const *kept_out; /* [PP_FIELD_KINDS] of terms, see pp_screen_terms; NULL */
    const pp_component *components;
    int component_count;
    int threads;
} pp_fitting_request;

/* Fit. `fitting` must stay where it is as long as the field is used. Everything it points to lives
 * in `arena`.
 * errors  PP_ENUMERIC: too little to say anything; PP_ENOMEM */
pp_status pp_fitting_solve(const pp_fitting_request *request, pp_arena *arena, pp_fitting *fitting,
                           pp_error *error);

#endif

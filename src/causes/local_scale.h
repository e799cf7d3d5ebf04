/* Scatter that is not the same everywhere: growing from the centre to the rim, or over the job.
 *
 * The logarithm of each kept hole's residual length (clipped to .05 .. 5 medians) is regressed on
 * 1, (r/L)^2, s and s^2; an F test tells whether any of it is there (Harvey, Econometrica 44 (1976)
 * 461, has the multiplicative model).
 */
#ifndef PP_CAUSES_LOCAL_SCALE_H
#define PP_CAUSES_LOCAL_SCALE_H

#include "causes/error_field.h"

#define PP_UNEVEN_WEIGHED 0.01  /* below: rows are divided by the scale found */
#define PP_UNEVEN_SANDWICH 0.05 /* below: standard errors allow for uneven scatter of any kind */

typedef struct pp_local_scale {
    double p;              /* 1 where it could not be told */
    double log_mean;       /* of the logarithms fitted */
    double coefficient[4]; /* of 1, (r/L)^2, s, s^2; 0 where not in the regression */
} pp_local_scale;

/* Test and fit the scale. `fit` holds the residuals and weights of the field's rows, which bore
 * field->root_weight.
 * errors   PP_ENUMERIC: the scale's equations are singular; PP_ENOMEM */
pp_status pp_local_scale_find(const pp_error_field *field, const pp_robust_fit *fit,
                              pp_arena *scratch, pp_local_scale *scale, pp_error *error);

/* Factor of the scatter at a place: (r/L)^2 and s; 1 on average over the logarithms. */
double pp_local_scale_at(const pp_local_scale *scale, double radius2, double s);

#endif

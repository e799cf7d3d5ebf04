/* The smooth part of the error that no term describes and that repeats from plate to plate, and
 * what repeats hole by hole: vector polynomials of degree 2 to 6, each degree a group with a weight
 * of its own, and the holes themselves as one more. */
#ifndef PP_CORRECTION_FIELD_H
#define PP_CORRECTION_FIELD_H

#include <stdbool.h>
#include <stddef.h>

#include "base/memory.h"

enum { PP_FIELD_DEGREE_MIN = 2, PP_FIELD_DEGREE_MAX = 6, PP_FIELD_GROUPS = 6 };

typedef struct pp_field_group {
    const char *name;    /* "degree 2" .. "degree 6", "single holes" */
    size_t coefficients; /* K */
    double weight, p;    /* James and Stein's, positive part; of the F test */
} pp_field_group;

typedef struct pp_field_data {
    size_t count, plates;              /* holes, plates */
    size_t columns;                    /* of the basis, orthonormal over the holes */
    double **column;                   /* [columns][2 count]: x of all holes, then y */
    size_t first[PP_FIELD_GROUPS + 1]; /* columns of each degree */
    double **coefficient;              /* [plates][columns] */
    double **left;                     /* [plates][2 count]: without the basis */
} pp_field_data;

typedef struct pp_field_request {
    size_t count; /* of holes */
    const double *x, *y;
    size_t fixed_count;         /* of fields described otherwise */
    const double *const *fixed; /* [fixed_count][2 count]: x of all holes, then y */
    size_t plates;
    const double *const *residual; /* [plates][2 count] */
} pp_field_request;

/* The basis over the holes, orthogonal to shift, turn and the fixed fields, and the residuals in
 * it. Everything in `arena`. errors: PP_ENOMEM */
pp_status pp_field_prepare(const pp_field_request *request, pp_arena *arena, pp_field_data *data,
                           pp_error *error);

/* What repeats, learned of all plates but `without` (plates: of all): field[2 count] is written.
 * Weight of a group: max(0, 1 - (K - 2)/K df/(df + 2)/F), 0 where p(F) > .01 (James and Stein with
 * an estimated variance; from memory). */
void pp_field_learn(const pp_field_data *data, size_t without,
                    pp_field_group groups[PP_FIELD_GROUPS], double *field);

#endif

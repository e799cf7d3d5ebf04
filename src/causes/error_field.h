/* The error field of the tube holes, in drilling order, and what a machine can do to it. */
#ifndef PP_CAUSES_ERROR_FIELD_H
#define PP_CAUSES_ERROR_FIELD_H

#include "causes/diagnosis.h"
#include "causes/families.h"
#include "causes/robust.h"

/* The fields fitted: shift and rotation, which alignment takes out, then one per term; beyond
 * PP_FIELD_KINDS the extra columns of the field, in their order. */
typedef enum pp_field_kind {
    PP_FIELD_SHIFT_X,
    PP_FIELD_SHIFT_Y,
    PP_FIELD_ROTATION,
    PP_FIELD_FIRST_TERM,                                /* pp_term_kind 0 .. */
    PP_FIELD_KINDS = PP_FIELD_FIRST_TERM + PP_TERM_LEAN /* .. PP_TERM_GROWTH */
} pp_field_kind;

typedef enum pp_extra_way { PP_EXTRA_X, PP_EXTRA_Y, PP_EXTRA_TURN } pp_extra_way;

/* A column beside the terms: a shift or turn of the holes that bear a label, or a searched pattern.
 */
typedef struct pp_extra_column {
    pp_extra_way way;              /* turn: (-y, x)/L, labels only */
    const uint32_t *label;         /* [field count]; NULL: a component */
    uint32_t which;                /* the label whose holes it moves */
    const pp_component *component; /* a searched pattern */
    int part;                      /* of it: 0, or 1 the sine */
} pp_extra_column;

typedef struct pp_error_field {
    size_t count;    /* measured tube holes, not plugged; in drilling order where it is known */
    uint32_t *hole;  /* nominal index */
    double *x, *y;   /* nominal, from the centroid */
    double *ex, *ey; /* measured - nominal */
    double *s;       /* place in the order, -1/2 .. 1/2; 0 without order */
    int8_t *move_x, *move_y; /* sign of the axis's last real move; 0 before the first */
    double *root_weight;     /* square root of the hole's weight, 1 on average; NULL: all 1 */
    double centre_x, centre_y;
    double radius; /* L: of the farthest hole from the centroid */
    bool order_known;
    size_t order_missing; /* holes without order where others have one */
    int extra_count;
    const pp_extra_column *extra; /* [extra_count] */
} pp_error_field;

/* Take the entry face's tube holes from the measures into arrays of `arena`. errors: PP_ENOMEM */
pp_status pp_error_field_build(const pp_measures *measures, pp_arena *arena, pp_error_field *field,
                               pp_error *error);

/* The field of `kind` for a coefficient of one, at items first .. first + count - 1: vx, vy[count].
 */
void pp_error_field_vectors(const pp_error_field *field, pp_field_kind kind, size_t first,
                            size_t count, double *vx, double *vy);

/* Does the kind have a part along x (axis 0), y (axis 1)? */
bool pp_field_kind_has(const pp_error_field *field, pp_field_kind kind, int axis);
/* The value of a component's part at an item. */
double pp_component_value(const pp_error_field *field, const pp_component *component, int part,
                          size_t item);
bool pp_field_kind_needs_order(pp_field_kind kind);
/* Does it change slowly along the order? Lost motion of an axis does where the axis turns back so
 * rarely: rare_reversals[axis]. */
bool pp_field_kind_is_slow(pp_field_kind kind, const bool rare_reversals[2]);

/* A regression of the error field on some kinds. */
typedef struct pp_field_model {
    const pp_error_field *field;
    int count;
    pp_field_kind kind[PP_ROBUST_TERMS_MAX];
} pp_field_model;

/* The robust fit that this model asks for; it points into the model, which must outlive it. */
pp_robust_problem pp_field_model_problem(const pp_field_model *model, int threads);

/* Take shift and turn (least squares over the holes that count; NULL: all) out of a field. */
void pp_take_rigid_out(const double *x, const double *y, const bool *counts, size_t count,
                       double *fx, double *fy);

#endif

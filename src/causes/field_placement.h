/* Where a vector field lies as a whole: the shift and turn that alignment takes out. */
#ifndef PP_CAUSES_FIELD_PLACEMENT_H
#define PP_CAUSES_FIELD_PLACEMENT_H

#include "causes/error_field.h"

/* A field of vectors at the items of an error field, and the items that count. */
typedef struct pp_vectors {
    const pp_error_field *field; /* the places */
    const bool *kept;            /* [field->count] */
    const double *x, *y;         /* [field->count] mm */
} pp_vectors;

typedef struct pp_field_placement {
    double x, y, turn;         /* mm, rad; about the centre */
    double centre_x, centre_y; /* of the items kept, from the field's centroid */
} pp_field_placement;

/* Shift and turn of the vectors kept, least squares; 0 where none is.
 * threads  the result has the same bits whatever their number
 * errors   those of pp_parallel */
pp_status pp_field_place(const pp_vectors *vectors, int threads, pp_field_placement *placement,
                         pp_error *error);

/* Sum of squares over the vectors kept, in units of unit[0] and unit[1], without shift and turn.
 * errors   those of pp_parallel */
pp_status pp_field_squares_left(const pp_vectors *vectors, const pp_field_placement *placement,
                                const double unit[2], int threads, double *sum, pp_error *error);

#endif

/* The space in which patterns are searched: whitened rows of the error field, and the products of
 * columns with everything that is looked at.
 *
 * The rows are those of the robust fit in units of its scale, with residuals longer than 3.5 cut
 * back to that and holes beyond 8 left out, whitened as an autoregression of order 1 asks. A column
 * is known by its products with all columns that might be looked at: a step before every bin of the
 * order, waves, cuts of the plate, every second hole, and, to see what is left, polynomials of the
 * place, cosines of the order and the sums of cells. Orthogonalising columns is then arithmetic on
 * those products, and looking at all candidates costs one pass over them, not over the holes.
 *
 * Product vector: scalars of the x axis, the same of the y axis, the fixed columns (shift,
 * rotation, labels, terms), the data.
 */
#ifndef PP_CAUSES_SEARCH_SPACE_H
#define PP_CAUSES_SEARCH_SPACE_H

#include <math.h>

#include "causes/error_field.h"
#include "causes/separable_terms.h"

enum {
    PP_SPACE_BINS_MAX = 4096,
    PP_SPACE_GROUPS_MAX = 1024,
    PP_SPACE_CELLS_MAX = 1024,
    PP_SPACE_CUTS_MAX = 30,
    PP_SPACE_STRIP = 64, /* rows made together */
    PP_SPACE_SHAPES = 12 /* polynomials of degree 2 .. 4, and cosines of the order */
};

typedef struct pp_space_cut {
    int axis;
    double split; /* mm from the centroid */
} pp_space_cut;

typedef struct pp_search_space {
    const pp_error_field *field;
    int threads;
    size_t rows;    /* holes that take part, in the order of the field */
    uint32_t *item; /* [rows] */
    double rho;

    size_t bins;                        /* of the order; 0: the order is not known */
    uint32_t *bin_begin;                /* [bins + 1] rows */
    size_t groups;                      /* of bins, for waves */
    uint32_t *group_begin;              /* [groups + 1] bins */
    double *group_place;                /* [groups] 0 .. 1 */
    double *group_square, *group_cross; /* [groups] W'W within it, and with the group before */
    int wave_count;
    double *periods; /* [wave_count] */
    double *wave;    /* [2 wave_count][groups] cosines and sines */
    double *cosine;  /* [PP_SPACE_SHAPES][groups] */
    int cut_count;
    pp_space_cut cut[PP_SPACE_CUTS_MAX];
    int axis_cuts[2];       /* cuts of x first */
    uint8_t *cuts_below[2]; /* [rows] how many cuts of the axis lie below the hole */
    size_t cells;
    uint16_t *cell;      /* [rows] */
    uint32_t *cell_rows; /* [cells] */

    /* places of the scalars: steps from 0 (one a bin) */
    size_t wave_at, cut_at, alternate_at, polynomial_at, cosine_at, cell_at;
    size_t candidates;    /* scalars before polynomial_at */
    size_t scalars;       /* of one axis */
    size_t width;         /* of a product vector */
    double *square;       /* [candidates] of the scalar column, whitened */
    double *wave_product; /* [wave_count] cosine with sine */
    double polynomial_gram[PP_SPACE_SHAPES * PP_SPACE_SHAPES];
    double cosine_gram[PP_SPACE_SHAPES * PP_SPACE_SHAPES];

    int fixed;                 /* columns: those of the model screened without components */
    const pp_field_kind *kind; /* [fixed] */
    double *products;          /* [fixed + 1][width]; the last is the data's */
    double total;              /* squared length of the data */
} pp_search_space;

/* How a row is whitened: row' = own row - back (row before). */
typedef struct pp_whitening {
    double own, back;
} pp_whitening;

/* Of one row: the first, and any without serial correlation, stays as it is. */
static inline pp_whitening pp_space_whitening(const pp_search_space *s, size_t row)
{
    if (row == 0 || s->rho == 0) return (pp_whitening){1, 0};
    size_t gap = s->item[row] - s->item[row - 1];
    double factor = gap == 1 ? s->rho : pow(s->rho, (double)gap),
           own = 1 / sqrt(1 - factor * factor);
    return (pp_whitening){own, factor * own};
}

/* The root weight of a row. */
static inline double pp_space_weight(const pp_search_space *s, size_t row)
{
    return s->field->root_weight ? s->field->root_weight[s->item[row]] : 1;
}

/* Build the space from a fit.
 *
 * given    model    fixed columns: shift, rotation, labels, terms
 *          fit      residuals and weights of the field's weighted rows
 *          rho      of the whitening
 *          fine     [fine_count] items near which steps are searched to the hole where bins are
 *                   wider
 * errors   PP_ENOMEM
 */
typedef struct pp_space_request {
    const pp_field_model *model;
    const pp_robust_fit *fit;
    double rho;
    int threads;
    const size_t *fine;
    int fine_count;
} pp_space_request;
/* The whitened rows of the request, summed into bins of the order, cuts and cells, with the basis
 * of what is always fitted; lives in `arena`. errors: PP_ENOMEM */
pp_status pp_space_build(const pp_space_request *request, pp_arena *arena, pp_search_space *space,
                         pp_error *error);

/* A fixed column (space->fixed: the data), or, where `component` is given, a part of it. */
typedef struct pp_space_column {
    int fixed;
    const pp_robust_fit *fit; /* whose scale fixed columns and data are divided by */
    const pp_component *component;
    int part;
} pp_space_column;
/* Its whitened rows first .. first + count - 1, at most PP_SPACE_STRIP; a component's only in x. An
 * axis that the column does not have is left as it is. */
void pp_space_rows(const pp_search_space *space, const pp_space_column *column, size_t first,
                   size_t count, double *x, double *y);
/* Is a fixed column one of the terms, and not of what is always fitted? */
bool pp_space_is_term(const pp_search_space *space, int fixed);

/* Correlation of neighbours in the order for the search: within blocks of some 1.3 sqrt(N) holes,
 * without each block's mean and the mean of every second hole, so that steps, drifts and slow waves
 * are not taken for wander and whitened away. 0 where it is not significant. */
double pp_search_correlation(const pp_error_field *field, const pp_robust_fit *fit,
                             pp_arena *scratch);

/* A scalar column's image: products with the scalars of its own axis. */
typedef struct pp_image {
    pp_component component;
    int part;
    double square;
    double *scalars; /* [space->scalars] */
    double *group;   /* [groups] of an oscillation: its values */
} pp_image;
/* Part `part` of a component as a vector over the rows of the space: its square length and its
 * products with the scalar columns, in `arena`. errors: PP_ENOMEM */
pp_status pp_space_image(const pp_search_space *space, const pp_component *component, int part,
                         pp_arena *arena, pp_image *image, pp_error *error);

/* Product of the vector's column with a scalar column of `axis`. */
double pp_space_product(const pp_search_space *space, const double *vector, const pp_image *image,
                        int axis);
/* The same for a wave of the given values, one a group. */
double pp_space_wave_product(const pp_search_space *space, const double *vector, const double *wave,
                             int axis);
/* W'W products of two waves. */
double pp_space_wave_square(const pp_search_space *space, const double *a, const double *b);
/* Values of a wave at the groups. */
void pp_space_wave_values(const pp_search_space *space, double periods, int part, double *values);

#endif

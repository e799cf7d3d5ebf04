/* Layers held flat at the contact points of a coarse mesh: the loads that takes, and inner products
 * of their shapes. Inside stack/. */
#ifndef PP_STACK_HELD_FLAT_H
#define PP_STACK_HELD_FLAT_H

#include "stack/choices.h"
#include "stack/pile.h"

typedef struct pp_held_flat {
    size_t points;        /* m, of the table */
    const double *top;    /* [total * m] heights of the upper face, by orientation */
    const double *under;  /* of the lower one */
    const double *load;   /* [total * m] force that holds the lower face flat, N */
    const double *matrix; /* LU factor of [[G, s R], [s R', 0]], for D = 1 */
    const int *pivots;
    double scale; /* s */
} pp_held_flat;

/* Shapes and loads of all orientations of `choices` on the ground's contact points, each with its
 * own layer's stiffness. Arrays in `arena`. errors: PP_ENUMERIC: a stiffness cannot be factored;
 * PP_ENOMEM */
pp_status pp_held_flat_make(const pp_stack_ground *ground, const pp_stack_choices *choices,
                            pp_arena *arena, pp_held_flat *held, pp_error *error);

/* x[(m + 3) * count]: the first m rows given, the last three 0 or a balance; solved in place.
 * errors   PP_ENUMERIC: LAPACK refuses; PP_ENOMEM */
pp_status pp_held_flat_solve(const pp_held_flat *held, size_t count, double *x, pp_error *error);

#endif

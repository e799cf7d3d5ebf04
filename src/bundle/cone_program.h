/* A convex programme over round cones: minimise x'P x / 2 + c'x with every slack s = A x + b in its
 * cone. The caller owns the structure of A and P, and solves the one linear system of a step.
 *
 * Method: primal-dual interior point, Nesterov-Todd direction, Mehrotra predictor and corrector
 * (Vandenberghe 2010, section 5; Nocedal & Wright, Numerical Optimization, 2006, section 14.2; both
 * from memory). The slacks follow from x, so that what is found is always feasible; the multipliers
 * z need not fit x at the start.
 */
#ifndef PP_BUNDLE_CONE_PROGRAM_H
#define PP_BUNDLE_CONE_PROGRAM_H

#include <stddef.h>

#include "bundle/cone.h"
#include "plateproof/error.h"

typedef struct pp_cone_program {
    size_t unknowns, cones;
    const double *cost;                                                 /* c */
    void (*slacks)(const void *context, const double *x, pp_cone *s);   /* A x + b */
    void (*move)(const void *context, const double *dx, pp_cone *ds);   /* A dx */
    void (*gather)(const void *context, const pp_cone *z, double *out); /* A' z */
    void (*curve)(const void *context, const double *x, double *out);   /* P x; NULL: P = 0 */
    bool (*factor)(void *context, const pp_cone_weight *weight);        /* P + A' W^-2 A */
    void (*solve)(const void *context, double *right);                  /* in place */
    void *context;
    double gap_wanted;      /* stop when s'z is below */
    double residual_wanted; /* and every |P x + c - A'z| below */
} pp_cone_program;

/* One cone's share of the work. */
typedef struct pp_cone_work {
    pp_cone_scaling scaling;
    pp_cone s, ds, dz, push;
} pp_cone_work;

typedef struct pp_cone_room { /* memory for one programme, by the caller */
    pp_cone_work *cone;       /* [cones] */
    pp_cone_weight *weight;   /* [cones] */
    pp_cone *buffer;          /* [cones] */
    double *right, *residual; /* [unknowns] each */
} pp_cone_room;

typedef struct pp_cone_end {
    double gap;      /* s'z: how far the value can be from the best, where the residual is 0 */
    double residual; /* largest |P x + c - A'z| */
    int steps;
} pp_cone_end;

/* Solve. x must be strictly feasible and every z inside its cone on entry; both are improved in
 * place, whatever is returned. True when the accuracy wanted was reached; else `end` says how near
 * it came. */
bool pp_cone_program_solve(const pp_cone_program *program, const pp_cone_room *room, double *x,
                           pp_cone *z, pp_cone_end *end);

#endif

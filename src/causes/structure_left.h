/* What no term and no component describes: does the residual still follow the order, or the place?
 */
#ifndef PP_CAUSES_STRUCTURE_LEFT_H
#define PP_CAUSES_STRUCTURE_LEFT_H

#include "causes/pursuit.h"

#define PP_LEFT_SAID 0.003  /* below: structure is left */
#define PP_LEFT_WIDENS 0.03 /* below: the tests of the terms of that kind are widened */

typedef struct pp_left_test {
    double p;       /* 1 where it could not be tested */
    double f;       /* ratio of the mean squares */
    double df;      /* of the structure */
    double squares; /* it takes beyond what scatter would, in the space's units */
} pp_left_test;

typedef struct pp_left {
    pp_left_test order; /* cosines 1 .. 12 of the order */
    pp_left_test place; /* x^i y^j, degree 2 .. 4 */
    pp_left_test cells; /* means of square cells of about 12 holes */
} pp_left;

/* F tests beside the model. */
pp_left pp_left_find(const pp_pursuit *model);

/* How much the variances of terms of that kind are widened: 1, or the test's F. */
double pp_left_factor(const pp_left_test *test);
/* The one of the two tests of the place that widens more. */
const pp_left_test *pp_left_of_place(const pp_left *left);

#endif

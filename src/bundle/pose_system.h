/* The linear algebra of a placement's programmes (bundle/pose_program.h): rows for every disc and
 * every play, and the block-arrow system of one step. */
#ifndef PP_BUNDLE_POSE_SYSTEM_H
#define PP_BUNDLE_POSE_SYSTEM_H

#include <stdint.h>

#include "bundle/cone_program.h"

enum { PP_POSE_LINE = 4, PP_POSE_NONE = -1 }; /* unknowns of a tube's line; no such column */

typedef enum pp_pose_row_kind { PP_POSE_DISC, PP_POSE_SHIFT, PP_POSE_TURN } pp_pose_row_kind;

/* One cone: a disc of a tube, or the play of a plate. */
typedef struct pp_pose_row {
    pp_pose_row_kind kind;
    uint32_t tube; /* its block, of a disc */
    int shift;     /* border column of dx (dy next to it), or PP_POSE_NONE */
    int turn;      /* border column of the turn, in mm at the rim, or PP_POSE_NONE */
    double s;      /* station, -1 .. 1 */
    double t, x, y;
    double gx, gy; /* how the centre goes with the turn */
} pp_pose_row;

typedef struct pp_pose_system {
    size_t tubes, rows, border; /* border: columns behind the lines */
    int radius;                 /* border column of the radius, PP_POSE_NONE: a constant */
    pp_pose_row *row;
    double *block;     /* [tubes][10]: lower triangle of a 4 x 4 factor */
    double *arm;       /* [tubes][4][border]: factor^-1 of the coupling to the border */
    double *corner;    /* [border][border]: factor of the border, lower */
    double *at_border; /* [border]: dx, dy, turn where linearised; objective of `least` */
    double *curve;     /* [border]: diagonal of P there */
} pp_pose_system;

/* Unknowns: the line of every tube (ax, ay, bx, by), then the border. */
size_t pp_pose_unknowns(const pp_pose_system *w);

/* The functions of a pp_cone_program; `context` is a pp_pose_system. */
void pp_pose_move(const void *context, const double *d, pp_cone *out);
void pp_pose_slacks(const void *context, const double *x, pp_cone *out);
void pp_pose_gather(const void *context, const pp_cone *z, double *out);
void pp_pose_curve(const void *context, const double *x, double *out);
bool pp_pose_factor(void *context, const pp_cone_weight *weight);
void pp_pose_solve(const void *context, double *right);

#endif

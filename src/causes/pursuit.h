/* A model being built from columns of a search space: terms and components enter, what is left of
 * every candidate beside them is kept up to date, and each can be asked what it would explain.
 *
 * Squares are in units of the space, -2 ln L times s2.
 */
#ifndef PP_CAUSES_PURSUIT_H
#define PP_CAUSES_PURSUIT_H

#include "causes/search_space.h"

enum { PP_PURSUIT_COLUMNS = PP_ROBUST_TERMS_MAX, PP_PURSUIT_MEMBERS = 24 };

typedef struct pp_member { /* a term, or a component */
    int fixed;             /* index into the space's fixed columns; -1: a component */
    pp_component component;
} pp_member;

typedef struct pp_pursuit {
    const pp_search_space *space;
    int columns;
    double *q; /* [PP_PURSUIT_COLUMNS][width] orthonormal columns */
    double r[PP_PURSUIT_COLUMNS * PP_PURSUIT_COLUMNS]; /* column k = sum over j of q_j r[j][k] */
    double zq[PP_PURSUIT_COLUMNS];
    double *xx, *yy, *xy; /* [candidates] squares and products left beside the model */
    double *dx, *dy;      /* [candidates] products with the data left */
    double *wave[4];      /* [wave_count] cosine x with sine x, x y, y x, y y */
    double rest;          /* squares of the data left */
    int members;
    pp_member member[PP_PURSUIT_MEMBERS];
    int begin[PP_PURSUIT_MEMBERS + 1]; /* first column of each member */
} pp_pursuit;

/* Images of the components met so far, each made once. */
typedef struct pp_image_shelf {
    int count, room;
    pp_image *image;
    pp_arena *arena;
} pp_image_shelf;

/* Room for a model, empty but for the space's columns that are no terms (shift, rotation, labels).
 * errors   PP_ENOMEM */
pp_status pp_pursuit_begin(const pp_search_space *space, pp_arena *arena, pp_pursuit *pursuit,
                           pp_error *error);
/* `to` becomes the same model as `from`; both were begun on one space. */
void pp_pursuit_copy(const pp_pursuit *from, pp_pursuit *to);

/* Let a member enter. *entered: false where nothing is left of it beside the model.
 * errors   PP_ENOMEM */
pp_status pp_pursuit_add(pp_pursuit *pursuit, const pp_member *member, pp_image_shelf *shelf,
                         bool *entered, pp_error *error);

/* What a term (by fixed column) would take from `rest`; 0 where less than 4 % of it is left. */
double pp_pursuit_term_gain(const pp_pursuit *pursuit, int fixed);
/* The same for the best place of a family; *best says where. 0: there is none. */
double pp_pursuit_family_gain(const pp_pursuit *pursuit, pp_family family, pp_component *best);
/* What `rest` would grow by without the member. */
double pp_pursuit_loss(const pp_pursuit *pursuit, int member);

#endif

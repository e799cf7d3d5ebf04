/* Which patterns are there? A gate that costs little where none is, and the choice of a model among
 * all terms and families, from several starts. */
#ifndef PP_CAUSES_SEARCH_H
#define PP_CAUSES_SEARCH_H

#include "causes/pursuit.h"

typedef struct pp_choice { /* a model chosen */
    int members;
    pp_member member[PP_PURSUIT_MEMBERS];
    double cost; /* squares / s2 and what its members cost */
} pp_choice;

/* The statistic at which a term passes, Holm's first of ten at the level for so many holes. */
double pp_search_term_cost(size_t holes);
/* Levels of the tests of terms and families together. */
double pp_search_alpha(size_t holes);

/* Does the score statistic of any family, beside the labels and all terms, pass its level?
 * errors   PP_ENOMEM */
pp_status pp_search_gate(const pp_search_space *space, pp_arena *scratch, bool *passed,
                         pp_error *error);

typedef struct pp_model_parts {
    const bool *fixed; /* [fixed of the space] terms that take part; NULL: all */
    const pp_component *components;
    int count;
} pp_model_parts;

/* Variance of a coordinate: what these parts leave, over its degrees of freedom. `model` is left as
 * that model. errors: PP_ENOMEM */
pp_status pp_search_model(const pp_search_space *space, const pp_model_parts *parts,
                          pp_image_shelf *shelf, pp_arena *arena, pp_pursuit *model, double *s2,
                          pp_error *error);

/* What may not take part. */
typedef struct pp_search_ban {
    bool family[PP_FAMILIES];
    int term; /* fixed column; -1: none */
} pp_search_ban;

/* Least cost over the starts: all terms; nothing; the path of each family; each continued with
 * everything, pruned, every place moved once, pruned again.
 *
 * s2      variance of a coordinate
 * ban     NULL: all may take part
 * errors   PP_ENOMEM */
pp_status pp_search_choose(const pp_search_space *space, double s2, const pp_search_ban *ban,
                           pp_image_shelf *shelf, pp_arena *scratch, pp_choice *choice,
                           pp_error *error);

/* The cost of a model as it stands. */
double pp_search_cost(const pp_pursuit *model, double s2);

#endif

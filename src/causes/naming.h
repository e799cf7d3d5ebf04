/* May what was found be named? A term is not where a pattern of another family explains it as well,
 * a family not where other terms and families do. */
#ifndef PP_CAUSES_NAMING_H
#define PP_CAUSES_NAMING_H

#include "causes/search.h"

/* Models whose costs are so little apart are not told apart. */
#define PP_NAMING_CLOSE 6.0

typedef struct pp_naming { /* the final model, in its space */
    const pp_search_space *space;
    const bool *tested; /* [space->fixed] terms of the final fit */
    const pp_component *components;
    int component_count;
    double s2;
    const pp_choice *choice; /* of the search */
} pp_naming;

/* The best rival of a term found (by fixed column): *rival says whether there is one. It is one
 * component, or, of a term beside set-ups, a whole model without it.
 * errors   PP_ENOMEM */
pp_status pp_naming_of_term(const pp_naming *naming, int fixed, pp_arena *scratch, bool *rival,
                            pp_choice *instead, pp_error *error);

/* What would take the place of a family found at hardly more cost: members of `instead` that are
 * not in the model chosen. *rival says whether there is such a thing.
 * errors   PP_ENOMEM */
pp_status pp_naming_of_family(const pp_naming *naming, pp_family family, pp_arena *scratch,
                              bool *rival, pp_choice *instead, pp_error *error);

/* -2 ln p of a component, the search included: what its squares (in units of s2) are worth. */
double pp_naming_evidence(pp_family family, double statistic, size_t holes);

#endif

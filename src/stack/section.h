/* The layers cut along a line through one hole, at rest and with the foot on it; and whether every
 * layer of that state is in equilibrium. */
#ifndef PP_STACK_SECTION_H
#define PP_STACK_SECTION_H

#include "stack/under_foot.h"

enum { PP_SECTION_POINTS = 81 };

typedef struct pp_stack_section {
    double x, y, direction_deg; /* the hole, and the line through it */
    double from, to;            /* ends of the line, from the hole, mm */
    /* [PP_SECTION_POINTS * layers] heights less the nominal thickness, by layer, from below: of its
     * lower face */
    const double *at_rest, *under_foot;
    double equilibrium; /* largest nodal force of any layer that nothing balances, N */
} pp_stack_section;

typedef struct pp_stack_cut {
    double force; /* of the foot, N */
    double x, y;  /* the hole */
    size_t interface;
} pp_stack_cut;

/* Cut through the hole in the direction in which the layer above `interface` bows most.
 * keep: the heights. errors: PP_ENUMERIC: the contact does not settle; PP_ENOMEM */
pp_status pp_stack_section_cut(const pp_stack_pile *pile, const pp_stack_rest *rest,
                               const pp_stack_cut *cut, pp_memory *memory,
                               pp_stack_section *section, pp_error *error);

#endif

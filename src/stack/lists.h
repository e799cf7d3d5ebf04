/* Lists of promising arrangements, cheap to make; the elastic state then judges them. Theory:
 * docs/theory/stack.md, "Order, face and turn". */
#ifndef PP_STACK_LISTS_H
#define PP_STACK_LISTS_H

#include "stack/choices.h"
#include "stack/pile.h"

/* A growing list of different arrangements. */
typedef struct pp_stack_list {
    size_t layers, count, room;
    pp_stack_way *way; /* [room * layers] */
} pp_stack_list;

/* Add unless it is there already or there is no room. */
void pp_stack_list_add(pp_stack_list *list, const pp_stack_way *way);

/* By the load that holds every layer flat at the contact points of a coarse ground: arrangements
 * under which the loads above every interface push as evenly as they can, for thin layers. Steepest
 * descent from seeded starts; at most `most`, best first. A figure of merit, not a proof that the
 * stack lies closed: its value hangs on the grid. errors: PP_ENUMERIC: a layer's stiffness cannot
 * be factored; PP_ENOMEM */
pp_status pp_stack_list_by_load(const pp_stack_ground *coarse, const pp_stack_choices *choices,
                                size_t most, pp_arena *scratch, pp_stack_list *list,
                                pp_error *error);

/* `most` drawn by chance from a fixed seed, among all that are allowed: what neither list thinks
 * of. */
void pp_stack_list_by_chance(const pp_stack_choices *choices, size_t most, pp_stack_list *list);

/* By how well each layer fits the one below it, for stiff layers: least sum over interfaces of the
 * root mean square distance off a plane, and of the energy that would bring the two together; a
 * shortest path through (set of layers, last one) (Held and Karp, J. SIAM 10 (1962) 196), at most
 * `most` of each. Left out where there are too many orientations to run through.
 * errors   PP_ENUMERIC: a layer's stiffness cannot be factored; PP_ENOMEM */
pp_status pp_stack_list_by_pairs(const pp_stack_ground *coarse, const pp_stack_choices *choices,
                                 size_t most, pp_arena *scratch, pp_stack_list *list,
                                 pp_error *error);

#endif

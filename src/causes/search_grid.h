/* What a search looks at: bins of the order, waves, cuts, cells. A part of the search space, apart
 * for its length. */
#ifndef PP_CAUSES_SEARCH_GRID_H
#define PP_CAUSES_SEARCH_GRID_H

#include "causes/search_space.h"

/* Lay out the candidates of a space whose rows are known, and their own squares.
 * errors   PP_ENOMEM */
pp_status pp_space_grid(const size_t *fine, int fine_count, pp_arena *arena, pp_search_space *space,
                        pp_error *error);

/* x^i y^j of degree 2 to 4 at an item, in units of L. */
void pp_space_polynomials(const pp_error_field *field, size_t item, double value[PP_SPACE_SHAPES]);

#endif

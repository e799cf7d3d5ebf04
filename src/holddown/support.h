/* What the plate lies on: the points where it may touch a table or pins. mm. */
#ifndef PP_HOLDDOWN_SUPPORT_H
#define PP_HOLDDOWN_SUPPORT_H

#include "elements/mesh.h"
#include "input/lists/holelist.h"

typedef struct pp_supports {
    size_t count;
    const double *x, *y;
    const double *height; /* of the support's top against the others; 0 on a table */
    const double *share;  /* area it stands for, mm2; 1 for a pin */
    const long *pin;      /* index in the pin list; NULL on a table */
    double level;         /* mm: in the heights of the pin list, where height is 0 */
} pp_supports;

/* A table touches anywhere: the mesh nodes more than half a cell from the rim, and points along the
 * rim itself about a cell apart, since the rim is the usual support. Shares add up to the plate's
 * area.
 * errors   PP_ENOMEM */
pp_status pp_supports_table(const pp_mesh *mesh, pp_memory *memory, pp_supports *supports,
                            pp_error *error);

/* Pins under the plate; those beside it do nothing and are left out.
 * about_middle  heights are counted from the middle one of them, as many pins standing above it as
 *               below: what they are counted from in the list does not matter then. Else from its
 *               zero
 * errors: PP_EINPUT with `file` and the pin's line when two pins stand on one spot, fewer than 3
 * are under it, or one stands far below the others. */
pp_status pp_supports_pins(const pp_mesh *mesh, const pp_place_list *pins, const char *file,
                           bool about_middle, pp_memory *memory, pp_supports *supports,
                           pp_error *error);

#endif

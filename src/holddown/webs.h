/* Webs between holes: the empty circles through three or more hole centres. */
#ifndef PP_HOLDDOWN_WEBS_H
#define PP_HOLDDOWN_WEBS_H

#include "base/grid.h"
#include "holddown/pins.h"

typedef struct pp_web_request {
    const pp_nominal *nominal;
    double pitch;
    double hole_diameter; /* of tube holes; others have their own (NaN: the same) */
    size_t wide_count;
    const uint32_t *wide; /* holes of more than a pitch in radius (pp_webs_find_wide): they reach
                             farther than neighbours are looked for */
} pp_web_request;

/* List the wide holes in *request. errors: PP_ENOMEM */
pp_status pp_webs_find_wide(pp_web_request *request, pp_arena *arena, pp_error *error);

/* All webs, by y, then x. Circles through hole centres of up to three quarters of the pitch.
 * errors   PP_ENOMEM */
pp_status pp_webs_find(const pp_web_request *request, pp_arena *arena, size_t *count, pp_web **webs,
                       pp_error *error);

/* Metal between (x, y) and the edge of the nearest hole within `distance` or wide; INFINITY if none
 * is (-INFINITY if more than 1024 are: no place to stand). */
double pp_webs_metal(const pp_web_request *request, const pp_grid *grid, double x, double y,
                     double distance);

#endif

/* What metal is left between a pin and the holes: by distance from every one of them. */
#ifndef PP_HOLDDOWN_PIN_METAL_H
#define PP_HOLDDOWN_PIN_METAL_H

#include "input/lists/holelist.h"

/* Radius a hole is drilled to, mm: of a tube hole half of `hole_diameter`, of another half its own
 * diameter where that is given. */
double pp_drilled_radius(const pp_nominal *nominal, size_t hole, double hole_diameter);

/* From the edge of a pin at (x, y) to the nearest hole's edge, mm; below 0 a drill meets the pin.
 * INFINITY without holes. *nearest (may be NULL): that hole, the first of equals; PP_NONE. */
double pp_pin_metal(const pp_nominal *nominal, double hole_diameter, double pin_diameter, double x,
                    double y, uint32_t *nearest);

typedef struct pp_pin_clearance {
    const pp_nominal *nominal;
    double hole_diameter, pin_diameter; /* mm */
    double least;                       /* mm: from a pin's edge to a hole's */
} pp_pin_clearance;

/* Each pin's metal, in metal[count].
 * errors   PP_ENUMERIC  a pin has less than the least: such a list is not to be written */
pp_status pp_pins_check_metal(const pp_pin_clearance *clearance, size_t count, const double *x,
                              const double *y, double *metal, pp_error *error);

#endif

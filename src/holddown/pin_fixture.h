/* Support pins as a fixture: each with its height, loads, pressure and distance from the holes. */
#ifndef PP_HOLDDOWN_PIN_FIXTURE_H
#define PP_HOLDDOWN_PIN_FIXTURE_H

#include "holddown/support.h"

typedef struct pp_fixture_pin {
    size_t number; /* its row in the list of pins, from 1 */
    double x, y;
    double height;       /* of its top against the others, mm */
    double metal;        /* from its edge to the nearest hole's edge, mm; INFINITY: no holes;
                            NaN: pin_diameter or the holes' size is not known */
    uint32_t nearest;    /* that hole, nominal index; PP_NONE */
    double load_solid;   /* largest over all holes, foot and thrust included, N; NaN */
    double load_drilled; /* the same of the drilled plate */
    double pressure;     /* mean bearing pressure of the larger load over the pin's top, the same
                            on pin and plate, MPa; NaN without pin_diameter */
} pp_fixture_pin;

typedef struct pp_fixture_request {
    const pp_supports *supports; /* pins */
    const pp_nominal *nominal;
    double hole_diameter, pin_diameter; /* NaN: not known */
    const double *solid, *drilled;      /* [supports] loads, N; NULL */
} pp_fixture_request;

/* pins[supports->count], memory->keep. errors: PP_ENOMEM */
pp_status pp_pin_fixture_make(const pp_fixture_request *request, pp_memory *memory,
                              const pp_fixture_pin **pins, pp_error *error);

#endif

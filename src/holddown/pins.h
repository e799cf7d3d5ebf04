/* Support pins under the webs between holes.
 *
 * Common practice, no source: a pin stands under the web between three (triangular pattern) or four
 * holes (square), where no drill may meet it. The largest pin there has the radius p/sqrt 3 - d/2
 * or p/sqrt 2 - d/2.
 */
#ifndef PP_HOLDDOWN_PINS_H
#define PP_HOLDDOWN_PINS_H

#include "elements/mesh.h"
#include "holddown/setup.h"
#include "input/lists/holelist.h"

typedef struct pp_web { /* a place between holes, as far as it gets from all of them */
    double x, y;
    double radius; /* of the largest circle there that meets no hole, mm */
    int holes;     /* that touch this circle: 3 or 4 */
} pp_web;

typedef struct pp_pin_request {
    const char *job_file, *pins_file; /* for messages; may be NULL */
    const pp_nominal *nominal;
    double pitch;
    double hole_diameter; /* of tube holes: what the drill makes */
    double pin_diameter;  /* NaN: webs are listed whatever fits */
    double clearance;     /* least metal between a pin and any hole; NaN: 0 */
    double spacing;       /* of the chosen pins; NaN: from the sag */
    pp_outline_spec outline;
    pp_plate_spec plate; /* for the sag, as the next two; NaN: not asked for */
    pp_foot foot;
    double gap_limit;
    bool softening_asked; /* an error, not a gap in the answer, where its tables do not reach */
    int threads;
} pp_pin_request;

/* A flat plate on the pins under foot and thrust, solid or with its holes drilled. */
typedef struct pp_pin_state {
    bool valid;
    double sag; /* deepest hole below the pin plane, mm */
    double sag_x, sag_y;
    double largest_force; /* on one pin, N */
    const double *force;  /* [pin_count] largest on each over all holes, N */
} pp_pin_state;

typedef struct pp_pin_plan {
    size_t web_count;
    const pp_web *webs;   /* all that clear every hole by the pin and its clearance; y, then x */
    size_t narrow_count;  /* webs that do not */
    double widest_radius; /* over all webs, mm; NaN without any */
    bool chosen_valid;    /* pins were chosen: pin_diameter and a spacing or what the sag needs */
    double spacing;       /* asked for, or found */
    size_t pin_count;
    const double *pin_x, *pin_y; /* y, then x */
    const double *metal;         /* [pin_count] from a pin's edge to the nearest hole's edge, mm;
                                    INFINITY: no hole within a pitch of it */
    pp_pin_state solid, drilled; /* drilled: by its ligament efficiency (softening.h), where that
                                    is within the tables */
    double efficiency;           /* of the ligaments; NaN when not known */
    bool sag_valid;
    double sag;               /* the larger of both states */
    double largest_pin_force; /* N, of both; NaN without sag */
} pp_pin_plan;

/* Find the webs and choose pins among them (and in the undrilled rim and lanes).
 *
 * Webs are the empty circles through three or more holes (the corners of the Voronoi diagram) of up
 * to three quarters of the pitch. Pins are chosen nearest to a triangular raster and to a ring near
 * the rim. Where thickness, foot, gap_limit and outline are given, the deepest hole of a flat plate
 * on them is computed by the contact solver under its weight, the foot and the thrust, both as a
 * solid plate and as a drilled one; with no spacing given, the raster is narrowed until both are
 * within gap_limit. Every pin's distance from every hole is measured before it is listed.
 *
 * errors   PP_ENOTHING  no nominal holes, pitch or hole size
 *          PP_EINPUT    no web takes the pin; ligament_softening asked for and outside its tables
 *          PP_ENUMERIC  a pin chosen would meet a hole (never expected)
 */
pp_status pp_pins_find(const pp_pin_request *request, pp_memory *memory, pp_pin_plan *plan,
                       pp_error *error);

#endif

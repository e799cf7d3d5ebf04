/* A plate on its supports, ready for the foot: what all the states of one hold-down study share,
 * and how it settles in each. mm, N, MPa. Theory: docs/theory/holddown. */
#ifndef PP_HOLDDOWN_AT_REST_H
#define PP_HOLDDOWN_AT_REST_H

#include "holddown/compliance.h"
#include "holddown/contact.h"
#include "holddown/setup.h"
#include "holddown/softening.h"

typedef struct pp_hold_plate {
    const pp_mesh *mesh;
    int threads;
    bool table;
    pp_compliance compliance;
    pp_supports supports;
    pp_influence influence;
    pp_contact_points points;
    double weight;          /* of the plate, N */
    double touch_gap_asked; /* mm */
    double touch_gap;       /* in force, mm: grown until what touched could carry the plate */
    bool touch_gap_grown;
    double foot_radius;        /* 0: point load */
    const double *shape;       /* [dofs] as surveyed, above the support plane */
    const double *survey_load; /* [dofs] what held it up when surveyed (or its own weight) */
    const double *unloaded;    /* [dofs] the shape less what that does to it */
    const bool *touching;      /* [supports] when surveyed; NULL unless laid on these supports */
    const double *survey_lift; /* [supports] added to the surveyed gap: brings what touched to 0 and
                                  what did not just clear of it */
    const double *faces; /* [dofs] lower face above the upper one but for a constant: turned over
                            the plate lies on the upper; NULL: alike */
    const struct pp_hold_plate *as_surveyed; /* turned over: the plate before; else NULL */
} pp_hold_plate;

/* A force that stays on the plate: its column of deflections. */
typedef struct pp_hold_force {
    double force;             /* N, down */
    const double *deflection; /* [dofs] per newton */
    double rigid[3];
} pp_hold_force;

/* The plate at rest without foot, on its supports and under the forces that stay. */
typedef struct pp_hold_state {
    pp_contact_base base;
    /* [supports] by the base's places: what touches otherwise than in the base; all false, and
     * changed_count 0, but after pp_hold_resettle */
    bool *changed;
    size_t changed_count;
    double *field;       /* [dofs] height above the support plane */
    bool field_left_out; /* it is of another state: pp_hold_resettle leaves it as it was */
    /* the plate without reactions, of which the above is made */
    double *free_field; /* [dofs] */
    double *gap;        /* [supports] */
    double load[3];     /* what the reactions balance */
} pp_hold_state;

/* Make the plate: factor its stiffness, find its supports' compliance, and the forces that held it
 * when it was surveyed.
 *
 * given    shape[dofs]  surveyed surface, plate frame
 *          setup        plate, foot and supports
 *          softening    of the drilled part; NULL: solid throughout
 * memory   keep         all that the plate points to; the mesh is kept by it
 * errors   PP_EINPUT    the plate tips or does not touch its supports, or pins are wrong
 *          PP_ENUMERIC  its stiffness cannot be factored, or no plane of rest is found
 *          PP_ENOMEM
 */
pp_status pp_hold_plate_make(const pp_mesh *mesh, const double *shape, const pp_hold_setup *setup,
                             const pp_softening *softening, int threads, pp_memory *memory,
                             pp_hold_plate *plate, pp_error *error);

/* The same but for what the supports answer: influence and points are left out (points.r alone is
 * filled), and what only many places need of the compliance. For pp_few_press.
 * errors   as pp_hold_plate_make */
pp_status pp_hold_plate_lay(const pp_mesh *mesh, const double *shape, const pp_hold_setup *setup,
                            const pp_softening *softening, int threads, pp_memory *memory,
                            pp_hold_plate *laid, pp_error *error);

/* The same plate on the same supports, with change[dofs] added to its surveyed shape: seated and
 * laid anew; of a plate turned over the shape as surveyed, before it is turned. Shares what can be
 * shared with `plate`. errors: PP_EINPUT it does not stand on them */
pp_status pp_hold_plate_reshape(const pp_hold_plate *plate, const pp_support_spec *spec,
                                const double *change, pp_memory *memory, pp_hold_plate *reshaped,
                                pp_error *error);

/* plate->unloaded from its shape and survey load: solved once, for every settling. errors:
 * PP_ENUMERIC: the stiffness cannot be solved; PP_ENOMEM */
pp_status pp_hold_plate_unload(pp_hold_plate *plate, pp_memory *memory, pp_error *error);

/* Height of the shape above the support plane, seated[dofs]; needs no thickness.
 * errors: PP_EINPUT the plate tips off its supports, or pins are wrong */
pp_status pp_hold_seat(const pp_mesh *mesh, const double *shape, const pp_support_spec *spec,
                       pp_memory *memory, double *seated, pp_error *error);

/* The same plate turned over about that axis, on the same supports (which are found anew: they do
 * not turn). Shares what can be shared with `plate`, which must outlive it: its stiffness, too,
 * which is not turned where it differs from place to place.
 * errors   PP_EINPUT: the outline does not lie on itself turned over; PP_ENUMERIC: the stiffness
 *          cannot be factored; PP_ENOMEM */
pp_status pp_hold_plate_turn(const pp_hold_plate *plate, pp_memory *memory, pp_hold_plate *turned,
                             pp_error *error);

/* Arrays for a state of this plate. errors: PP_ENUMERIC: more contact points than LAPACK can count;
 * PP_ENOMEM */
pp_status pp_hold_state_take(const pp_hold_plate *plate, pp_arena *arena, pp_hold_state *state,
                             pp_error *error);

/* Let the plate settle on its supports, raised by shim[supports] (NULL: none), under `count` forces
 * that stay. Starts from the contact `start` (NULL: as surveyed, or three points).
 * state's arrays must be taken beforehand. errors: PP_EINPUT: it would tip; PP_ENUMERIC: the
 * contact does not settle, or fewer than 3 supports touch */
pp_status pp_hold_settle(const pp_hold_plate *plate, const double *shim, size_t count,
                         const pp_hold_force *forces, const pp_contact_base *start,
                         pp_memory *memory, pp_hold_state *state, pp_error *error);

/* The same for a state that was settled before, be it of another shape of the plate or not at all:
 * where little changes contact its base stays, and `changed` tells the rest. A new base costs as
 * much as hundreds of such states; and it is what everything but pp_hold_press, asked for only_gap,
 * wants.
 * errors   PP_EINPUT, PP_ENUMERIC, PP_ENOMEM as pp_hold_settle */
pp_status pp_hold_resettle(const pp_hold_plate *plate, size_t count, const pp_hold_force *forces,
                           pp_memory *memory, pp_hold_state *state, pp_error *error);

/* Add the supports with the least gap until the touching ones fix a plane; false if none do. */
bool pp_hold_fix_plane(const pp_hold_plate *plate, const double *gap, bool *touching);

/* field[dofs] at every support, value[supports]. */
void pp_hold_at_supports(const pp_mesh *mesh, const pp_supports *supports, const double *field,
                         double *value);
/* field[dofs] += a rigid motion, as a contact base gives it. */
void pp_hold_add_motion(const pp_hold_plate *plate, const double motion[3], double *field);
/* The three supports that the plate, were it rigid, would rest on; z[supports] is workspace.
 * errors: PP_EINPUT it tips */
pp_status pp_hold_rest_on_three(const pp_hold_plate *plate, const double *shim,
                                const double load[3], double *z, size_t three[3], pp_error *error);

/* Deflection field of the free plate for a unit force at a probe, deflection[dofs].
 * errors   PP_ENUMERIC: the stiffness cannot be solved; PP_ENOMEM */
pp_status pp_hold_deflect(const pp_hold_plate *plate, const pp_probe *probe, double *deflection,
                          pp_error *error);

#endif

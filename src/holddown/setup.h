/* What the hold-down kernels are told, and no more of the job than that. mm, N, MPa; NaN: not
 * given. */
#ifndef PP_HOLDDOWN_SETUP_H
#define PP_HOLDDOWN_SETUP_H

#include "holddown/thickness_readings.h"

typedef struct pp_plate_spec { /* what the plate is made of */
    double thickness, elastic_modulus, poisson_ratio;
    double density; /* kg/m3 */
    const pp_thickness_readings
        *measured; /* place by place, with terms; NULL: as thick everywhere */
} pp_plate_spec;

typedef struct pp_foot {
    double force;                          /* down */
    double thrust;                         /* of the drill, on top of it; NaN: none */
    double outer_diameter, inner_diameter; /* of its ring; both NaN: a point */
} pp_foot;

/* What the plate lies on, and how it lay when it was surveyed. */
typedef struct pp_support_spec {
    const pp_place_list *pins;  /* NULL: a table */
    const char *pins_file;      /* for messages; may be NULL */
    pp_seat seat;               /* how the survey relates to the supports */
    double height;              /* of the support plane in the survey, seat level */
    double touch_gap;           /* the survey came so near to what it touched */
    pp_laid laid;               /* when surveyed */
    const pp_place_list *three; /* the places, laid on three points; else NULL */
    const char *three_file;     /* for messages; may be NULL */
} pp_support_spec;

typedef struct pp_hold_setup {
    pp_plate_spec plate;
    pp_foot foot;
    pp_support_spec supports;
} pp_hold_setup;

/* Bending rigidity D = E t^3 / (12 (1 - nu^2)), N mm. */
double pp_plate_rigidity(const pp_plate_spec *plate);
/* Its weight, N, of its mean thickness where measured. `area` mm2, acceleration the standard
 * 9.80665 m/s2. */
double pp_plate_weight(const pp_plate_spec *plate, double area);
/* Radius of the ring that stands for the foot: in the middle of its annulus; 0: a point. */
double pp_foot_radius(const pp_foot *foot);

/* Parts of the job, as they stand in it. */
pp_plate_spec pp_plate_spec_of(const pp_job *job);
pp_foot pp_foot_of(const pp_job *job);

/* The supports of the job.
 *
 * given    standard_error  of the surveyed surface: touch_gap is twice that, at least 0.02 mm,
 *                          unless the job says
 *          pins, three     read before; NULL on a table, and unless laid on three points
 * The lists and the job must outlive the result. */
pp_support_spec pp_support_spec_of(const pp_job *job, double standard_error,
                                   const pp_place_list *pins, const pp_place_list *three);

/* All three together. */
pp_hold_setup pp_hold_setup_of(const pp_job *job, double standard_error, const pp_place_list *pins,
                               const pp_place_list *three);

#endif

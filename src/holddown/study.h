/* The hold-down study: how far the foot closes the gap at each hole, with what force, and where
 * more hold-down would go. It measures; what a gap comes to is said by rules/holddown_rules.h.
 * Theory: docs/theory/holddown. mm, N, MPa; slopes mm/m. */
#ifndef PP_HOLDDOWN_STUDY_H
#define PP_HOLDDOWN_STUDY_H

#include "flatness/flatness.h"
#include "holddown/machine_time.h"
#include "holddown/mesh_check.h"
#include "holddown/pin_fixture.h"
#include "holddown/setups.h"
#include "holddown/shims.h"
#include "holddown/turned_over.h"
#include "input/lists/holelist.h"

typedef struct pp_hold {        /* one nominal hole */
    double gap;                 /* as laid */
    double gap_under_foot;      /* on pins negative where the foot sags it below the pin plane */
    double force_to_close;      /* N; 0: none needed; NaN: above force_cap */
    double tilt;                /* mm/m */
    double shift;               /* mm */
    double held_gap_under_foot; /* sensitivity: touching points not allowed to lift */
    double spring_back;         /* mm, at break-through; NaN without thrust */
} pp_hold;

/* On pins: the same set-up with the plate solid, and with its holes drilled. */
typedef struct pp_hold_phase {
    bool valid;
    const pp_hold_gap *gaps;      /* by nominal index */
    double sag;                   /* deepest hole below the pin plane under the foot, mm; 0: none */
    double largest_support_force; /* N, thrust included */
    const double *pin_force;      /* [pin_count] largest on each over all holes, N */
} pp_hold_phase;

typedef struct pp_holddown {
    pp_support_kind support;
    pp_laid laid;
    double plate_weight, touch_gap, gap_limit, foot_force;
    bool touch_gap_grown; /* the survey implied a larger touching tolerance than asked for */
    size_t count;
    const pp_hold *holes;  /* by nominal index */
    double weight_drilled; /* less what all holes take out, N; NaN: their size is not known */
    pp_thickness_readings thickness;
    double half_variation; /* of the thickness: what a gap may be off at a place, mm */
    double largest_gap, largest_gap_under_foot;
    double largest_force_to_close; /* of those within the cap; NaN when some hole is above it and
                                      none within */
    double largest_support_force;
    double flattening_stress;               /* MPa, what the survey's noise adds taken off */
    double flattening_as_fitted;            /* the noise left in */
    double flattening_low, flattening_high; /* between what the noise leaves it */
    double largest_tilt, largest_shift, largest_spring_back;
    double tilt_limit;            /* mm/m; NaN: none */
    double shortest_wave;         /* that the survey could show: two of its pitches, mm */
    double pitch_wanted;          /* of the survey of a plate of this size, mm */
    size_t points_wanted;         /* that this makes */
    pp_hold_phase solid, drilled; /* on pins; drilled where the ligament efficiency is known */
    double plan_stress;           /* bending stress of the clamps found, MPa; 0 without */
    size_t contact_points, touching;
    pp_mesh_check mesh_check;
    double tip_distance; /* of the centre of gravity from the edge of what touches, mm */
    double across;       /* the least that the plate is across, mm */
    double condition;
    size_t area_count;
    const pp_area *areas; /* side PP_AREA_GAP */
    double stiffening;    /* estimate of how much higher forces are for the stretching, a factor */
    double double_height; /* out of flat both ways, mm */
    bool plan_given;      /* by the job: evaluated as it is, nothing was looked for */
    bool plan_found;      /* the search came to clamps with which every hole passes */
    bool plan_bends;      /* clamps found were left, for they bend the plate beyond the allowance */
    bool plan_beyond_limit; /* one clamp alone would need more than clamp_force_limit */
    bool plan_overloads;    /* clamps found were left for the load of a pin */
    bool plan_given_up;     /* the search ended for its effort */
    size_t clamp_count;
    const pp_clamp *plan;
    const double *plan_gap; /* [count] pp_plan's; NULL: not known */
    pp_setup_list setups;   /* of the plan, or of the plate as laid where that is ready */
    pp_machine_time time;   /* of the set-ups */
    double plan_worst_gap;
    const double *gap_after; /* [count] under the foot in the set-up each hole is drilled in; NULL
                                without set-ups */
    size_t plan_redraws, plan_holds; /* redraws of the survey's noise tried, and in which it holds,
                                        or the foot alone where no clamps are needed; 0: plenty to
                                        spare, or no noise */
    double plan_redraw_worst;        /* largest gap over them, mm */
    size_t shim_count;
    const pp_shim *shims;
    size_t shims_unfit;            /* pins that the plate is clear of by less than any stock */
    const pp_hold_gap *with_shims; /* [count] the study repeated with them in; NULL: none */
    double with_shims_worst_gap;
    pp_turned_over turned_over;              /* the same plate the other face up */
    size_t pin_count;                        /* support pins under the plate */
    const double *pin_x, *pin_y, *pin_force; /* largest force on each over all holes, thrust
                                                included */
    const pp_fixture_pin *fixture;           /* [pin_count] */
    const double *map_gap; /* as laid, at the points of flatness->map; NULL without a map */
    double elastic_modulus,
        poisson_ratio;     /* of the plate's drilled part where softened; else solid */
    double softened_share; /* of the plate's area reckoned with them; 0: solid throughout */
    bool underside_used;   /* the second survey is what was laid on the supports */
} pp_holddown;

/* What is worth looking for. */
typedef struct pp_hold_remedies {
    bool clamps, shims;
    bool turned_clamps; /* clamps for the plate turned over, to compare with */
} pp_hold_remedies;

typedef struct pp_holddown_options {
    int threads;
    /* Asked once every hole was pressed, as laid, in both states and turned over:
     * pp_hold_remedies_of of the rules. NULL: nothing is looked for. */
    pp_hold_remedies (*remedies)(const pp_holddown *so_far);
    double plan_stress_most; /* that clamps may bend into the plate, MPa; 0 or NaN: no limit */
    double pitch;            /* of the holes, mm; 0 or NaN: the job's */
    double hole_diameter;    /* that is drilled, mm (pp_limits_drilled); 0 or NaN: not known */
    void (*progress)(void *context, double share); /* may be NULL */
    void *progress_context;
} pp_holddown_options;

/* The study of one plate on its supports.
 *
 * given
 *   job       support, foot, holddown, plate; the support, clamp and three-point lists are read
 *   flatness  with its surface, on whose mesh the study runs; where there is a second survey, the
 *             underside is what lies on the supports (raised by the mean thickness, so that
 *             support_height keeps its meaning)
 *   nominal   holes: where the foot comes down
 *   memory    keep: everything in *result
 * errors
 *   PP_ENOTHING  no survey surface, support, foot force, gap_limit or nominal holes
 *   PP_EINPUT    no thickness; holes beyond the plate; supports that cannot carry the plate; a list
 *                that is wrong
 *   PP_ENUMERIC  the contact does not settle
 *   PP_EIO       a list cannot be read
 *   PP_ENOMEM
 *
 * The same bits for any number of threads. On a table largest_support_force is the reaction of one
 * contact point, which stands for a mesh cell around it.
 */
pp_status pp_holddown_study(const pp_job *job, const pp_flatness *flatness,
                            const pp_nominal *nominal, const pp_holddown_options *options,
                            pp_memory *memory, pp_holddown *result, pp_error *error);

/* The gap as laid at the points of flatness->map, for a job that gives supports and no more: NULL
 * in *gap unless the plate was surveyed on these supports (elsewhere it has to be laid on them
 * first, which is the study's) and there is a map. memory->keep.
 * errors   PP_EINPUT: supports that cannot carry the plate, readings that are wrong; PP_EIO: a list
 *          cannot be read; PP_ENUMERIC: no plane of rest is found; PP_ENOMEM */
pp_status pp_holddown_map_gap(const pp_job *job, const pp_flatness *flatness, pp_memory *memory,
                              const double **gap, pp_error *error);

#endif

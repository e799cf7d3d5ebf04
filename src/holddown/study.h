/* The hold-down study: under which holes will the foot close the gap, with what force, and where
 * must more hold-down go. Theory: docs/theory/holddown. mm, N, MPa; slopes mm/m. */
#ifndef PP_HOLDDOWN_STUDY_H
#define PP_HOLDDOWN_STUDY_H

#include "flatness/flatness.h"
#include "input/lists/holelist.h"

typedef enum pp_hold_class {
    PP_SEATED,
    PP_SEATS_UNDER_FOOT,
    PP_NEEDS_HOLDDOWN,
    PP_SAGS
} pp_hold_class;

typedef struct pp_hold {        /* one nominal hole */
    double gap;                 /* as laid */
    double gap_under_foot;      /* on pins negative where the foot sags it below the pin plane */
    double force_to_close;      /* N; 0: none needed; NaN: above force_cap */
    double tilt;                /* mm/m */
    double shift;               /* mm */
    double held_gap_under_foot; /* sensitivity: touching points not allowed to lift */
    double spring_back;         /* mm, at break-through; NaN without thrust */
    pp_hold_class class;
    bool uncertain;
} pp_hold;

typedef struct pp_clamp {
    double x, y, force;
    size_t block_count;
    const uint32_t *blocks; /* nominal hole indices under its pad */
} pp_clamp;

typedef struct pp_drill_setup { /* one state of the clamps, and what is drilled in it */
    long lifted;                /* clamp that is off meanwhile, -1: all are on */
    size_t hole_count;
    const uint32_t *holes; /* nominal indices; NULL with all clamps on: all that no pad covers */
} pp_drill_setup;

typedef struct pp_shim {
    double x, y; /* support pin, or the place of an area's peak gap */
    long pin;    /* index of the support pin, -1: an area on the table */
    uint32_t
        hole;   /* nominal hole that it lies under: out with it before that is drilled; PP_NONE */
    double gap; /* to fill, mm */
    double thickness; /* of stock chosen, mm */
    size_t piece_count;
    double pieces[8]; /* of shim_stock that make it up */
} pp_shim;

typedef struct pp_hold_counts {
    size_t seated, seats_under_foot, needs_holddown, sags, uncertain;
} pp_hold_counts;

/* On pins: the same set-up with the plate solid, and with its holes drilled. */
typedef struct pp_hold_phase {
    bool valid;
    pp_hold_counts counts;
    double sag;                   /* deepest hole below the pin plane under the foot, mm; 0: none */
    double largest_support_force; /* N, thrust included */
    const double *pin_force;      /* [pin_count] largest on each over all holes, N */
} pp_hold_phase;

typedef struct pp_holddown {
    pp_support_kind support;
    pp_laid laid;
    double plate_weight, touch_gap, gap_limit, foot_force;
    bool touch_gap_grown; /* the survey implied a larger touching tolerance than asked for */
    bool gap_limit_small; /* below max(touch_gap, 0.05 mm) */
    bool ready; /* every hole is seated or seats under the foot, none leans beyond tilt_limit,
                   and the plate does not rock; on pins solid and drilled */
    size_t count;
    const pp_hold *holes; /* by nominal index */
    pp_hold_counts counts;
    double largest_gap, largest_gap_under_foot;
    double largest_force_to_close; /* of those within the cap; NaN when some hole is above it and
                                      none within */
    double largest_support_force;
    bool pin_overloaded;
    double flattening_stress;               /* MPa, what the survey's noise adds taken off */
    double flattening_as_fitted;            /* the noise left in */
    double flattening_low, flattening_high; /* between what the noise leaves it */
    double largest_tilt, largest_shift, largest_spring_back;
    double tilt_limit;    /* mm/m; NaN: none */
    size_t leaning_count; /* holes that lean more than that once the plate is let go */
    bool rocks;           /* stands on so few of its pins that it tips as the foot goes about */
    double shortest_wave; /* that the survey could show: two of its pitches, mm */
    size_t points_wanted; /* of the survey, where it has too few for its plate; 0: enough */
    pp_hold_phase solid, drilled; /* on pins; drilled where the ligament efficiency is known */
    double plan_stress;           /* bending stress of the plan's clamps, MPa; 0 without */
    size_t contact_points, touching;
    double condition;
    size_t area_count;
    const pp_area *areas;  /* side PP_AREA_GAP */
    bool clamping_advised; /* false: do not clamp; shim or accept the tilt */
    const char *advice;    /* one plain sentence */
    double stiffening;     /* estimate of how much higher forces are for the stretching, a factor */
    bool forces_low; /* out of flat both ways by more than half the thickness: forces too low */
    size_t note_count;
    const char *const *notes; /* on how far to trust it, plain sentences */
    bool plan_found;          /* every hole passes with the plan */
    size_t clamp_count;
    const pp_clamp *plan;
    size_t setup_count; /* of the plan, from first to last; none without clamps */
    const pp_drill_setup *setups;
    const size_t *tighten;  /* [clamp_count] in which order */
    size_t setup_unreached; /* holes under two pads, in none of them */
    double plan_worst_gap;
    size_t plan_redraws,
        plan_holds;           /* redraws of the survey's noise tried, and in which it holds */
    double plan_redraw_worst; /* largest gap over them, mm */
    size_t shim_count;
    const pp_shim *shims;
    size_t shims_unfit; /* pins that the plate is clear of by less than any stock */
    bool shims_valid;   /* the study was repeated with them in */
    pp_hold_counts with_shims;
    double with_shims_worst_gap;
    bool turned_valid; /* the study with the plate turned over */
    pp_hold_counts turned;
    double turned_worst_gap;
    bool turn_over;                          /* clearly better the other face up */
    size_t pin_count;                        /* support pins under the plate */
    const double *pin_x, *pin_y, *pin_force; /* largest force on each over all holes, thrust
                                                included */
    const double *map_gap; /* as laid, at the points of flatness->map; NULL without a map */
    double elastic_modulus,
        poisson_ratio;     /* of the plate's drilled part where softened; else solid */
    double softened_share; /* of the plate's area reckoned with them; 0: solid throughout */
    bool underside_used;   /* the second survey is what was laid on the supports */
} pp_holddown;

typedef struct pp_holddown_options {
    int threads;
    double pitch;         /* of the holes, mm; 0 or NaN: the job's */
    double hole_diameter; /* that is drilled, mm (pp_limits_drilled); 0 or NaN: not known */
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
 * that is wrong PP_ENUMERIC, PP_EIO, PP_ENOMEM
 *
 * The same bits for any number of threads. On a table largest_support_force is the reaction of one
 * contact point, which stands for a mesh cell around it.
 */
pp_status pp_holddown_study(const pp_job *job, const pp_flatness *flatness,
                            const pp_nominal *nominal, const pp_holddown_options *options,
                            pp_memory *memory, pp_holddown *result, pp_error *error);

/* The gap as laid at the points of flatness->map, for a job that gives supports and no more: NULL
 * in *gap unless the plate was surveyed on these supports (elsewhere it has to be laid on them
 * first, which is the study's) and there is a map. memory->keep. */
pp_status pp_holddown_map_gap(const pp_job *job, const pp_flatness *flatness, pp_memory *memory,
                              const double **gap, pp_error *error);

#endif

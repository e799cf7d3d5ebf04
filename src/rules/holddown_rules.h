/* The hold-down study judged: the class of every hole, and whether the plate is ready to drill. */
#ifndef PP_RULES_HOLDDOWN_RULES_H
#define PP_RULES_HOLDDOWN_RULES_H

#include "holddown/pins.h"
#include "holddown/study.h"
#include "rules/findings.h"

typedef enum pp_hold_class {
    PP_SEATED,
    PP_SEATS_UNDER_FOOT,
    PP_NEEDS_HOLDDOWN,
    PP_SAGS
} pp_hold_class;

typedef struct pp_hold_counts {
    size_t seated, seats_under_foot, needs_holddown, sags, uncertain;
} pp_hold_counts;

typedef struct pp_pin_verdicts { /* one support pin */
    pp_verdict load;             /* the larger of both states against pin_load_limit */
    pp_verdict pressure;         /* against pin_pressure_limit and the plate's yield strength */
    pp_verdict clearance;        /* metal to the nearest hole against pin_clearance */
    pp_verdict worst;            /* of the three */
} pp_pin_verdicts;

typedef struct pp_holddown_judgement {
    const uint8_t *class_;      /* pp_hold_class, by nominal index */
    const uint8_t *class_after; /* the same of the gaps in the set-ups; NULL without */
    const uint8_t
        *class_turned; /* turned over, with its own clamps where there are; NULL without */
    const bool
        *uncertain; /* half of the thickness variation, or the mesh, could change the class */
    pp_hold_counts counts;
    pp_hold_counts solid, drilled; /* on pins, of the states that the study has */
    pp_hold_counts with_shims, turned;
    size_t leaning; /* holes that lean by more than tilt_limit once the plate is let go */
    bool rocks;     /* stands on so few of its pins that it tips as the foot goes about, or... */
    bool balances;  /* ...its centre of gravity stands over a line of what touches: it lies two ways
                     */
    bool ready;     /* every hole is seated or seats under the foot, on pins solid and drilled, none
                       leans, the plate does not rock and no pin is in a drill's way; where the job
                       gives clamps: they hold every hole in every set-up, none is of a force above
                       clamp_force_limit, and they do not bend the plate too far */
    bool turn_over; /* clearly better the other face up: no hole fails any more; or only there
                       clamps were found, or fewer, or as many of three quarters of the force; where
                       none were looked for or found, at most half as many holes fail and the worst
                       gap is no larger */
    bool turned_plan_found; /* every hole passes turned over, with its own clamps or without any */
    bool plan_found;        /* every hole passes with the clamps found, or without any */
    bool clamping_advised;
    bool given_bends;         /* clamps given bend the plate beyond what clamps may */
    size_t given_too_strong;  /* of them, of a force above clamp_force_limit */
    size_t given_unsupported; /* of them, that stand farther from a pin than the plate is thick */
    const pp_verdict *setups; /* [study->setups.count] gaps under the foot and pins' loads in it */
    pp_verdict pin_load;      /* the largest load of a pin against pin_load_limit */
    pp_verdict flattening;    /* the stress of pressing the plate flat against what clamps may bend
                                 into it; not proven where the survey's noise leaves it open */
    const pp_pin_verdicts *pins; /* [study->pin_count] */
    size_t pins_failing;         /* in any of these */
    size_t pins_in_the_way;      /* too near to a hole: a drill would meet them */
    double pin_pressure_most;    /* the smaller of both limits, MPa; NaN: none */
    /* how far to trust it */
    bool
        gap_limit_small; /* below max(touch_gap, 0.05 mm), that survey and contact points resolve */
    bool mesh_rough;     /* on a finer mesh a force to close moves by more than three hundredths */
    bool mesh_unsettled; /* and between the two finest meshes still */
    bool survey_sparse;  /* too few points for a plate of this size (common practice, no source) */
    bool sharing_matters; /* how supports shared the weight when surveyed moves a gap by a third of
                             the limit */
    bool forces_low;      /* out of flat both ways by more than half the thickness */
    bool plan_holds;      /* the plan, or the foot alone where that will do, held in 19 of 20
                             redraws of the survey's noise */
} pp_holddown_judgement;

/* The stress that clamps may bend into the plate: three tenths of the yield strength (common
 * practice, no source). MPa; NaN: yield strength not given. */
double pp_plan_stress_most(const pp_job *job);

/* Holes over which the foot, without clamps, tips the plate off what it stands on: it leans there
 * by far more than a plate bends, and where it would come to rest is not known. */
size_t pp_hold_tipping(const pp_holddown *study);

/* What is worth looking for: clamps where a hole needs them, shims where the plate is not ready. */
pp_hold_remedies pp_hold_remedies_of(const pp_holddown *study);

/* Hold every gap against the gap limit: seated as laid, seated under the foot, or in need of more;
 * between pins it sags where it lies below them by more than the limit. And loads, stresses, tilts
 * against theirs. `study` on its own supports, mm, N, MPa. memory->keep; PP_ENOMEM. */
pp_status pp_holddown_judge(const pp_job *job, const pp_holddown *study, pp_memory *memory,
                            pp_holddown_judgement *judgement, pp_error *error);

/* One more hole of this class. */
void pp_hold_count(pp_hold_counts *counts, pp_hold_class which);

typedef struct pp_pin_judgement {
    pp_verdict sag, load; /* of a flat plate on the pins chosen, solid and drilled; not judged where
                             not computed or without a limit */
} pp_pin_judgement;

/* gap_limit mm, pin_load_limit N; NaN: none. */
pp_pin_judgement pp_pins_judge(const pp_pin_plan *plan, double gap_limit, double pin_load_limit);

#endif

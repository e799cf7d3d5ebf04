/* The inside of the hold-down study: what study.c (the plate as it lies) and remedies.c (what
 * helps) share. */
#ifndef PP_HOLDDOWN_STUDY_INSIDE_H
#define PP_HOLDDOWN_STUDY_INSIDE_H

#include "holddown/laid_shape.h"
#include "holddown/study.h"
#include "holddown/under_foot.h"

enum { PP_STUDY_REDRAWS = 20 };

typedef struct pp_study {
    const pp_job *job;
    const pp_flatness *flatness;
    const pp_nominal *nominal;
    const pp_holddown_options *options;
    pp_memory *memory;
    pp_hold_plate plate;
    pp_hold_state state;
    pp_hold_question question;
    pp_hold_places places;
    pp_hold_answer *answers;
    const double *shape; /* that lies on the supports, as surveyed */
    pp_hold_setup setup;
    pp_place_list pins, three;
    bool on_three, softened;
    pp_thickness_readings thickness;
    double variation; /* half of the thickness variation, mm */
    double *redraw;   /* [PP_STUDY_REDRAWS * dofs] what fresh noise adds to the surface */
    bool noisy;       /* it adds something */
    pp_turned_plate turned;
} pp_study;

/* A gap on the supports: a table lets nothing below it. */
double pp_study_gap(bool table, double gap);
/* A value above 0, or NaN */
double pp_study_known(double value);
/* Pitch and diameter of the holes, mm; NaN: not known */
double pp_study_pitch(const pp_study *study);
double pp_study_hole(const pp_study *study);

/* What helps where the foot does not do: clamps, shims, the other face up; and the set-ups of what
 * is chosen.
 * errors   PP_EINPUT, PP_EIO: the list of clamp places is wrong or cannot be read; PP_ENUMERIC: the
 *          contact does not settle; PP_ENOMEM */
pp_status pp_study_remedies(pp_study *study, pp_holddown *result, pp_error *error);

#endif

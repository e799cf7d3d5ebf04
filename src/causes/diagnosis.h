/* What went wrong on the machine: systematic terms in the error field, each tested. */
#ifndef PP_CAUSES_DIAGNOSIS_H
#define PP_CAUSES_DIAGNOSIS_H

#include "holes/measures.h"

typedef enum pp_term_state { PP_TERM_FOUND, PP_TERM_NOT_FOUND, PP_TERM_NOT_TESTED } pp_term_state;

typedef enum pp_term_kind {
    PP_TERM_SCALE,         /* value: length per length */
    PP_TERM_SCALE_XY,      /* half the difference of the scales along x and y */
    PP_TERM_SQUARENESS,    /* rad: the y axis against the normal to the x axis */
    PP_TERM_BOW_X,         /* mm at the farthest hole: error along y, square in x */
    PP_TERM_BOW_Y,         /* error along x, square in y */
    PP_TERM_LOST_MOTION_X, /* mm: the whole backlash of the axis */
    PP_TERM_LOST_MOTION_Y,
    PP_TERM_DRIFT_X, /* mm over the whole drilling order */
    PP_TERM_DRIFT_Y,
    PP_TERM_GROWTH,      /* length per length, over the whole drilling order */
    PP_TERM_LEAN,        /* mm: mean of exit less entry; lean_x, lean_y hold the vector */
    PP_TERM_WEAR,        /* mm of diameter per hole */
    PP_TERM_TOOL_CHANGE, /* how many were found in the diameters */
    PP_TERM_KINDS
} pp_term_kind;

typedef struct pp_term {
    const char *name; /* "scale common", "scale x-y", "squareness", "bow of x axis", ... */
    pp_term_kind kind;
    pp_term_state state;
    double value, standard_error, p, p_adjusted; /* Holm; NaN where not tested */
    double share; /* of the variance left after alignment, unique (type III); NaN for lean, wear
                     and tool changes, which are not part of the entry face's error field */
    double worst_effect; /* mm: largest vector of the term over the holes */
    bool is_cause; /* found, and worst_effect at least a quarter of the position limit's radius */
    const char *partner;  /* not tested: the term found or fitted that it cannot be told from, or
                             what is  missing ("no drilling order"); found: the terms not tested that
                             would look the  same; NULL */
    const char *sentence; /* plain words for an engineer, in the job's units; NULL unless a cause */
} pp_term;

typedef struct pp_diagnosis {
    bool valid; /* enough holes to say anything */
    const char *why_not;
    size_t holes;
    bool order_known;
    size_t term_count;
    const pp_term *terms;
    size_t misdrilled_count;
    const uint32_t *misdrilled;  /* nominal indices with robust weight below .05 */
    double scatter_x, scatter_y; /* robust standard deviation about the model, mm */
    double autocorrelation;      /* lag 1 along the order; NaN without order */
    bool whitened;               /* the tests allow for it */
    double temperature_difference, temperature_standard_error; /* K, of the common scale */
    double shift_x, shift_y, rotation_deg; /* of the measured pattern, about the origin, still there
                                              after alignment: to be shown with `as-measured` */
    size_t lean_holes;                     /* read on both faces */
    double lean_x, lean_y;
    size_t tool_change_count;
    const uint32_t
        *tool_changes; /* position in the order (from 1) of the first hole of each new tool */
    double rms_before, rms_after; /* of the error field, mm, terms found removed */
} pp_diagnosis;

/* Diagnose the error field of the tube holes on the entry face.
 *
 * threads  the result has the same bits whatever their number
 * errors   PP_ENOMEM. Too few holes are no error: `valid` is false and `why_not` says so.
 *
 * Equations, sources and limits: docs/theory/diagnosis.md.
 */
pp_status pp_diagnose(const pp_job *job, const pp_measures *measures, int threads,
                      pp_memory *memory, pp_diagnosis *diagnosis, pp_error *error);

#endif

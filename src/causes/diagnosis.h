/* What went wrong on the machine: systematic terms in the error field, each tested. */
#ifndef PP_CAUSES_DIAGNOSIS_H
#define PP_CAUSES_DIAGNOSIS_H

#include "holes/measures.h"

/* What a pattern has to come to by the limit in force: pp_cause_weight_of of the rules. */
typedef struct pp_cause_weight {
    double least;         /* mm: a worst effect that matters is at least that */
    bool for_information; /* positions hold with margin, or have no limit: nothing is a cause */
} pp_cause_weight;

/* What the sentences need to know beside the holes. */
typedef struct pp_cause_options {
    pp_length_unit units;
    double expansion; /* of the plate, 1/K */
    double thickness; /* mm; NaN: not given */
} pp_cause_options;

/* Of the job, as they stand in it. */
static inline pp_cause_options pp_cause_options_of(const pp_job *job)
{
    return (pp_cause_options){job->units, job->holes.expansion, job->plate.thickness};
}

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
    double worst_effect;  /* mm: largest vector of the term over the holes */
    bool matters;         /* found, and worst_effect at least what pp_cause_weight says */
    bool is_cause;        /* matters, is told apart, and is not for information only */
    const char *unclear;  /* found: a pattern that explains it as well; NULL */
    const char *partner;  /* not tested: the term found or fitted that it cannot be told from, or
                             what is  missing ("no drilling order"); found: the terms not tested that
                             would look the  same; NULL */
    const char *sentence; /* plain words for an engineer, in the job's units; NULL unless a cause */
} pp_term;

/* Patterns that are searched for, or that labels of the measured list tell. */
typedef enum pp_error_pattern_kind {
    PP_PATTERN_STEP,   /* one place of the order from which on the holes lie elsewhere */
    PP_PATTERN_BLOCKS, /* several such places */
    PP_PATTERN_HALF_PLATE,
    PP_PATTERN_OSCILLATION,
    PP_PATTERN_ALTERNATE, /* every second hole */
    PP_PATTERN_SETUP,     /* by the column of that name */
    PP_PATTERN_SESSION,
    PP_PATTERN_SPINDLE,
    PP_PATTERN_KINDS
} pp_error_pattern_kind;

typedef struct pp_error_pattern_part {
    uint32_t place; /* step: place in the order (from 1) of the first hole after it */
    uint32_t hole;  /* step: that hole's nominal index */
    char axis;      /* half plate: 'x' or 'y' */
    double split;   /* half plate: nominal coordinate, mm */
    double periods; /* oscillation: over the job */
    const char *label, *reference; /* labels: this against the first */
    /* mm. Shift in x and y; an oscillation: cosine x, y, sine x, y; a label: shift x, y and, where
     * it has one, the turn times L */
    int estimates;
    double estimate[4], standard_error[4];
} pp_error_pattern_part;

typedef struct pp_error_pattern {
    const char *name;
    pp_error_pattern_kind kind;
    pp_term_state state;
    size_t part_count;
    const pp_error_pattern_part *parts;
    double p, p_adjusted;   /* the search included; Holm with the terms; NaN where not tested */
    double worst_effect;    /* mm: longest vector */
    bool matters, is_cause; /* as of a term */
    const char *unclear;    /* found: what explains it as well; NULL */
    const char *partner;    /* not tested: why; NULL */
    const char *sentence;   /* where it matters; NULL */
} pp_error_pattern;

/* What is to be said, in this order. */
typedef enum pp_statement_kind {
    PP_SAYS_CAUSE,
    PP_SAYS_UNCLEAR,    /* a pattern is there, its cause is not told apart */
    PP_SAYS_STRUCTURE,  /* a pattern is there that nothing here describes */
    PP_SAYS_INFORMATION /* no cause: positions hold with margin, or have no limit; uneven scatter */
} pp_statement_kind;

typedef struct pp_statement {
    pp_statement_kind kind;
    const char *text;
} pp_statement;

/* F test of what is left. */
typedef struct pp_structure {
    double p, f;
    double rms; /* mm: of what of it is beyond scatter */
    bool left;  /* it is there */
} pp_structure;

/* A few means of the errors that no cause told apart explains, for a small picture. */
typedef struct pp_mean_error {
    double at_x, at_y; /* nominal place of the cell's holes, or place in the order in at_x */
    double x, y;       /* mm */
    uint32_t holes;
} pp_mean_error;

/* The holes that one tool drilled in a row, and the line of wear through their diameters. */
typedef struct pp_tool_run {
    const char *tool;                /* as the list names it; NULL where it names none */
    size_t first_order;              /* place in the drilling order of its first hole, from 1 */
    size_t holes;                    /* drilled in the run */
    double used_before;              /* holes the tool had drilled before the run */
    double level;                    /* mm: of its line where the tool had drilled none */
    double slope, slope_se, scatter; /* mm per hole, its standard error, mm */
} pp_tool_run;

typedef struct pp_diagnosis {
    bool valid; /* enough holes to say anything */
    const char *why_not;
    size_t holes;
    bool order_known;
    size_t term_count;
    const pp_term *terms;
    size_t pattern_count;
    const pp_error_pattern *patterns;
    size_t statement_count;
    const pp_statement *statements;
    pp_structure left_order, left_place, left_cells;
    bool wandered;     /* an irregular wander explains what was found in the order as well */
    double wander_rms; /* mm: of that wander about its mean; NaN: nothing was found in the order */
    double uneven_p;   /* of scatter that differs with radius or order */
    double scatter_centre, scatter_rim; /* mm, one axis, if it does */
    double scatter_first, scatter_last; /* the same at both ends of the job; NaN: no order */
    bool uneven_weighed;                /* the fit allows for it by weights */
    size_t order_mean_count, cell_mean_count;
    const pp_mean_error *order_means, *cell_means;
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
    size_t tool_run_count;
    const pp_tool_run *tool_runs;
    double rms_before, rms_after; /* of the error field, mm, terms found removed */
} pp_diagnosis;

/* Diagnose the error field of the tube holes on the entry face.
 *
 * options  must outlive the call only
 * weight   by pp_cause_weight_of
 * threads  the result has the same bits whatever their number
 * errors   PP_ENOMEM. Too few holes are no error: `valid` is false and `why_not` says so.
 *
 * Equations, sources and limits: docs/theory/diagnosis.md.
 */
pp_status pp_diagnose(const pp_cause_options *options, const pp_measures *measures,
                      pp_cause_weight weight, int threads, pp_memory *memory,
                      pp_diagnosis *diagnosis, pp_error *error);

#endif

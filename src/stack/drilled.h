/* A stack once it is drilled: where the holes lie in the layers that nobody measured, from the
 * readings of the outer ones. Numbers only; verdicts are in rules/drilled_rules. mm. Theory:
 * docs/theory/stack.md, "After drilling". */
#ifndef PP_STACK_DRILLED_H
#define PP_STACK_DRILLED_H

#include "holes/measures.h"

typedef enum pp_layer_how {
    PP_LAYER_MEASURED,
    PP_LAYER_BETWEEN, /* between the lowest and the highest measured layer: reckoned */
    PP_LAYER_BEYOND   /* below or above all measured layers: nothing is known of it */
} pp_layer_how;

/* A measured layer between the outer ones against the straight line between these. */
typedef struct pp_drilled_check {
    size_t place; /* of the layer, from 0 at the bottom */
    uint8_t face; /* pp_face */
    size_t holes;
    double slip_x, slip_y, slip_p; /* mean offset, and the p of there being none (Hotelling) */
    double wander;                 /* standard, at mid height of the chord */
    double wander_upper;           /* 95 % upper bound of it */
    double squares;                /* sum of squared offsets, 2 * holes of them */
    double own;                    /* variance of one offset by the readings alone */
    double bulge; /* 4 lambda (1 - lambda): its share of the wander at mid height */
} pp_drilled_check;

typedef struct pp_drilled_row { /* a hole on one face of one layer */
    uint32_t hole, place;
    uint8_t face;
    double x, y, dx, dy; /* plate frame; from nominal */
    double position, u;  /* 2 hypot(dx, dy), and its standard uncertainty; NaN: not known */
} pp_drilled_row;

typedef enum pp_wander_source { PP_WANDER_NONE, PP_WANDER_JOB, PP_WANDER_LAYERS } pp_wander_source;

typedef struct pp_drilled {
    size_t layer_count, measured_count;
    const size_t *layer;                /* [layer_count] index among the layers, bottom first */
    const pp_layer_how *how;            /* [layer_count] */
    const pp_measures *const *measures; /* [layer_count] NULL unless measured */
    const double *low, *high;           /* [layer_count] heights of the lower and the upper face */
    size_t bottom, top;                 /* lowest and highest measured layer */
    uint8_t bottom_face, top_face;      /* whose readings make the line */
    size_t check_count;
    const pp_drilled_check *checks;
    pp_wander_source wander_source;
    double wander;       /* standard, in force; NaN: not known */
    size_t wander_layer; /* the place it comes from, if from a layer */
    bool wanders_more;   /* than the job states */
    size_t count;
    const pp_drilled_row *rows; /* by hole, then layer from the bottom, exit before entry */
    size_t lost;                /* holes missing in one of the outer lists */
} pp_drilled;

/* What must be known of the layers and of the measuring; reals NaN: not stated. */
typedef struct pp_drilled_spec {
    size_t layer_count;
    const pp_layer *layers;
    const size_t *order;  /* [layer_count] of them, bottom first */
    double wander;        /* expanded (k = 2), at mid height */
    double position;      /* expanded, of one coordinate of a reading, mm */
    double per_metre;     /* expanded, mm/m */
    double temperature;   /* expanded, of the layers', K */
    double expansion;     /* 1/K */
    const char *job_file; /* for messages */
} pp_drilled_spec;

/* As it stands in the job, which must outlive the result. */
pp_drilled_spec pp_drilled_spec_of(const pp_job *job);

/* Put the layers' measures together.
 *
 * given    measures[layer_count]  by place, bottom first; NULL where the layer was not measured; at
 *                                 least one is
 * memory   keep                   everything in *drilled
 * errors   PP_EINPUT: a thickness is missing; PP_ENOMEM */
pp_status pp_drilled_reckon(const pp_drilled_spec *spec, const pp_nominal *nominal,
                            const pp_measures *const *measures, pp_memory *memory,
                            pp_drilled *drilled, pp_error *error);

#endif

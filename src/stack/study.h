/* The study of a stack before it is drilled: how its layers lie, which gaps the foot closes and
 * with what force, and which order, faces and turns would do better. Numbers only: classes and
 * readiness are judged in rules/stack_rules. mm, N. Theory: docs/theory/stack.md. */
#ifndef PP_STACK_STUDY_H
#define PP_STACK_STUDY_H

#include "holddown/study.h"
#include "stack/section.h"
#include "stack/shapes.h"

typedef struct pp_stack_layer { /* bottom first */
    const char *name;
    pp_stack_way way; /* as listed */
    bool surveyed;
    pp_laid laid;
    double thickness, weight, bow;
    double hidden_bow;     /* 0 where the survey's supports can't hide any */
    bool forces_low;       /* out of flat both ways by more than half its thickness */
    double stiffer;        /* share by which it then begins stiffer than reckoned */
    double standard_error; /* of its fitted surface; NaN: not surveyed */
    double unseen_share;   /* of it, far from any point of its survey */
    bool noisier;          /* its survey scatters more than it states */
    size_t left_out;       /* points left out of its surface */
} pp_stack_layer;

typedef struct pp_stack_interface { /* bottom first: the first lies on the support */
    const char *below, *above;      /* layers; below NULL: the support */
    double largest_gap, largest_gap_under_foot, mean_gap;
    double half_variation; /* half of what the thickness of the layer above may vary by */
} pp_stack_interface;

typedef struct pp_stack_hole {
    double largest_gap, largest_gap_under_foot; /* between layers */
    size_t interface;          /* where the latter is (where all are closed: the former) */
    double force_to_close;     /* between layers; 0: none needed; NaN: above the cap */
    double force_to_close_all; /* to the support too */
    double tilt;               /* of the top layer, mm/m */
    double shift;              /* of its hole's middle, mm */
} pp_stack_hole;

typedef struct pp_stack_arranged { /* one order with faces and turns, and what comes of it */
    pp_stack_way way[PP_LAYERS_MAX];
    double largest_gap_under_foot;                             /* between layers */
    double largest_force_to_close, largest_force_to_close_all; /* NaN: above the cap */
} pp_stack_arranged;

enum { PP_STACK_CLAMPS_MAX = 8 };

typedef struct pp_stack_clamp {
    double x, y, force;
} pp_stack_clamp;

typedef struct pp_stack_plan { /* of clamps */
    bool asked; /* the foot leaves a gap, and the job says how strongly a clamp presses */
    bool found; /* with the clamps the foot closes every gap */
    size_t count, candidates, evaluated;
    pp_stack_clamp clamp[PP_STACK_CLAMPS_MAX]; /* as they were found; not enough: the best found */
    double worst_gap;                          /* with them, between layers under the foot */
    double worst_table_gap;                    /* the same, to the support */
} pp_stack_plan;

typedef struct pp_stack {
    pp_support_kind support;
    double gap_limit, table_gap_limit, foot_force;
    size_t layer_count;
    const pp_stack_layer *layers;
    const pp_stack_interface *interfaces; /* [layer_count] */
    size_t count;
    const pp_stack_hole *holes;         /* by nominal index */
    const double *gap, *gap_under_foot; /* [hole * layer_count + interface], clear of round-off */
    double largest_gap, largest_gap_under_foot;
    size_t largest_interface, worst_hole; /* of the gap under the foot */
    double largest_table_gap, largest_table_gap_under_foot;
    double largest_force_to_close, largest_force_to_close_all; /* NaN: some hole above the cap */
    double largest_tilt, largest_shift;
    size_t unsurveyed_count;
    size_t cells, points, touching, fallbacks;
    double condition;
    pp_stack_section section; /* through the worst hole */
    pp_stack_arranged listed;
    bool searched;
    pp_stack_arranged found;
    bool found_better; /* than as listed */
    size_t evaluated;
    bool all_tried;
    pp_stack_plan plan;    /* for the order as listed */
    double softened_share; /* of the area, reckoned as drilled; 0: solid throughout */
} pp_stack;

typedef struct pp_stack_options {
    int threads;
    double pitch, hole_diameter;                   /* of tube holes; NaN: not known */
    void (*progress)(void *context, double share); /* may be NULL */
    void *progress_context;
} pp_stack_options;

/* errors  PP_ENOTHING: what the study needs is not in the job; PP_EINPUT: thickness missing, a
 * survey that is wrong, a layer that tips; PP_ENUMERIC: the contact does not settle; PP_EIO: a
 * survey or list cannot be read; PP_ENOMEM. The same bits for any
 * number of threads. */
pp_status pp_stack_study(const pp_job *job, const pp_nominal *nominal,
                         const pp_stack_options *options, pp_memory *memory, pp_stack *result,
                         pp_stack_shapes *shapes, pp_error *error);

#endif

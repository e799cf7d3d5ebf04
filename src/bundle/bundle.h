/* The whole study of a bundle, as numbers: what passes, where to put the plates, how tubes bend.
 * Judges nothing (rules/bundle_rules.h). */
#ifndef PP_BUNDLE_BUNDLE_H
#define PP_BUNDLE_BUNDLE_H

#include "bundle/bending.h"
#include "bundle/mates.h"
#include "bundle/placing.h"

typedef enum pp_judged_placement {
    PP_JUDGED_AS_SET_OUT, /* asked for, or no plate has play */
    PP_JUDGED_BEST,       /* least movement within 1 um of the best worst margin */
    PP_JUDGED_FEWEST      /* the fewest tubes that fail */
} pp_judged_placement;

enum { PP_TUBE_DECISIVE_MAX = 5 };

/* One tube. Margins are diametral: what passes straight, less the largest outer diameter. */
typedef struct pp_bundle_tube {
    size_t plates; /* with a hole for it */
    bool enough;   /* two plates at least: a margin can be computed */
    double margin_set_out, bound_set_out;
    double margin, bound;        /* at the judged placement */
    double u;                    /* standard, of the margin; NaN: not given */
    pp_passage line;             /* at the judged placement */
    size_t decisive_count;       /* at the judged placement, the largest share first */
    const pp_decisive *decisive; /* at most PP_TUBE_DECISIVE_MAX */
    double smallest;             /* diameter of the smallest hole */

    bool bends;         /* `bent` was computed: it does not pass straight, and every hole is
                           larger than the tube */
    pp_bent bent;       /* fully in */
    bool went_in;       /* `going_in` was computed */
    pp_bent going_in;   /* the worst of all stages */
    size_t force_first; /* its edges in pp_bundle.force; SIZE_MAX: not kept */
} pp_bundle_tube;

typedef struct pp_bundle {
    const pp_set *set;
    pp_mates mates;
    pp_play play[PP_PLATES_MAX];
    bool any_play;
    double largest_diameter; /* of a tube */

    pp_bundle_tube *tube;   /* [tubes] */
    pp_decisive *decisive;  /* where their shares are kept */
    uint32_t worst_set_out; /* tube; PP_NONE: none has a margin */
    uint32_t worst;         /* at the judged placement */
    size_t share_count;     /* of the worst tube as set out: what decides it */
    const pp_decisive *share_set_out;

    bool placed_given;
    pp_placed placed;
    size_t placed_straight; /* tubes that pass straight at the least moves */
    pp_judged_placement judged;
    pp_move move[PP_PLATES_MAX]; /* of the judged placement */
    double movement;             /* root of the sum of squares of all moves, turns at the rim */

    bool bending; /* wall, modulus and friction are given */
    size_t bent, went_in;
    size_t force_count;
    const pp_edge_force *force;
} pp_bundle;

typedef struct pp_bundle_options {
    int threads;
    void (*stage)(void *context, const char *name, double share); /* progress; may be NULL */
    void *stage_context;
} pp_bundle_options;

/* Run the study of a set. Results in memory->keep.
 * errors  as pp_mates_find and pp_placing_find */
pp_status pp_bundle_study(const pp_set *set, const pp_bundle_options *options, pp_memory *memory,
                          pp_bundle *bundle, pp_error *error);

/* How far a plate is moved: its origin, or its outermost hole by the turn, whichever is more. */
double pp_bundle_moved(const pp_bundle *bundle, size_t plate);

/* The part of a plate in what decides the best placement, 0..1. */
double pp_bundle_plate_share(const pp_bundle *bundle, size_t plate);

/* The push along the tube, N, where the holes press on it with `forces` in all, N. */
double pp_bundle_push_of(const pp_bundle *bundle, double forces);

/* The discs of a tube at the judged placement. Returns their count. */
size_t pp_bundle_discs(const pp_bundle *bundle, size_t tube, pp_disc out[PP_EDGES_MAX]);

#endif

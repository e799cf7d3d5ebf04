/* Plates of the diagnosis simulation: a triangular field, a drilling order, errors with what is
 * planted in them. The same for the same seed on every machine. */
#ifndef PP_TESTS_SIMULATED_PLATE_H
#define PP_TESTS_SIMULATED_PLATE_H

#include "support/measures.h"
#include "support/random.h"

#include "causes/diagnosis.h"

enum { SIMULATED_MISDRILLED = 3 };
#define SIMULATED_SIGMA 0.03   /* mm */
#define SIMULATED_RADIUS 600.0 /* mm, of the field */

typedef enum sequence {
    SWEEPS, /* four, each takes every fourth row and begins at the first one again */
    ACROSS, /* four, each takes every fourth hole of all rows, up the plate and down in turn */
    ROWS,   /* there and back */
    RANDOM
} sequence;

typedef struct plan {
    const char *name;
    size_t holes;
    sequence sequence;
    bool filled;        /* the holes fill the field; else they are some of a finer one, at random */
    double correlation; /* of the errors from hole to hole */
    double diameter_correlation; /* of the diameters */
    bool both_faces;             /* exits read too, without a lean */
    double waves;                /* of a smooth field no term describes, in sigma */
    double walk;                 /* standard deviation of a random walk over the job, in sigma */
    bool dents;                  /* eight local dents of one sigma */
    int tails;                   /* degrees of freedom of Student's t; 0: normal */
    double scatter[2];           /* factors of sigma */
    double rim;                  /* scatter at the rim against the centre; 0: the same */
    double end;                  /* scatter at the end of the job against its begin; 0: the same */
    pp_term_kind effect;         /* PP_TERM_KINDS: none */
    pp_error_pattern_kind pattern; /* PP_PATTERN_KINDS: none */
    bool by_family;   /* a step named for blocks is right, and the reverse: the position changed */
    double size;      /* mm: worst effect; drift, lost motion: the value; wear: per hole; a pattern:
                         its shift, blocks: the standard deviation of each */
    size_t tool_life; /* holes; 0: one tool */
    const struct plan *beside; /* its effect and pattern are planted as well; NULL: none */
} plan;

enum { PLANTED_MOST = 3 }; /* a plan and those beside it */

void simulated_plate(const plan *p, uint64_t seed, test_plate *plate);

#endif

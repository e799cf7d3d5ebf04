/* Mates: which hole of which plate belongs to which tube, and the discs that follow. */
#ifndef PP_BUNDLE_MATES_H
#define PP_BUNDLE_MATES_H

#include "bundle/discs.h"
#include "bundle/plate_holes.h"

typedef struct pp_tube_list {
    size_t count;
    const char *const *name;
    const double *x, *y; /* where it should be, bundle frame */
    double pitch;        /* nearest-neighbour distance; NaN with fewer than two */
} pp_tube_list;

typedef struct pp_mate_missing { /* a hole that should be there */
    uint32_t tube, plate;
} pp_mate_missing;

typedef struct pp_mate_stray { /* a hole that no tube goes through */
    uint32_t plate;
    const char *hole;
    bool nominal_list; /* of a plate with a nominal list: it should not be there */
} pp_mate_stray;

typedef struct pp_mate_doubled { /* several holes for one tube */
    uint32_t tube, plate;
    size_t count;
    const char *const *hole; /* the nearest, which keeps the tube, first */
} pp_mate_doubled;

/* What was found about a plate while its holes were matched. */
typedef struct pp_plate_mates {
    size_t holes, expected, missing, one_face, plugged;
    bool has_nominal;
    double rim; /* of the farthest hole used, from the plate's origin */
    bool looks_turned;
    const char *turn_hint; /* what would put its holes in place: "turn = 180 deg"; or NULL */
    size_t perhaps;        /* tubes without a hole here although all their neighbours have one */
} pp_plate_mates;

typedef struct pp_mates {
    pp_tube_list tubes;
    pp_discs discs;
    const float *u_centre, *u_radius; /* [disc] standard; NaN where none was given */
    const bool *shared;               /* [disc] its readings are those of the plate's other edge */
    const uint32_t *hole;             /* [disc]: index in `hole_name` of its plate's hole */
    const char *const *hole_name;
    const bool *incomplete; /* [tube] a hole is missing */
    const bool *doubly;     /* [tube] */
    size_t missing_count, stray_count, doubled_count;
    const pp_mate_missing *missing;      /* tube order, then plate */
    const pp_mate_stray *stray;          /* plate order, then as listed */
    const pp_mate_doubled *doubled;      /* tube order, then plate */
    const pp_plate_mates *plate;         /* [plates] */
    const pp_table_reading *const *read; /* [2 * plates]: nominal and measured list of each plate */
    const pp_table_reading *places_read; /* of [tube] places; NULL: not given */
} pp_mates;

/* Read every list of the set and match the holes.
 * errors  PP_EINPUT: no tube found; lists whose unit must be wrong; what pp_plate_holes_read
 *         refuses. PP_EIO: a list cannot be read; PP_ENOMEM */
pp_status pp_mates_find(const pp_set *set, int threads, pp_memory *memory, pp_mates *mates,
                        pp_error *error);

/* The tubes alone. errors: PP_EINPUT: no tube found, or a list is wrong; PP_EIO: it cannot be read;
 * PP_ENOMEM */
pp_status pp_tubes_find(const pp_set *set, int threads, pp_memory *memory, pp_tube_list *tubes,
                        const pp_table_reading **places_read, pp_error *error);

/* What would put the holes of a plate in place that by name lie elsewhere (as set out): NULL when
 * they lie where they should, or nothing helps. `turned` is set when most miss by more than half a
 * pitch, and yet nearly all lie where some tube is.
 * errors   PP_ENOMEM */
pp_status pp_turn_hint(const pp_set_plate *plate, const pp_plate_holes *holes,
                       const uint32_t *tube_of, const pp_tube_list *tubes, pp_memory *memory,
                       bool *turned, const char **hint, pp_error *error);

#endif

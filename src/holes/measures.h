/* Hole measures: position, diameter, ligament, drift, edge as numbers with their uncertainty. Knows
 * no limits. Built from the nominal list and the readings by the stages alignment (alignment.h) and
 * matching (matching.h). Lengths mm; every coordinate here is aligned, in the plate frame, and
 * brought to 20 C where the job asks for it. */
#ifndef PP_HOLES_MEASURES_H
#define PP_HOLES_MEASURES_H

#include "input/holelist.h"

typedef struct pp_alignment {
    pp_align kind;
    double angle_deg, dx,
        dy;        /* aligned = rotation by angle of the measured point, then + (dx, dy) */
    double rms;    /* distance from nominal after alignment */
    bool exit_own; /* the exit face was aligned on its own */
    double exit_angle_deg, exit_dx, exit_dy;
    double reference_x, reference_y; /* where uncertainty per metre starts from */
    bool turned_over;  /* extension match = pattern: the plate was measured turned over */
    size_t symmetries; /* extension: poses that match the pattern equally well; 1: no choice left
                          open */
} pp_alignment;

/* One hole on one face: the latest round, its repeat readings combined. */
typedef struct pp_bore {
    uint32_t hole; /* nominal index; PP_NONE: an extra hole */
    uint32_t row;  /* first data row of the readings used, from 1 */
    uint32_t readings, round;
    uint8_t face; /* pp_face */
    bool gauged;  /* by plug gauge: the diameters are proven bounds, NaN where nothing is proven */
    double x, y;  /* mean centre */
    double diameter_min, diameter_max, diameter_mean;
    double position;          /* 2 hypot(dx, dy); NaN for an extra hole */
    double u_centre;          /* standard uncertainty of one coordinate; NaN where none was given */
    double smallest_ligament; /* to any neighbour on this face; NaN if none */
} pp_bore;

/* Metal between two neighbouring tube holes on one face. */
typedef struct pp_ligament {
    uint32_t a, b; /* nominal indices, a before b */
    uint8_t face;
    bool direct;  /* measured directly */
    double value; /* mm */
    double u;     /* standard uncertainty; NaN where none was given */
} pp_ligament;

typedef struct pp_close_pair { /* of any two bores on one face, by bore index */
    uint32_t a, b;
    double ligament;
} pp_close_pair;

typedef struct pp_reading_history { /* an earlier round of a hole and face */
    uint32_t hole, round;
    uint8_t face;
    double x, y, diameter_min, diameter_max;
} pp_reading_history;

typedef struct pp_measures {
    const pp_nominal *nominal;
    const pp_readings *readings;
    pp_alignment alignment;
    double pitch;      /* given or found */
    bool pitch_found;  /* found from the pattern */
    size_t tube_count; /* tube holes in the nominal list, plugged ones included */
    bool faces[2];     /* some hole was read on entry, exit */

    size_t bore_count; /* nominal order, entry before exit; extras last, in row order */
    const pp_bore *bores;
    const uint32_t *bore_of[2];               /* [face][nominal index]: bore index or PP_NONE */
    const bool *plugged;                      /* [nominal index] */
    const uint32_t *row_label, *column_label; /* [nominal index], from 1: rows by y, columns by x */

    size_t measured; /* tube holes read on any face, plugged included */
    size_t unmeasured_count;
    const uint32_t *unmeasured; /* tube holes, not plugged */
    size_t extra_count;         /* bores without nominal hole are extra: names here, each once */
    const char *const *extra;   /* name or "row N" */
    size_t doubly_claimed_count;
    const uint32_t *doubly_claimed;

    size_t pair_count; /* neighbour pairs of the nominal pattern, plugged-plugged left out */
    const uint32_t *pair_a, *pair_b;
    size_t pairs_measured, pairs_unmeasured;
    size_t ligament_count; /* at most one per pair and face; pair order, entry before exit */
    const pp_ligament *ligaments;
    const uint32_t *ligament_pair; /* [ligament]: its pair */

    const double *edge;  /* [bore]: metal from hole edge to plate edge; NULL without an outline */
    const double *drift; /* [nominal index]: NaN where not read on both faces */

    size_t
        close_count; /* candidates for misdrilled pairs: ligament below half the pitch - diameter */
    const pp_close_pair *close;

    size_t history_count;
    const pp_reading_history *history;
} pp_measures;

#endif

/* Hole measures: position, diameter, ligament, drift, edge as numbers with their uncertainty. Knows
 * no limits. Built from the nominal list and the readings by the stages alignment (alignment.h) and
 * matching (matching.h). Lengths mm; every coordinate here is aligned, in the plate frame, and
 * brought to 20 C where the job asks for it. */
#ifndef PP_HOLES_MEASURES_H
#define PP_HOLES_MEASURES_H

#include "holes/alignment.h"
#include "holes/bores.h"
#include "holes/centre_error.h"
#include "holes/close_pairs.h"
#include "holes/frame_check.h"
#include "holes/half_ligaments.h"
#include "holes/ligaments.h"

/* What was measured between two holes, for a characteristic of pairs. */
typedef struct pp_pair_value {
    double value, u; /* mm; standard uncertainty, NaN where none was given */
    uint32_t a, b;   /* nominal indices, a before b */
    uint8_t face;
} pp_pair_value;

typedef struct pp_pair_list {
    double apart; /* how far the two are from each other, pitches */
    size_t count; /* by a, then b, entry before exit */
    const pp_pair_value *pairs;
} pp_pair_list;

typedef struct pp_reading_history { /* an earlier round of a hole and face */
    uint32_t hole, round;
    uint8_t face;
    pp_plate_point at;
    double diameter_min, diameter_max;
} pp_reading_history;

typedef struct pp_measures {
    const pp_nominal *nominal;
    const pp_readings *readings;
    pp_alignment alignment;
    double pitch;        /* given or found */
    bool pitch_found;    /* found from the pattern */
    size_t tube_count;   /* tube holes in the nominal list, plugged ones included */
    bool faces[2];       /* some hole was read on entry, exit */
    bool exit_view_open; /* another exit_view fits as well: the pattern's symmetry hides which */
    pp_datum_doubt datum_doubt; /* the datum lays the pattern elsewhere than its holes would */

    size_t bore_count; /* nominal order, entry before exit; extras last, in row order */
    const pp_bore *bores;
    const pp_bore_error *bore_errors;         /* [bore]; NULL: no uncertainty was given */
    const uint32_t *bore_of[2];               /* [face][nominal index]: bore index or PP_NONE */
    const bool *plugged;                      /* [nominal index] */
    const uint32_t *row_label, *column_label; /* [nominal index], from 1: rows by y, columns by x; 0
                                                 for holes of kind other */

    size_t measured; /* tube holes read on any face, plugged included */
    size_t unmeasured_count;
    const uint32_t *unmeasured; /* tube holes nobody matches */
    size_t others_unmeasured_count;
    const uint32_t *others_unmeasured; /* the same of kind other */
    size_t extra_count;                /* names of what matches no nominal hole, each once */
    const char *const *extra;          /* name or "row N" */
    size_t extra_first;                /* bores from here on are extra */
    const uint32_t *extra_of;          /* [bore - extra_first]: index of its name in `extra` */
    const double *drill_order; /* [nominal index], as written, NaN: not told; NULL: no hole's is */
    const uint32_t *hole_of_row; /* [data row - 1]: nominal index or PP_NONE */
    size_t doubly_claimed_count;
    const uint32_t *doubly_claimed;

    size_t pair_count; /* neighbour pairs of the nominal pattern, plugged-plugged left out */
    size_t pairs_measured, pairs_unmeasured;
    size_t ligament_count; /* at most one per pair and face; pair order, entry before exit */
    const pp_ligament *ligaments;
    pp_half_ligaments half_ligaments; /* of a sample of the holes only; else none */

    const double *edge;   /* [bore]: metal from hole edge to plate edge; NULL without an outline */
    const double *edge_u; /* [bore]: its standard uncertainty; NULL likewise, or where none was
                             given */
    const double *drift; /* [nominal index]: NaN where not read on both faces; NULL with one only */
    const pp_distance_error *drift_error; /* [nominal index] likewise */

    pp_pair_list
        pitch_errors; /* over the steps that the job asks for; empty where it asks for none */

    size_t other_ligament_count;
    const pp_other_ligament *other_ligaments; /* nominal order, entry before exit */

    /* Composite position (pattern_limit given): the pattern laid on itself once more, by least
     * squares, on top of the alignment in force. */
    const double *position_within; /* [bore < extra_first] 2 hypot(dx, dy) then; else NULL */
    const pp_distance_error *within_error; /* [bore < extra_first] of it; else NULL */
    double pattern_angle_deg, pattern_dx, pattern_dy;

    double close_below; /* as given in pp_hole_sizes */
    size_t close_count; /* any two bores of one face with less metal between them; a pair of two
                           plugged holes is left out */
    const pp_close_pair *close;

    size_t history_count;
    const pp_reading_history *history;
} pp_measures;

/* Match the readings to the nominal holes, align them, and take every measure.
 *
 * given   files    nominal list and readings (measured_given)
 *         pitch    from pp_pitch_find
 *         sizes    from pp_judge_sizes
 * errors  PP_EINPUT: a hole far beyond the outline, a datum hole missing, too few holes in common
 *         for the fit, a direct ligament between holes that are no neighbours ...; PP_ENOMEM
 *
 * The order of the readings' rows changes nothing but the row numbers reported; the result is the
 * same for any number of threads. Definitions and formulas: docs/theory/holes.md. */
pp_status pp_measures_take(const pp_job *job, const pp_hole_files *files, double pitch,
                           const pp_hole_sizes *sizes, int threads, pp_memory *memory,
                           pp_measures *measures, pp_error *error);

/* The position that position_limit is held against: with a limit of the pattern's place, that
 * within the pattern. */
static inline double pp_position_of(const pp_measures *measures, size_t bore)
{
    bool within = measures->position_within && bore < measures->extra_first;
    return within ? measures->position_within[bore] : measures->bores[bore].position;
}

/* How uncertain a bore's place is; NaN where no uncertainty was given. */
static inline pp_bore_error pp_bore_error_of(const pp_measures *measures, size_t bore)
{
    if (!measures->bore_errors) return (pp_bore_error){NAN, {NAN, NAN}};
    return measures->bore_errors[bore];
}

/* The same of the metal from a bore to the plate's edge. */
static inline double pp_edge_u_of(const pp_measures *measures, size_t bore)
{
    return measures->edge_u ? measures->edge_u[bore] : NAN;
}

/* The error of that position. */
static inline pp_distance_error pp_position_error_of(const pp_measures *measures, size_t bore)
{
    bool within = measures->within_error && bore < measures->extra_first;
    return within ? measures->within_error[bore] : pp_bore_error_of(measures, bore).position;
}

/* How far a bore lies from its nominal place, plate frame, mm; NaN for an extra hole. */
static inline pp_offset pp_bore_offset(const pp_measures *measures, size_t bore)
{
    const pp_bore *b = &measures->bores[bore];
    if (b->hole == PP_NONE) return (pp_offset){NAN, NAN};
    return pp_offset_from(pp_nominal_at(measures->nominal, b->hole), b->at);
}

/* Name of a bore: its hole's, or the extra's. */
const char *pp_bore_name(const pp_measures *measures, size_t bore);

#endif

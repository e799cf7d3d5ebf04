/* Hole measures: position, diameter, ligament, drift, edge as numbers with their uncertainty. Knows
 * no limits. Built from the nominal list and the readings by the stages alignment (alignment.h) and
 * matching (matching.h). Lengths mm; every coordinate here is aligned, in the plate frame, and
 * brought to 20 C where the job asks for it. */
#ifndef PP_HOLES_MEASURES_H
#define PP_HOLES_MEASURES_H

#include "input/lists/holelist.h"

typedef struct pp_alignment {
    pp_align kind;
    double angle_deg, dx,
        dy;        /* aligned = rotation by angle of the measured point, then + (dx, dy) */
    double rms;    /* distance from nominal after alignment */
    bool exit_own; /* the exit face was aligned on its own */
    double exit_angle_deg, exit_dx, exit_dy;
    double reference_x, reference_y; /* where uncertainty per metre starts from */
    double u_dx, u_dy, u_angle_deg; /* standard uncertainties of the motion, its shift counted where
                                       it turns about: the first datum hole, the centroid of the
                                       fit; 0 as measured, NaN without uncertainty_position */
    double scale_u;                 /* standard uncertainty of the plate's scale, relative */
    double common_share; /* of a position's variance, what comes with the alignment and the scale:
                            mean over the tube holes read; NaN where there is no variance */
    bool turned_over;  /* extension match = pattern: the plate was measured turned over; the sign of
                          the measured x was changed before the rotation */
    size_t symmetries; /* extension: poses that match the pattern equally well; 1: no choice left
                          open */
} pp_alignment;

/* What the measures must be told of the sizes intended. They compare nothing with it: a gauge
 * passed stands for its own diameter, and `close_below` only bounds the list of close pairs. */
typedef struct pp_hole_sizes {
    double go, no_go,
        no_go_max;      /* plug gauges: at the lower, upper and outer upper limit; NaN: none */
    double close_below; /* list any two bores with less metal than this between them, mm */
} pp_hole_sizes;

/* How uncertain a distance from nominal is: its standard uncertainty, and by how much noise alone
 * makes it longer on average, to first order. NaN where no uncertainty was given. */
typedef struct pp_distance_error {
    double u, bias;
} pp_distance_error;

/* One hole on one face: the latest round, its repeat readings combined. */
typedef struct pp_bore {
    uint32_t hole;              /* nominal index; PP_NONE: an extra hole */
    uint32_t row;               /* first data row of the readings used, from 1 */
    uint32_t readings;          /* rows combined */
    uint32_t diameter_readings; /* of them with a diameter */
    uint32_t round;
    uint8_t face; /* pp_face */
    bool gauged;  /* only by plug gauge: diameter_min and _max are the proven bounds, NaN where
                     nothing is proven, and diameter_mean is NaN */
    int8_t go, no_go, no_go_max; /* worst of the gauge results: -1 not tried, 0 no, 1 yes */
    double x, y;                 /* mean centre */
    double diameter_min, diameter_max, diameter_mean;
    double position; /* 2 hypot(dx, dy); NaN for an extra hole */
    double u_centre; /* standard uncertainty of one coordinate of its own reading, that of the
                        plate's scale with it; NaN where none was given */
    pp_distance_error position_error; /* the alignment's errors included; NaN for an extra hole */
    double smallest_ligament;         /* to any neighbour on this face; NaN if none */
} pp_bore;

/* Metal between two neighbouring tube holes on one face. Kept small: a large plate has millions. */
typedef struct pp_ligament {
    double value;  /* mm */
    float u;       /* standard uncertainty; NaN where none was given */
    uint32_t a, b; /* nominal indices, a before b */
    uint8_t face;
    bool direct; /* measured directly */
} pp_ligament;

/* Metal from a hole of kind other on one face: measured directly to a neighbour, or to the nearest
 * (by metal) of the other tube holes. */
typedef struct pp_other_ligament {
    uint32_t other, tube; /* nominal indices */
    uint8_t face;
    bool direct;
    double value, u;
} pp_other_ligament;

typedef struct pp_close_pair { /* of any two bores on one face, by bore index, a before b */
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
    const uint32_t *hole_of_row;       /* [data row - 1]: nominal index or PP_NONE */
    size_t doubly_claimed_count;
    const uint32_t *doubly_claimed;

    size_t pair_count; /* neighbour pairs of the nominal pattern, plugged-plugged left out */
    size_t pairs_measured, pairs_unmeasured;
    size_t ligament_count; /* at most one per pair and face; pair order, entry before exit */
    const pp_ligament *ligaments;

    const double *edge;   /* [bore]: metal from hole edge to plate edge; NULL without an outline */
    const double *edge_u; /* [bore]: its standard uncertainty; NULL likewise */
    const double *drift;  /* [nominal index]: NaN where not read on both faces */
    const pp_distance_error *drift_error; /* [nominal index] likewise; NULL with one face only */

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

/* The pitch in force: the job's, else found from the nominal tube holes: their nearest-neighbour
 * distances sorted, cut where the step exceeds 0.01 mm, the median of the largest group (tie: the
 * shorter). NaN with fewer than two tube holes. */
pp_status pp_pitch_find(const pp_job *job, const pp_nominal *nominal, int threads,
                        pp_memory *memory, double *pitch, pp_error *error);

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

/* The error of that position. */
static inline pp_distance_error pp_position_error_of(const pp_measures *measures, size_t bore)
{
    bool within = measures->within_error && bore < measures->extra_first;
    return within ? measures->within_error[bore] : measures->bores[bore].position_error;
}

/* Name of a bore: its hole's, or the extra's. */
const char *pp_bore_name(const pp_measures *measures, size_t bore);

#endif

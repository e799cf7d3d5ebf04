/* From measured plates to the next plate's hole list, with a promise: what repeats is taken out in
 * advance, shrunk by how well it repeats; where that is not earned, nothing is corrected.
 *
 * Method and figures: docs/theory/correction.md. */
#ifndef PP_CORRECTION_CORRECTION_H
#define PP_CORRECTION_CORRECTION_H

#include "correction/field.h"
#include "correction/plate.h"
#include "correction/terms.h"

typedef struct pp_correct_options {
    double limit; /* diametral, of the position; NaN: none */
    double cap;   /* mm, largest shift; NaN: half of the limit, none without one */
    double step;  /* mm, shifts are rounded to it */
    bool use_field;
    double hole_diameter, ligament_minimum; /* mm; NaN: not known, then no ligament is looked at */
    unsigned machine_sets;                  /* bits of pp_static_term: the machine is set instead */
    int threads;
} pp_correct_options;

typedef struct pp_range3 {
    double median, low, high; /* 5 % and 95 % */
} pp_range3;

typedef struct pp_promise {
    pp_range3 rms_before, rms_after, out_before, out_after; /* mm; shares, NaN without a limit */
    double probability_better;
} pp_promise;

typedef struct pp_left_out_plate {
    double rms_before, rms_after; /* mm, of a plate corrected by the others */
} pp_left_out_plate;

enum { PP_CORRECTION_WHY_MAX = 8 };

typedef struct pp_correction {
    bool correct;
    size_t why_count;
    const char *why[PP_CORRECTION_WHY_MAX]; /* why not, or what to know */
    const char *machine;
    size_t plate_count;
    const pp_drilled_plate *plates; /* in order of drilling */
    pp_term_series series[PP_STATIC_TERMS];
    pp_learned_term terms[PP_STATIC_TERMS];
    double lost_motion[2]; /* mm, mean over the plates; NaN: not found on all */
    bool same_pattern, field_used;
    pp_field_group groups[PP_FIELD_GROUPS];
    const pp_nominal *next;
    const double *shift_x, *shift_y; /* [next->count] */
    double largest, factor, cap;     /* mm; all shifts were scaled by the factor; NaN: no cap */
    size_t largest_hole;
    double neighbour_change; /* mm: largest of any distance of neighbours */
    double ligament;         /* mm: the smallest between commanded places; NaN: not known */
    size_t ligament_hole[2];
    size_t thinned; /* ligaments that the shift takes below their minimum: then nothing is corrected
                     */
    bool promised;
    pp_promise promise;
    double rms_now, rms_then; /* mm: if the machine does the same again */
    size_t left_out_count;
    const pp_left_out_plate *left_out; /* as plates; none below three */
} pp_correction;

/* Correct `next` (the drawing's list) by plates[count] of one machine.
 * errors   PP_EINPUT: other machines, one plate twice; PP_ENOMEM. That nothing may be corrected is
 *          a result. */
pp_status pp_correct(const pp_nominal *next, const pp_drilled_plate *plates, size_t count,
                     const pp_correct_options *options, pp_memory *memory,
                     pp_correction *correction, pp_error *error);

#endif

/* Shims: filling the gap instead of closing it.
 *
 * A shim under the plate takes up the foot's force where the plate is, so that nothing is bent. The
 * gap to the table stays as it was; what is left to judge is how far foot and thrust still push the
 * plate down, or the gap they leave, whichever is less. Stock is never stacked higher than the gap:
 * a shim does not lift the plate.
 */
#ifndef PP_HOLDDOWN_SHIMS_H
#define PP_HOLDDOWN_SHIMS_H

#include "holddown/under_foot.h"

typedef struct pp_shim {
    double x, y; /* support pin, or the place of an area's peak gap */
    long pin;    /* index of the support pin, -1: an area on the table */
    uint32_t
        hole;   /* nominal hole that it lies under: out with it before that is drilled; PP_NONE */
    double gap; /* to fill, mm */
    double thickness; /* of stock chosen, mm */
    size_t piece_count;
    double pieces[8]; /* of shim_stock that make it up */
} pp_shim;

typedef struct pp_shims {
    size_t count;
    const pp_shim *shims;
    size_t unfit; /* supports that the plate is clear of by less than any stock: not listed */
    const pp_hold_gap *gaps; /* [holes] with them in; under the foot: what it may still move, or
                                the gap it leaves, whichever is less */
    double worst_gap;        /* largest remaining movement or gap, mm */
} pp_shims;

typedef struct pp_shim_request {
    const pp_hold_plate *plate;
    const pp_hold_state *state; /* at rest, without shims */
    const pp_hold_question *question;
    const pp_hold_places *holes;
    const pp_hold_answer *answers; /* [holes] without shims */
    const pp_job_list *stock;      /* thicknesses, any number of each */
} pp_shim_request;

/* Choose shims from the stock: on pins one for every pin the plate is clear of, on a table under
 * the holes that do not pass, worst first.
 *
 * out      shims   in memory->keep
 * errors   PP_EINPUT, PP_ENUMERIC as pp_hold_settle, on the shims; PP_ENOMEM */
pp_status pp_shims_find(const pp_shim_request *request, pp_memory *memory, pp_shims *shims,
                        pp_error *error);

/* The thickest stack of at most PP_SHIM_PIECES (more do not lie flat) from the stock that is not
 * above `gap`, of the fewest pieces: pieces[] thickest first, their number returned; 0 when nothing
 * fits. In steps of 1 um.
 * errors   PP_ENOMEM */
enum { PP_SHIM_PIECES = 4 };
pp_status pp_shim_stack(const pp_job_list *stock, double gap, pp_arena *scratch,
                        double pieces[PP_SHIM_PIECES], size_t *count, pp_error *error);

#endif

/* The holes of one plate, measured, in the bundle's frame as the plate is set out.
 *
 * Bundle frame: x right, y up as seen from the front, s along the tubes to the rear. A point v of
 * the plate's own axes goes to F v turned by `turn`, plus `shift`; F = (1, 1) seen from the front,
 * (1, -1) turned about x, (-1, 1) turned about y. */
#ifndef PP_BUNDLE_PLATE_HOLES_H
#define PP_BUNDLE_PLATE_HOLES_H

#include "bundle/set.h"
#include "input/lists/holelist.h"

/* One tube hole. A face that was not read takes the other's numbers. */
typedef struct pp_plate_hole {
    const char *name; /* the nominal hole's, or the stray's own */
    bool nominal;     /* the plate's nominal list has it */
    bool measured;
    bool plugged;
    bool one_face;                  /* read on one face only */
    double nominal_x, nominal_y;    /* bundle frame; NaN without a nominal hole */
    double x[2], y[2], r[2];        /* [0] front edge, [1] rear edge; bundle frame */
    double u_centre[2], u_diameter; /* standard; NaN where none was given */
} pp_plate_hole;

typedef struct pp_plate_holes {
    size_t count;
    const pp_plate_hole *hole; /* nominal tube holes in order, then those of no nominal hole */
    bool has_nominal;
    size_t measured, one_face;
    size_t claimed_count;
    const char *const *claimed; /* nominal holes that more than one unnamed row was nearest to */
    const pp_table_reading *nominal_read, *measured_read; /* in `names`; NULL: no such list */
} pp_plate_holes;

/* Read and align the plate's lists. Results in memory->keep, names in `names`.
 * errors  PP_EINPUT, PP_EIO as for a plate's job; no nominal list and rows without names; a hole
 *         whose size only a gauge tells */
pp_status pp_plate_holes_read(const pp_set *set, const pp_set_plate *plate, int threads,
                              pp_memory *memory, pp_arena *names, pp_plate_holes *holes,
                              pp_error *error);

/* A point of the plate's own axes into the bundle's. */
void pp_plate_to_bundle(const pp_set_plate *plate, double x, double y, double *bx, double *by);

#endif

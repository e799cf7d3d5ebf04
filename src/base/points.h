/* Places in the plane, by the frame they are in: types of their own, so that they can't be mixed.
 * mm. A measured point gets into the plate frame only through a pose (holes/alignment.h). */
#ifndef PP_BASE_POINTS_H
#define PP_BASE_POINTS_H

typedef struct pp_nominal_point { /* of the drawing, plate frame by definition */
    double x, y;
} pp_nominal_point;

typedef struct pp_measured_point { /* measuring frame, seen from the entry face, at 20 C */
    double x, y;
} pp_measured_point;

typedef struct pp_plate_point { /* measured, then aligned: plate frame */
    double x, y;
} pp_plate_point;

typedef struct pp_offset {
    double dx, dy;
} pp_offset;

/* How far a hole lies from where it should, plate frame. */
static inline pp_offset pp_offset_from(pp_nominal_point nominal, pp_plate_point at)
{
    return (pp_offset){at.x - nominal.x, at.y - nominal.y};
}

#endif

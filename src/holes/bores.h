/* Readings to bores: the latest round of each hole and face, its repeat readings combined, and
 * where each lies in the measuring frame. */
#ifndef PP_HOLES_BORES_H
#define PP_HOLES_BORES_H

#include "input/lists/holelist.h"

/* What the measures must be told of the sizes intended. They compare nothing with it: a gauge
 * passed stands for its own diameter, and `close_below` only bounds the list of close pairs. */
typedef struct pp_hole_sizes {
    double go, no_go,
        no_go_max;      /* plug gauges: at the lower, upper and outer upper limit; NaN: none */
    double close_below; /* list any two bores with less metal than this between them, mm */
} pp_hole_sizes;

/* What the readings of each face are multiplied by before anything else: the way to 20 C, the view
 * of the exit face undone, the plate turned over. */
typedef struct pp_view {
    double x[2], y[2]; /* [pp_face] */
    double size;       /* diameters and ligaments */
} pp_view;

/* The view that the job asks for: scale to 20 C (unless compensated), exit face as looked at. */
pp_view pp_view_of(const pp_job *job);

/* Where a reading of that face lies once the view is undone. */
static inline pp_measured_point pp_view_point(const pp_view *view, int face, double x, double y)
{
    return (pp_measured_point){x * view->x[face], y * view->y[face]};
}

/* The view of the same readings where the plate was measured turned over: x changed in sign. */
static inline pp_view pp_view_turned_over(pp_view view)
{
    for (int face = PP_ENTRY; face <= PP_EXIT; face++) view.x[face] = -view.x[face];
    return view;
}

/* How uncertain a distance from nominal is: its standard uncertainty, and by how much noise alone
 * makes it longer on average, to first order. NaN where no uncertainty was given. */
typedef struct pp_distance_error {
    double u, bias;
} pp_distance_error;

/* How uncertain the place of a bore is. */
typedef struct pp_bore_error {
    double u_centre; /* standard uncertainty of one coordinate of its own reading, that of the
                        plate's scale with it */
    pp_distance_error position; /* the alignment's errors included; NaN for an extra hole */
} pp_bore_error;

/* One hole on one face: the latest round, its repeat readings combined. Each stage of the measures
 * adds its own: a million bores are not copied from one list to the next. */
typedef struct pp_bore {
    /* from pp_gather */
    uint32_t hole;              /* nominal index; PP_NONE: an extra hole */
    uint32_t row;               /* first data row of the readings used, from 1 */
    uint32_t readings;          /* rows combined */
    uint32_t diameter_readings; /* of them with a diameter */
    uint32_t round;
    uint8_t face : 1; /* pp_face */
    bool gauged : 1;  /* only by plug gauge: diameter_min and _max are the proven bounds, NaN where
                         nothing is proven, and diameter_mean is NaN */
    int8_t go, no_go, no_go_max; /* worst of the gauge results: -1 not tried, 0 no, 1 yes */
    double diameter_min, diameter_max, diameter_mean;
    /* from pp_bores_align */
    pp_plate_point at; /* mean centre */
    double position;   /* 2 hypot(dx, dy) from the nominal place; NaN for an extra hole */
    /* from pp_ligaments_take */
    double smallest_ligament; /* to any neighbour on this face; NaN if none */
} pp_bore;

typedef struct pp_past_reading { /* an earlier round of a hole and face */
    uint32_t hole, round;
    uint8_t face;
    pp_measured_point centre;
    double diameter_min, diameter_max;
} pp_past_reading;

typedef struct pp_gathered {
    size_t bore_count, extra_first; /* bores from extra_first on are extra */
    pp_bore *bores; /* nominal order, entry before exit; extras last, in row order */
    const pp_measured_point *centre; /* [bore] where it was read: mean, in the measuring frame */
    const uint32_t *bore_of[2];      /* [face][nominal index]: bore index or PP_NONE */
    size_t history_count;
    const pp_past_reading *history;
    bool faces[2];    /* some hole was read on entry, exit */
    bool all_bounded; /* every bore has a diameter_max: no gauge left it open */
} pp_gathered;

typedef struct pp_gathering {
    const pp_hole_files *files;
    const pp_view *view;
    const pp_hole_sizes *sizes;
    const uint32_t *key_of_row; /* [row]: nominal index, or nominal count + number of the extra
                                   (0 .. extras - 1, by first row); PP_NONE: a row left out */
    size_t extras;
    pp_arena *into; /* for what is gathered, but for `centre` */
} pp_gathering;

/* Combine the readings.
 * memory   scratch: `centre`
 * errors   PP_ENOMEM
 * The result is the same for any number of threads. */
pp_status pp_gather(const pp_gathering *request, int threads, pp_memory *memory,
                    pp_gathered *gathered, pp_error *error);

#endif

/* What the plate map shows of each hole: one state, for the page, its print picture and the PDF. A
 * fold over the findings; nothing is judged here. */
#ifndef PP_ANSWER_PLATEVIEW_H
#define PP_ANSWER_PLATEVIEW_H

#include "answer/results.h"

typedef enum pp_hole_state {
    PP_HOLE_NOT_MEASURED,
    PP_HOLE_CONFORMS,
    PP_HOLE_REMAINDER,
    PP_HOLE_NOT_PROVEN,
    PP_HOLE_FAILS,
    PP_HOLE_PLUGGED,
    PP_HOLE_NOT_JUDGED,
    PP_HOLE_STATES /* how many */
} pp_hole_state;

typedef struct pp_plate_view {
    size_t count;         /* nominal holes; 0 when the job has none */
    const uint8_t *state; /* [hole] pp_hole_state */
    const double *radius; /* [hole] nominal, mm */
    size_t counts[PP_HOLE_STATES];
    double xmin, ymin, xmax, ymax; /* of the outline, or of the holes where there is none */

    /* Holes that a still picture draws: all, or on a plate of more than PP_VIEW_DRAWN_MAX the worst
     * of each place, with dots that cover the place. */
    size_t drawn_count;
    const uint32_t *drawn; /* nominal indices */
    double place;          /* mm, size of a place; 0: all holes are drawn */
} pp_plate_view;

enum { PP_VIEW_DRAWN_MAX = 40000 };

/* Place everything that is drawn of the plate, from the results alone.
 * memory   keep: what the view points to
 * errors   PP_ENOMEM */
pp_status pp_plate_view_make(const pp_results *results, pp_memory *memory, pp_plate_view *view,
                             pp_error *error);

/* What a state is called in a legend. */
const char *pp_hole_state_words(pp_hole_state state);

#endif

/* Pictures of the set-up sheet: the plate seen from above, to a scale that is said, with clamps by
 * number, pins, and holes by whether they are drilled in this set-up, were before, or wait. */
#ifndef PP_REPORT_SETUPS_SETUP_PICTURE_H
#define PP_REPORT_SETUPS_SETUP_PICTURE_H

#include "answer/plateview.h"
#include "report/certificate/pdf_page.h"

typedef struct pp_setup_drawing {
    const pp_results *results;
    const pp_plate_view *view;
    const uint32_t *setup_of; /* [hole] set-up that drills it */
} pp_setup_drawing;

/* The whole plate in a set-up, in a frame of this size at (left, top); returns n of the scale 1:n.
 */
double pp_setup_picture(pp_page_writer *w, const pp_setup_drawing *d, size_t setup, double left,
                        double top, double width, double height);

/* A square of the plate around a lifted clamp, with the names of the holes where they fit. */
double pp_setup_close_up(pp_page_writer *w, const pp_setup_drawing *d, size_t setup, size_t clamp,
                         double left, double top, double side);

/* What the marks mean, one below the other from (x, y). */
void pp_setup_legend(pp_page_writer *w, const pp_setup_drawing *d, double x, double y);

/* The whole plate with its holes as quiet rings and its pins by number, where a number finds room
 * beside its pin; returns n of the scale 1:n. height: the most; then what it takes. */
double pp_pin_picture(pp_page_writer *w, const pp_results *r, const pp_plate_view *view,
                      double left, double top, double width, double *height);

#endif

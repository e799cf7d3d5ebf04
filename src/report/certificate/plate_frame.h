/* The plate on a page: where its places come to lie, and its outline as cairo's path. */
#ifndef PP_REPORT_CERTIFICATE_PLATE_FRAME_H
#define PP_REPORT_CERTIFICATE_PLATE_FRAME_H

#include <cairo.h>

#include "input/job/job.h"

typedef struct pp_plate_frame {
    double scale;     /* points per mm of the plate */
    double left, top; /* of the page, points: where the plate's place (x0, y0) lies */
    double x0, y0;    /* mm */
} pp_plate_frame;

/* On the page, points, of a place of the plate, mm: y of the plate runs up, that of the page down.
 */
static inline double pp_frame_across(const pp_plate_frame *f, double x)
{
    return f->left + (x - f->x0) * f->scale;
}
static inline double pp_frame_down(const pp_plate_frame *f, double y)
{
    return f->top + (f->y0 - y) * f->scale;
}

/* Begin a new path in c: the outline of the job's plate, which has one, cut-outs and all. */
void pp_frame_outline(const pp_plate_frame *f, const pp_job *job, cairo_t *c);

#endif

#include "report/certificate/plate_frame.h"

#include "base/constants.h"

/* A corner of the outline, for cairo */
typedef struct tracing {
    cairo_t *c;
    const pp_plate_frame *f;
} tracing;

static void trace_corner(void *context, double x, double y, bool begins)
{
    const tracing *t = context;
    double across = pp_frame_across(t->f, x), down = pp_frame_down(t->f, y);
    if (begins) {
        cairo_close_path(t->c);
        cairo_move_to(t->c, across, down);
    } else {
        cairo_line_to(t->c, across, down);
    }
}

void pp_frame_outline(const pp_plate_frame *f, const pp_job *job, cairo_t *c)
{
    double x = pp_frame_across(f, job->plate.centre_x), y = pp_frame_down(f, job->plate.centre_y);
    pp_outline_spec shape = pp_job_outline(job);
    cairo_new_path(c);
    if (pp_outline_is_cut_out(&shape)) {
        pp_outline_trace(&shape, trace_corner, &(tracing){c, f});
        cairo_close_path(c);
    } else if (job->plate.outline == PP_OUTLINE_DISC) {
        cairo_arc(c, x, y, job->plate.diameter / 2 * f->scale, 0, PP_TURN);
    } else {
        double width = job->plate.width * f->scale, height = job->plate.height * f->scale;
        cairo_rectangle(c, x - width / 2, y - height / 2, width, height);
    }
}

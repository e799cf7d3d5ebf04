#include "input/lists/outline.h"

#include <math.h>

static double reach(const pp_job *job)
{
    return job->plate.outline == PP_OUTLINE_DISC ? job->plate.diameter
                                                 : fmax(job->plate.width, job->plate.height);
}

bool pp_outline_near(const pp_job *job, double x, double y)
{
    double dx = fabs(x - job->plate.centre_x), dy = fabs(y - job->plate.centre_y);
    switch (job->plate.outline) {
    case PP_OUTLINE_NONE:
        return true;
    case PP_OUTLINE_DISC:
        return dx * dx + dy * dy <= reach(job) * reach(job); /* the radius and as much again */
    case PP_OUTLINE_RECTANGLE:
        return hypot(fmax(dx - job->plate.width / 2, 0), fmax(dy - job->plate.height / 2, 0)) <=
                   reach(job) / 2 &&
               !isnan(dx + dy);
    }
    return true;
}

pp_status pp_outline_fail(const pp_job *job, const char *path, long line, long column, double x,
                          double y, pp_error *error)
{
    const char *size = job->plate.outline == PP_OUTLINE_DISC ? "diameter" : "larger side";
    return pp_fail_at(error, PP_EINPUT, path, line, column,
                      "the point at x = %.6g mm, y = %.6g mm on the plate lies far beyond its "
                      "outline (%s %.6g mm); is the unit wrong? write length_unit in the job file "
                      "or the unit in the header",
                      x, y, size, reach(job));
}

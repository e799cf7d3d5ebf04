#include "input/lists/outline.h"

#include <math.h>
#include <stdio.h>

#include "input/lists/holelist.h"

/* Reading corners ---------------------------------------------------------------------------- */

static double area_of(size_t n, const double *x, const double *y)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        size_t next = (i + 1) % n;
        sum += (x[i] - x[0]) * (y[next] - y[0]) - (x[next] - x[0]) * (y[i] - y[0]);
    }
    return sum / 2;
}

/* On which side of the line from a to b a corner lies, as an area */
static double side(const double *x, const double *y, size_t a, size_t b, size_t of)
{
    return (x[b] - x[a]) * (y[of] - y[a]) - (x[of] - x[a]) * (y[b] - y[a]);
}

static bool cross(size_t n, const double *x, const double *y, size_t a, size_t c)
{
    size_t b = (a + 1) % n, d = (c + 1) % n;
    return (side(x, y, a, b, c) > 0) != (side(x, y, a, b, d) > 0) &&
           (side(x, y, c, d, a) > 0) != (side(x, y, c, d, b) > 0);
}

static pp_status check_corners(const char *file, size_t n, const double *x, const double *y,
                               pp_error *error)
{
    if (n < 3 || n > PP_OUTLINE_CORNERS_MAX)
        return pp_fail_at(error, PP_EINPUT, file, 0, 0,
                          "has %zu corner%s; an outline takes 3 to %d, in order around the plate",
                          n, n == 1 ? "" : "s", PP_OUTLINE_CORNERS_MAX);
    for (size_t i = 0; i < n; i++) {
        size_t next = (i + 1) % n;
        if (x[i] == x[next] && y[i] == y[next])
            return pp_fail_at(error, PP_EINPUT, file, 0, 0,
                              "corners %zu and %zu are in one place, (%g, %g) mm; leave one out",
                              i + 1, next + 1, x[i], y[i]);
    }
    for (size_t a = 0; a < n; a++)
        for (size_t c = a + 2; c < n; c++) {
            if ((c + 1) % n == a || !cross(n, x, y, a, c)) continue;
            return pp_fail_at(error, PP_EINPUT, file, 0, 0,
                              "the side from corner %zu crosses the side from corner %zu; list the "
                              "corners in order around the plate, without its openings",
                              a + 1, c + 1);
        }
    double size = 0;
    for (size_t i = 0; i < n; i++) size = fmax(size, hypot(x[i] - x[0], y[i] - y[0]));
    if (fabs(area_of(n, x, y)) < 1e-6 * size * size)
        return pp_fail_at(error, PP_EINPUT, file, 0, 0,
                          "its corners lie in one line; an outline goes around the plate");
    return PP_OK;
}

pp_status pp_outline_read(pp_job *job, pp_memory *memory, const pp_table_reading **reading,
                          pp_error *error)
{
    if (job->plate.outline != PP_OUTLINE_POLYGON) return PP_OK;
    const pp_job_file *file = &job->plate.outline_file;
    pp_place_list list;
    PP_TRY(pp_places_read(job, file, memory, &list, error));
    size_t n = list.count;
    /* many programs repeat the first corner at the end */
    if (n > 3 && list.x[0] == list.x[n - 1] && list.y[0] == list.y[n - 1]) n--;
    PP_TRY(check_corners(file->path, n, list.x, list.y, error));
    double *x, *y;
    PP_TAKE(x, &memory->keep, n);
    PP_TAKE(y, &memory->keep, n);
    bool clockwise = area_of(n, list.x, list.y) < 0;
    for (size_t i = 0; i < n; i++) {
        size_t from = clockwise ? n - 1 - i : i;
        x[i] = list.x[from], y[i] = list.y[from];
    }
    job->plate.corner_count = n;
    job->plate.corner_x = x;
    job->plate.corner_y = y;
    if (reading) *reading = list.reading;
    return PP_OK;
}

/* Near or far -------------------------------------------------------------------------------- */

bool pp_outline_near(const pp_job *job, double x, double y)
{
    pp_outline_spec outline = pp_job_outline(job);
    if (outline.kind == PP_OUTLINE_NONE) return true;
    double size = pp_outline_size(&outline);
    if (outline.kind != PP_OUTLINE_DISC && outline.kind != PP_OUTLINE_RECTANGLE) {
        pp_box box = pp_outline_box(&outline);
        outline = (pp_outline_spec){.kind = PP_OUTLINE_RECTANGLE,
                                    .width = box.x1 - box.x0,
                                    .height = box.y1 - box.y0,
                                    .centre_x = (box.x0 + box.x1) / 2,
                                    .centre_y = (box.y0 + box.y1) / 2};
    }
    return pp_outline_beyond(&outline, x, y) <= size / 2;
}

pp_status pp_outline_fail(const pp_job *job, const char *path, long line, long column, double x,
                          double y, pp_error *error)
{
    pp_outline_spec outline = pp_job_outline(job);
    char size[80];
    if (outline.kind == PP_OUTLINE_RECTANGLE)
        snprintf(size, sizeof size, "width %.6g mm, height %.6g mm", outline.width, outline.height);
    else
        snprintf(size, sizeof size, "%s %.6g mm",
                 outline.kind == PP_OUTLINE_DISC ? "diameter" : "larger side",
                 pp_outline_size(&outline));
    return pp_fail_at(error, PP_EINPUT, path, line, column,
                      "the point at x = %.6g mm, y = %.6g mm on the plate lies far beyond its "
                      "outline (%s); is the unit wrong? write length_unit in the job file "
                      "or the unit in the header",
                      x, y, size);
}

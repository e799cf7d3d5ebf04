/* The plate as a still picture: SVG of a fixed size, holes as round dots of one path per state. */
#include <math.h>

#include "report/page/html_parts.h"

enum { PICTURE_PIXELS = 900, MARGIN_PIXELS = 14 };

typedef struct frame {
    double scale, x0, y0; /* pixel = (x - x0) * scale; y grows downwards */
    double width, height;
} frame;

static frame fit_frame(const pp_plate_view *view)
{
    double width = view->xmax - view->xmin, height = view->ymax - view->ymin;
    double longest = fmax(width, height);
    frame f = {.scale = longest > 0 ? (PICTURE_PIXELS - 2 * MARGIN_PIXELS) / longest : 1};
    f.x0 = view->xmin - MARGIN_PIXELS / f.scale;
    f.y0 = view->ymax + MARGIN_PIXELS / f.scale;
    f.width = width * f.scale + 2 * MARGIN_PIXELS;
    f.height = height * f.scale + 2 * MARGIN_PIXELS;
    return f;
}

static void add_pixel(pp_text *out, double value) { pp_text_add_fixed(out, value, 1); }

static void add_place(pp_text *out, const frame *f, const char *verb, double x, double y)
{
    pp_text_add(out, verb);
    add_pixel(out, (x - f->x0) * f->scale);
    pp_text_add(out, " ");
    add_pixel(out, (f->y0 - y) * f->scale);
}

typedef struct tracing {
    pp_text *out;
    const frame *f;
    bool open;
} tracing;

static void trace_corner(void *context, double x, double y, bool begins)
{
    tracing *t = context;
    if (begins && t->open) pp_text_add(t->out, "Z");
    t->open = true;
    add_place(t->out, t->f, begins ? "M" : "L", x, y);
}

static void add_outline(pp_text *out, const pp_results *results, const frame *f)
{
    const pp_job *job = results->job;
    pp_outline_spec shape = pp_job_outline(job);
    if (pp_outline_is_cut_out(&shape)) {
        tracing t = {.out = out, .f = f};
        pp_text_add(out, "<path class=\"rim\" d=\"");
        pp_outline_trace(&shape, trace_corner, &t);
        pp_text_add(out, "Z\"/>\n");
        return;
    }
    double half_x = job->plate.width / 2, half_y = job->plate.height / 2;
    if (job->plate.outline == PP_OUTLINE_DISC) half_x = half_y = job->plate.diameter / 2;
    if (job->plate.outline == PP_OUTLINE_NONE) return;
    pp_text_add(out, job->plate.outline == PP_OUTLINE_DISC ? "<ellipse class=\"rim\" cx=\""
                                                           : "<rect class=\"rim\" x=\"");
    bool disc = job->plate.outline == PP_OUTLINE_DISC;
    double px = (job->plate.centre_x - (disc ? 0 : half_x) - f->x0) * f->scale;
    double py = (f->y0 - job->plate.centre_y - (disc ? 0 : half_y)) * f->scale;
    add_pixel(out, px);
    pp_text_add(out, disc ? "\" cy=\"" : "\" y=\"");
    add_pixel(out, py);
    pp_text_add(out, disc ? "\" rx=\"" : "\" width=\"");
    add_pixel(out, (disc ? half_x : 2 * half_x) * f->scale);
    pp_text_add(out, disc ? "\" ry=\"" : "\" height=\"");
    add_pixel(out, (disc ? half_y : 2 * half_y) * f->scale);
    pp_text_add(out, "\"/>\n");
}

/* All holes of one state as zero-length strokes with round ends: compact and quick. */
static void add_dots(pp_text *out, const pp_results *results, const pp_plate_view *view,
                     const frame *f, pp_hole_state state)
{
    const pp_nominal *nominal = &results->files->nominal;
    double radius = 0;
    for (size_t i = 0; i < view->count; i++)
        if (view->state[i] == state) radius = fmax(radius, view->radius[i]);
    radius = fmax(radius, view->place / 2);
    pp_text_print(out, "<path class=\"dot s%d\" stroke-width=\"", (int)state);
    add_pixel(out, fmax(2 * radius * f->scale, 1.5));
    pp_text_add(out, "\" d=\"");
    for (size_t k = 0; k < view->drawn_count; k++) {
        size_t i = view->drawn[k];
        if (view->state[i] != state) continue;
        add_place(out, f, "M", nominal->x[i], nominal->y[i]);
        pp_text_add(out, "h0");
    }
    pp_text_add(out, "\"/>\n");
}

typedef struct stroke {
    const char *verb;
    double x, y; /* arms */
} stroke;

/* A shape beside the colour, so that states are found without telling colours apart: a cross fails,
 * a diamond is not proven, a dash is plugged. The map to move about in draws the same ones. */
static size_t strokes_of(pp_hole_state state, const stroke **strokes)
{
    static const stroke CROSS[] = {{"M", -1, -1}, {"L", 1, 1}, {"M", -1, 1}, {"L", 1, -1}};
    static const stroke DIAMOND[] = {
        {"M", 0, -1}, {"L", 1, 0}, {"L", 0, 1}, {"L", -1, 0}, {"L", 0, -1}};
    static const stroke DASH[] = {{"M", -1, 0}, {"L", 1, 0}};
    *strokes = state == PP_HOLE_FAILS ? CROSS : state == PP_HOLE_NOT_PROVEN ? DIAMOND : DASH;
    return state == PP_HOLE_FAILS        ? sizeof CROSS / sizeof CROSS[0]
           : state == PP_HOLE_NOT_PROVEN ? sizeof DIAMOND / sizeof DIAMOND[0]
           : state == PP_HOLE_PLUGGED    ? sizeof DASH / sizeof DASH[0]
                                         : 0;
}

/* The shapes of a state's holes, as one path. */
static void add_marks(pp_text *out, const pp_results *results, const pp_plate_view *view,
                      const frame *f, pp_hole_state state)
{
    const stroke *strokes;
    size_t count = strokes_of(state, &strokes);
    double arm = (state == PP_HOLE_FAILS ? 9 : 6) / f->scale;
    if (!count || !view->counts[state]) return; /* a plate without holes has no list either */
    const pp_nominal *nominal = &results->files->nominal;
    pp_text_add(out, "<path class=\"cross\" d=\"");
    for (size_t k = 0; k < view->drawn_count; k++) {
        size_t i = view->drawn[k];
        if (view->state[i] != state) continue;
        for (size_t n = 0; n < count; n++)
            add_place(out, f, strokes[n].verb, nominal->x[i] + strokes[n].x * arm,
                      nominal->y[i] + strokes[n].y * arm);
    }
    pp_text_add(out, "\"/>\n");
}

void pp_html_key(pp_text *out, pp_hole_state state)
{
    const stroke *strokes;
    size_t count = strokes_of(state, &strokes);
    pp_text_print(out,
                  "<svg class=\"mark\" viewBox=\"0 0 20 20\" aria-hidden=\"true\"><path "
                  "class=\"dot s%d\" stroke-width=\"13\" d=\"M10 10h0\"/>",
                  (int)state);
    if (count) pp_text_add(out, "<path class=\"cross\" d=\"");
    for (size_t n = 0; n < count; n++)
        pp_text_print(out, "%s%.0f %.0f", strokes[n].verb, 10 + 8 * strokes[n].x,
                      10 + 8 * strokes[n].y);
    pp_text_add(out, count ? "\"/></svg>" : "</svg>");
}

void pp_html_still(pp_text *out, const pp_results *results, const pp_plate_view *view)
{
    frame f = fit_frame(view);
    pp_text_add(out, "<svg class=\"still\" role=\"img\" aria-label=\"The plate with its holes; "
                     "crosses mark holes that do not conform, diamonds those not proven, dashes "
                     "plugged ones\" viewBox=\"0 0 ");
    add_pixel(out, f.width);
    pp_text_add(out, " ");
    add_pixel(out, f.height);
    pp_text_add(out, "\">\n");
    add_outline(out, results, &f);
    for (int state = 0; view->count && state < PP_HOLE_STATES; state++)
        if (view->counts[state]) add_dots(out, results, view, &f, (pp_hole_state)state);
    add_marks(out, results, view, &f, PP_HOLE_PLUGGED);
    add_marks(out, results, view, &f, PP_HOLE_NOT_PROVEN);
    add_marks(out, results, view, &f, PP_HOLE_FAILS);
    pp_text_add(out, "</svg>\n");
}

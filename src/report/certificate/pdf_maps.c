#include "report/certificate/pdf_maps.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "answer/for_people.h"
#include "base/constants.h"
#include "report/certificate/plate_frame.h"

typedef struct colour {
    double r, g, b;
} colour;

/* Okabe and Ito's colour-blind-safe set, as on the page. */
static const colour STATE_COLOURS[PP_HOLE_STATES] = {
    [PP_HOLE_NOT_MEASURED] = {0.83, 0.85, 0.87}, [PP_HOLE_CONFORMS] = {0, 0.62, 0.45},
    [PP_HOLE_REMAINDER] = {0.34, 0.71, 0.91},    [PP_HOLE_NOT_PROVEN] = {0.90, 0.62, 0},
    [PP_HOLE_FAILS] = {0.84, 0.37, 0},           [PP_HOLE_PLUGGED] = {0.80, 0.47, 0.65},
    [PP_HOLE_NOT_JUDGED] = {0.60, 0.65, 0.69}};
static const colour LOW = {0, 0.45, 0.70}, LEVEL = {0.97, 0.97, 0.97}, HIGH = {0.84, 0.37, 0};

typedef struct map_place {
    pp_plate_frame frame;
    double width, height; /* points */
} map_place;

/* The view at the pen, as large as fits beside its legend. */
static map_place fit(const pp_page_writer *w, const pp_plate_view *view, double height)
{
    double wide = fmax(view->xmax - view->xmin, 1e-9), tall = fmax(view->ymax - view->ymin, 1e-9);
    double scale = fmin((w->right - w->left) * 0.72 / wide, height / tall);
    return (map_place){.frame = {scale, w->left, w->y, view->xmin, view->ymax},
                       .width = wide * scale,
                       .height = tall * scale};
}

static void paint(cairo_t *c, colour k) { cairo_set_source_rgb(c, k.r, k.g, k.b); }

/* To be stroked with round caps. In the paper it is round whatever the tolerance: cairo outlines
 * it, as finely as that says, only to know where on the page it is, and a square does for that. */
static void dot(cairo_t *c, const pp_plate_frame *f, double x, double y, double radius)
{
    double width = fmax(2 * radius * f->scale, 0.6);
    cairo_move_to(c, pp_frame_across(f, x), pp_frame_down(f, y));
    cairo_set_line_width(c, width);
    cairo_set_tolerance(c, width / 2);
    cairo_line_to(c, pp_frame_across(f, x), pp_frame_down(f, y));
}

static void holes_of(cairo_t *c, const pp_results *r, const pp_plate_view *view,
                     const pp_plate_frame *f, pp_hole_state state)
{
    const pp_nominal *nominal = &r->files->nominal;
    double tolerance = cairo_get_tolerance(c);
    cairo_set_line_cap(c, CAIRO_LINE_CAP_ROUND);
    paint(c, STATE_COLOURS[state]);
    double radius = -1;
    for (size_t k = 0; k < view->drawn_count; k++) {
        size_t i = view->drawn[k];
        double own = fmax(view->radius[i], view->place / 2);
        if (view->state[i] != state) continue;
        if (radius >= 0 && own != radius) cairo_stroke(c);
        radius = own;
        dot(c, f, nominal->x[i], nominal->y[i], radius);
    }
    cairo_stroke(c);
    cairo_set_tolerance(c, tolerance);
}

/* The shape of a state at a place: a cross fails, a diamond is not proven, a dash is plugged. */
static void shape(cairo_t *c, pp_hole_state state, double x, double y, double arm)
{
    if (state == PP_HOLE_FAILS) {
        cairo_move_to(c, x - arm, y - arm);
        cairo_line_to(c, x + arm, y + arm);
        cairo_move_to(c, x - arm, y + arm);
        cairo_line_to(c, x + arm, y - arm);
    } else if (state == PP_HOLE_NOT_PROVEN) {
        cairo_move_to(c, x, y - arm);
        cairo_line_to(c, x + arm, y);
        cairo_line_to(c, x, y + arm);
        cairo_line_to(c, x - arm, y);
        cairo_close_path(c);
    } else if (state == PP_HOLE_PLUGGED) {
        cairo_move_to(c, x - arm, y);
        cairo_line_to(c, x + arm, y);
    }
}

static void shapes(cairo_t *c, const pp_results *r, const pp_plate_view *view,
                   const pp_plate_frame *f)
{
    const pp_nominal *nominal = &r->files->nominal;
    cairo_set_source_rgb(c, 0, 0, 0);
    cairo_set_line_width(c, 0.9);
    for (size_t k = 0; k < view->drawn_count; k++) {
        size_t i = view->drawn[k];
        pp_hole_state state = (pp_hole_state)view->state[i];
        shape(c, state, pp_frame_across(f, nominal->x[i]), pp_frame_down(f, nominal->y[i]),
              state == PP_HOLE_FAILS ? 3 : 2);
    }
    cairo_stroke(c);
}

static void legend(pp_page_writer *w, const pp_plate_view *view, const map_place *p)
{
    double x = p->frame.left + p->width + 16, y = p->frame.top + 4;
    for (int s = 0; s < PP_HOLE_STATES; s++) {
        if (!view->counts[s]) continue;
        pp_text line = {0};
        paint(w->cairo, STATE_COLOURS[s]);
        cairo_arc(w->cairo, x + 4, y + 5, 3, 0, PP_TURN);
        cairo_fill(w->cairo);
        cairo_set_source_rgb(w->cairo, 0, 0, 0);
        cairo_set_line_width(w->cairo, 0.9);
        shape(w->cairo, (pp_hole_state)s, x + 4, y + 5, s == PP_HOLE_FAILS ? 4 : 3);
        cairo_stroke(w->cairo);
        pp_text_print(&line, "%zu %s", view->counts[s], pp_hole_state_words((pp_hole_state)s));
        if (!line.failed) pp_page_word(w, PP_STYLE_SMALL, x + 12, y, line.data);
        w->failed = w->failed || line.failed;
        pp_text_free(&line);
        y += 13;
    }
    if (view->place > 0) pp_page_word(w, PP_STYLE_SMALL, x, y + 6, "A dot: the worst hole around.");
}

void pp_pdf_plate_map(pp_page_writer *w, const pp_results *results, const pp_plate_view *view,
                      double height)
{
    pp_page_need(w, height + 8);
    map_place p = fit(w, view, height);
    cairo_t *c = w->cairo;
    if (w->pages == 0) { /* counting pages: the room is all that matters */
        w->y += p.height + 8;
        return;
    }
    if (results->job->plate.outline != PP_OUTLINE_NONE) {
        pp_frame_outline(&p.frame, results->job, c);
        cairo_set_source_rgb(c, 0.94, 0.95, 0.96);
        cairo_fill_preserve(c);
        cairo_set_source_rgb(c, 0.4, 0.4, 0.4);
        cairo_set_line_width(c, 0.7);
        cairo_stroke(c);
    }
    for (int s = 0; s < PP_HOLE_STATES; s++)
        if (view->counts[s]) holes_of(c, results, view, &p.frame, (pp_hole_state)s);
    shapes(c, results, view, &p.frame);
    legend(w, view, &p);
    w->y += p.height + 8;
}

static colour mix(colour a, colour b, double t)
{
    t = fmin(fmax(t, 0), 1);
    return (colour){a.r + (b.r - a.r) * t, a.g + (b.g - a.g) * t, a.b + (b.b - a.b) * t};
}

/* Mean deviation of a cell's known corners; NaN when it has none. */
static double cell_mean(const pp_map *map, size_t i, size_t j)
{
    const double *v = &map->deviation[j * map->columns + i];
    const double corner[] = {v[0], v[1], v[map->columns], v[map->columns + 1]};
    double sum = 0;
    int known = 0;
    for (int k = 0; k < 4; k++)
        if (!isnan(corner[k])) sum += corner[k], known++;
    return known ? sum / known : NAN;
}

static uint32_t pixel_of(colour c)
{
    uint32_t r = (uint32_t)lround(255 * c.r), g = (uint32_t)lround(255 * c.g),
             b = (uint32_t)lround(255 * c.b);
    return r << 16 | g << 8 | b;
}

/* The cells as one picture, a pixel each: ten thousand rectangles would take a fifth of a second.
 * Cells without a value lie beyond the outline, where the picture is clipped. */
static void cells(cairo_t *c, const pp_map *map, const pp_plate_frame *f, double largest)
{
    int columns = (int)map->columns - 1, rows = (int)map->rows - 1;
    cairo_surface_t *picture = cairo_image_surface_create(CAIRO_FORMAT_RGB24, columns, rows);
    unsigned char *bytes = cairo_image_surface_get_data(picture); /* NULL: no memory, and c fails */
    int stride = cairo_image_surface_get_stride(picture);
    for (int j = 0; bytes && j < rows; j++)
        for (int i = 0; i < columns; i++) {
            double mean = cell_mean(map, (size_t)i, (size_t)j) / largest;
            uint32_t pixel =
                pixel_of(isnan(mean) ? LEVEL : mix(LEVEL, mean < 0 ? LOW : HIGH, fabs(mean)));
            memcpy(bytes + (size_t)(rows - 1 - j) * (size_t)stride + 4 * (size_t)i, &pixel, 4);
        }
    cairo_surface_mark_dirty(picture);
    cairo_save(c);
    cairo_translate(c, pp_frame_across(f, map->x0), pp_frame_down(f, map->y0 + rows * map->dy));
    cairo_scale(c, map->dx * f->scale, map->dy * f->scale);
    cairo_set_source_surface(c, picture, 0, 0);
    cairo_pattern_set_filter(cairo_get_source(c), CAIRO_FILTER_NEAREST);
    cairo_paint(c);
    cairo_restore(c);
    cairo_surface_destroy(picture);
}

static void surface_legend(pp_page_writer *w, const map_place *p, pp_length_unit units,
                           double largest)
{
    enum { STEPS = 5 };
    double x = p->frame.left + p->width + 16, y = p->frame.top + 4;
    for (int s = 0; s < STEPS; s++) {
        double share = 1 - 2.0 * s / (STEPS - 1);
        paint(w->cairo, mix(LEVEL, share < 0 ? LOW : HIGH, fabs(share)));
        cairo_rectangle(w->cairo, x, y, 10, 10);
        cairo_fill_preserve(w->cairo);
        cairo_set_source_rgb(w->cairo, 0.5, 0.5, 0.5);
        cairo_set_line_width(w->cairo, 0.4);
        cairo_stroke(w->cairo);
        cairo_set_source_rgb(w->cairo, 0, 0, 0);
        pp_text line = {0};
        if (share > 0) pp_text_add(&line, "+");
        pp_people_length(&line, units, share * largest);
        if (!line.failed) pp_page_word(w, PP_STYLE_SMALL, x + 15, y, line.data);
        w->failed = w->failed || line.failed;
        pp_text_free(&line);
        y += 14;
    }
}

void pp_pdf_surface_map(pp_page_writer *w, const pp_results *results, const pp_plate_view *view,
                        double height)
{
    const pp_map *map = &results->flatness->map;
    double largest = 1e-9;
    for (size_t i = 0; i < map->columns * map->rows; i++)
        if (!isnan(map->deviation[i])) largest = fmax(largest, fabs(map->deviation[i]));
    pp_page_need(w, height + 8);
    map_place p = fit(w, view, height);
    if (w->pages == 0) { /* as above */
        w->y += p.height + 8;
        return;
    }
    cairo_save(w->cairo);
    pp_frame_outline(&p.frame, results->job, w->cairo);
    cairo_clip(w->cairo);
    cells(w->cairo, map, &p.frame, largest);
    cairo_restore(w->cairo);
    pp_frame_outline(&p.frame, results->job, w->cairo);
    cairo_set_source_rgb(w->cairo, 0.4, 0.4, 0.4);
    cairo_set_line_width(w->cairo, 0.7);
    cairo_stroke(w->cairo);
    surface_legend(w, &p, results->job->units, largest);
    w->y += p.height + 8;
}

#include "report/setups/setup_picture.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/constants.h"
#include "report/certificate/plate_frame.h"

static const double POINTS_PER_MM = 72 / 25.4;
static const double CLAMP_RADIUS = 6; /* points, at least */

typedef enum mark { WAITS, DRILLED_BEFORE, DRILLED_NOW, MARKS } mark;

/* Okabe and Ito's colour-blind-safe set, and told apart by fill and size as well */
static const double COLOUR[MARKS][3] = {[WAITS] = {0.72, 0.75, 0.78},
                                        [DRILLED_BEFORE] = {0.45, 0.49, 0.53},
                                        [DRILLED_NOW] = {0, 0.45, 0.70}};

/* The largest of the usual scales that fits: 1, 2, 2.5 or 5 times a power of ten. */
static double usual_scale(double mm, double points)
{
    static const double steps[] = {1, 2, 2.5, 5, 10};
    double least = mm * POINTS_PER_MM / points, power = pow(10, floor(log10(least)));
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++)
        if (steps[i] * power >= least * (1 - 1e-9)) return steps[i] * power;
    return 10 * power;
}

/* The plate -------------------------------------------------------------------------------- */

static void outline(cairo_t *c, const pp_job *job, const pp_plate_frame *f)
{
    pp_frame_outline(f, job, c);
    cairo_set_source_rgb(c, 0.96, 0.965, 0.97);
    cairo_fill_preserve(c);
    cairo_set_source_rgb(c, 0.3, 0.3, 0.3);
    cairo_set_line_width(c, 0.7);
    cairo_stroke(c);
}

static mark mark_of(const pp_setup_drawing *d, size_t hole, size_t setup)
{
    return d->setup_of[hole] == setup  ? DRILLED_NOW
           : d->setup_of[hole] < setup ? DRILLED_BEFORE
                                       : WAITS;
}

static void holes(cairo_t *c, const pp_setup_drawing *d, size_t setup, const pp_plate_frame *f)
{
    const pp_nominal *n = &d->results->files->nominal;
    for (int m = 0; m < MARKS; m++)
        for (size_t k = 0; k < d->view->drawn_count; k++) {
            size_t i = d->view->drawn[k];
            if (mark_of(d, i, setup) != (mark)m) continue;
            double own = fmax(fmax(d->view->radius[i], d->view->place / 2) * f->scale, 0.35);
            cairo_new_path(c);
            cairo_arc(c, pp_frame_across(f, n->x[i]), pp_frame_down(f, n->y[i]), own, 0, PP_TURN);
            cairo_set_source_rgb(c, COLOUR[m][0], COLOUR[m][1], COLOUR[m][2]);
            if (m == WAITS && own > 1) {
                cairo_set_line_width(c, 0.4);
                cairo_stroke(c);
            } else {
                cairo_fill(c);
            }
        }
}

static void pin(cairo_t *c, double x, double y, double radius)
{
    cairo_new_path(c);
    cairo_move_to(c, x - radius, y - radius);
    cairo_line_to(c, x + radius, y + radius);
    cairo_move_to(c, x - radius, y + radius);
    cairo_line_to(c, x + radius, y - radius);
    cairo_set_source_rgb(c, 0.80, 0.24, 0.55);
    cairo_set_line_width(c, 0.9);
    cairo_stroke(c);
}

static void pins(cairo_t *c, const pp_setup_drawing *d, const pp_plate_frame *f)
{
    const pp_holddown *h = d->results->holddown;
    double own = d->results->job->support.pin_diameter / 2 * f->scale;
    for (size_t i = 0; i < h->pin_count; i++)
        pin(c, pp_frame_across(f, h->pin_x[i]), pp_frame_down(f, h->pin_y[i]),
            own > 2.2 ? own : 2.2);
}

static bool is_lifted(const pp_drill_setup *s, size_t clamp)
{
    for (size_t k = 0; k < s->lifted_count; k++)
        if (s->lifted[k] == clamp) return true;
    return false;
}

/* On: a dark disc with its number in white. Lifted: a broken ring. */
static void clamp_mark(pp_page_writer *w, double x, double y, double radius, size_t number,
                       bool lifted)
{
    static const double DASH[] = {2, 1.5};
    char text[24];
    cairo_t *c = w->cairo;
    cairo_new_path(c);
    cairo_arc(c, x, y, radius, 0, PP_TURN);
    cairo_set_source_rgb(c, 0.12, 0.12, 0.14);
    if (lifted) {
        cairo_set_dash(c, DASH, 2, 0);
        cairo_set_line_width(c, 1);
        cairo_stroke(c);
        cairo_set_dash(c, NULL, 0, 0);
    } else {
        cairo_fill(c);
    }
    if (lifted) return; /* its holes are seen through the ring */
    snprintf(text, sizeof text, "%zu", number);
    cairo_set_source_rgb(c, 1, 1, 1);
    pp_page_word(w, PP_STYLE_SMALL, x - (number > 9 ? 4.6 : 2.3), y - 4.4, text);
    cairo_set_source_rgb(c, 0, 0, 0);
}

/* Diameter of a clamp's pad: its own where the job gives it; NaN: a point */
static double pad_of(const pp_setup_drawing *d, size_t clamp)
{
    const pp_job *job = d->results->job;
    return d->results->holddown->plan_given ? job->clamps[clamp].pad : job->holddown.clamp_pad;
}

static void clamps(pp_page_writer *w, const pp_setup_drawing *d, size_t setup,
                   const pp_plate_frame *f)
{
    const pp_holddown *h = d->results->holddown;
    for (size_t k = 0; k < h->clamp_count; k++) {
        double pad = pad_of(d, k) / 2 * f->scale;
        clamp_mark(w, pp_frame_across(f, h->plan[k].x), pp_frame_down(f, h->plan[k].y),
                   pad > CLAMP_RADIUS ? pad : CLAMP_RADIUS, k + 1,
                   is_lifted(&h->setups.setups[setup], k));
    }
    cairo_set_source_rgb(w->cairo, 0, 0, 0);
}

/* Pictures ---------------------------------------------------------------------------------- */

double pp_setup_picture(pp_page_writer *w, const pp_setup_drawing *d, size_t setup, double left,
                        double top, double width, double height)
{
    const pp_plate_view *v = d->view;
    double n = fmax(usual_scale(v->xmax - v->xmin, width), usual_scale(v->ymax - v->ymin, height));
    pp_plate_frame f = {.scale = POINTS_PER_MM / n,
                        .left = left + width / 2,
                        .top = top + height / 2,
                        .x0 = (v->xmin + v->xmax) / 2,
                        .y0 = (v->ymin + v->ymax) / 2};
    if (w->pages == 0) return n; /* counting pages: the room is all that matters */
    if (d->results->job->plate.outline != PP_OUTLINE_NONE) outline(w->cairo, d->results->job, &f);
    holes(w->cairo, d, setup, &f);
    pins(w->cairo, d, &f);
    clamps(w, d, setup, &f);
    return n;
}

/* Names under the holes, where every one finds room between its neighbours. */
static void names(pp_page_writer *w, const pp_setup_drawing *d, size_t setup,
                  const pp_plate_frame *f)
{
    const pp_drill_setup *s = &d->results->holddown->setups.setups[setup];
    const pp_nominal *n = &d->results->files->nominal;
    double pitch = d->results->job->holes.pitch * f->scale;
    for (size_t k = 0; k < s->hole_count; k++) {
        size_t length = strlen(n->name[s->holes[k]]);
        if (!(4.8 * (double)length < pitch && pitch > 22)) return;
    }
    for (size_t k = 0; k < s->hole_count; k++) {
        size_t i = s->holes[k];
        pp_page_word(w, PP_STYLE_SMALL,
                     pp_frame_across(f, n->x[i]) - 2.3 * (double)strlen(n->name[i]),
                     pp_frame_down(f, n->y[i]) + d->view->radius[i] * f->scale, n->name[i]);
    }
}

/* Wide enough for the pad and every hole under it, mm */
static double close_up_width(const pp_setup_drawing *d, size_t clamp)
{
    const pp_clamp *c = &d->results->holddown->plan[clamp];
    const pp_nominal *n = &d->results->files->nominal;
    double pad = pad_of(d, clamp), width = (pad > 0 ? pad : 100) * 1.6;
    for (size_t k = 0; k < c->block_count; k++) {
        size_t i = c->blocks[k];
        double reach = fmax(fabs(n->x[i] - c->x), fabs(n->y[i] - c->y)) + 1.5 * d->view->radius[i];
        width = fmax(width, 2 * reach);
    }
    return width;
}

double pp_setup_close_up(pp_page_writer *w, const pp_setup_drawing *d, size_t setup, size_t clamp,
                         double left, double top, double side)
{
    const pp_holddown *h = d->results->holddown;
    double n = usual_scale(close_up_width(d, clamp), side);
    pp_plate_frame f = {.scale = POINTS_PER_MM / n,
                        .left = left + side / 2,
                        .top = top + side / 2,
                        .x0 = h->plan[clamp].x,
                        .y0 = h->plan[clamp].y};
    if (w->pages == 0) return n;
    cairo_save(w->cairo);
    cairo_rectangle(w->cairo, left, top, side, side);
    cairo_clip(w->cairo);
    if (d->results->job->plate.outline != PP_OUTLINE_NONE) outline(w->cairo, d->results->job, &f);
    holes(w->cairo, d, setup, &f);
    pins(w->cairo, d, &f);
    clamps(w, d, setup, &f);
    names(w, d, setup, &f);
    cairo_restore(w->cairo);
    cairo_set_source_rgb(w->cairo, 0.3, 0.3, 0.3);
    cairo_set_line_width(w->cairo, 0.5);
    cairo_rectangle(w->cairo, left, top, side, side);
    cairo_stroke(w->cairo);
    cairo_set_source_rgb(w->cairo, 0, 0, 0);
    return n;
}

/* Where a number stands beside its pin: right, left, above, below; the first that no other pin or
 * number is in the way of, none where all are taken. */
typedef struct label {
    double left, top, width;
} label;

static const double LETTER_HEIGHT = 8, LETTER_WIDTH = 4.5; /* points, of the small style */

static bool overlap(const label *a, const label *b)
{
    return a->left < b->left + b->width && b->left < a->left + a->width &&
           a->top < b->top + LETTER_HEIGHT && b->top < a->top + LETTER_HEIGHT;
}

static bool is_free(const label *wanted, size_t count, const label *taken, size_t pins,
                    const double *x, const double *y, double radius)
{
    for (size_t k = 0; k < count; k++)
        if (overlap(wanted, &taken[k])) return false;
    for (size_t i = 0; i < pins; i++) {
        label pin = {x[i] - radius, y[i] - LETTER_HEIGHT / 2, 2 * radius};
        if (overlap(wanted, &pin)) return false;
    }
    return true;
}

enum { LABELS_MAX = 400 };

static void number_pins(pp_page_writer *w, const pp_holddown *h, const pp_plate_frame *f,
                        double radius)
{
    label taken[LABELS_MAX];
    double x[LABELS_MAX], y[LABELS_MAX];
    size_t pins = h->pin_count < LABELS_MAX ? h->pin_count : LABELS_MAX, count = 0;
    for (size_t i = 0; i < pins; i++)
        x[i] = pp_frame_across(f, h->fixture[i].x), y[i] = pp_frame_down(f, h->fixture[i].y);
    for (size_t i = 0; i < pins; i++) {
        char text[24];
        double width = LETTER_WIDTH * snprintf(text, sizeof text, "%zu", h->fixture[i].number);
        const label places[] = {{x[i] + radius + 1, y[i] - LETTER_HEIGHT / 2, width},
                                {x[i] - radius - 1 - width, y[i] - LETTER_HEIGHT / 2, width},
                                {x[i] - width / 2, y[i] - radius - 1 - LETTER_HEIGHT, width},
                                {x[i] - width / 2, y[i] + radius + 1, width}};
        for (size_t k = 0; k < sizeof places / sizeof *places; k++) {
            if (!is_free(&places[k], count, taken, pins, x, y, radius)) continue;
            taken[count++] = places[k];
            pp_page_word(w, PP_STYLE_SMALL, places[k].left, places[k].top - 0.5, text);
            break;
        }
    }
}

static void still_holes(cairo_t *c, const pp_results *r, const pp_plate_view *view,
                        const pp_plate_frame *f)
{
    const pp_nominal *n = &r->files->nominal;
    cairo_set_source_rgb(c, 0.72, 0.75, 0.78);
    cairo_set_line_width(c, 0.3);
    for (size_t k = 0; k < view->drawn_count; k++) {
        size_t i = view->drawn[k];
        cairo_new_path(c);
        cairo_arc(c, pp_frame_across(f, n->x[i]), pp_frame_down(f, n->y[i]),
                  fmax(fmax(view->radius[i], view->place / 2) * f->scale, 0.3), 0, PP_TURN);
        cairo_stroke(c);
    }
}

double pp_pin_picture(pp_page_writer *w, const pp_results *r, const pp_plate_view *view,
                      double left, double top, double width, double *height)
{
    const double small = 1.6; /* points */
    double n = usual_scale(view->xmax - view->xmin, width);
    n = fmax(n, usual_scale(view->ymax - view->ymin, *height));
    *height = (view->ymax - view->ymin) / n * POINTS_PER_MM;
    pp_plate_frame f = {.scale = POINTS_PER_MM / n,
                        .left = left + width / 2,
                        .top = top + *height / 2,
                        .x0 = (view->xmin + view->xmax) / 2,
                        .y0 = (view->ymin + view->ymax) / 2};
    if (w->pages == 0) return n;
    const pp_holddown *h = r->holddown;
    double own = r->job->support.pin_diameter / 2 * f.scale, radius = own > small ? own : small;
    if (r->job->plate.outline != PP_OUTLINE_NONE) outline(w->cairo, r->job, &f);
    still_holes(w->cairo, r, view, &f);
    for (size_t i = 0; i < h->pin_count; i++) {
        cairo_new_path(w->cairo);
        cairo_arc(w->cairo, pp_frame_across(&f, h->fixture[i].x),
                  pp_frame_down(&f, h->fixture[i].y), radius, 0, PP_TURN);
        cairo_set_source_rgb(w->cairo, 0.80, 0.24, 0.55);
        cairo_fill(w->cairo);
    }
    cairo_set_source_rgb(w->cairo, 0, 0, 0);
    number_pins(w, h, &f, radius);
    return n;
}

void pp_setup_legend(pp_page_writer *w, const pp_setup_drawing *d, double x, double y)
{
    static const char *const words[MARKS] = {"waits", "drilled before", "drilled in this set-up"};
    const pp_holddown *h = d->results->holddown;
    if (w->pages == 0) return;
    for (int m = MARKS - 1; m >= 0; m--, y += 12) {
        if (m != DRILLED_NOW && h->setups.count < 2) continue;
        cairo_set_source_rgb(w->cairo, COLOUR[m][0], COLOUR[m][1], COLOUR[m][2]);
        cairo_new_path(w->cairo);
        cairo_arc(w->cairo, x + 4, y + 5, 2.6, 0, PP_TURN);
        cairo_set_line_width(w->cairo, 0.6);
        if (m == WAITS)
            cairo_stroke(w->cairo);
        else
            cairo_fill(w->cairo);
        cairo_set_source_rgb(w->cairo, 0, 0, 0);
        pp_page_word(w, PP_STYLE_SMALL, x + 12, y, words[m]);
    }
    if (h->clamp_count) {
        clamp_mark(w, x + 4, y + 5, 4.6, 1, false);
        pp_page_word(w, PP_STYLE_SMALL, x + 12, y, "clamp on");
        clamp_mark(w, x + 4, y + 17, 4, 1, true);
        pp_page_word(w, PP_STYLE_SMALL, x + 12, y + 12, "clamp lifted");
        y += 24;
    }
    if (!h->pin_count) return;
    pin(w->cairo, x + 4, y + 5, 2.4);
    cairo_set_source_rgb(w->cairo, 0, 0, 0);
    pp_page_word(w, PP_STYLE_SMALL, x + 12, y, "support pin");
}

#include "report/correction/correction_pictures.h"

#include <math.h>

#include "base/quantiles.h"
#include "report/page/drawing.h"
#include "report/page/places.h"

enum { ARROWS_MAX = 1500, PICTURE = 860 };
static const double P95 = 0.975;

const char *pp_term_unit(int term, double *scale, int *decimals)
{
    bool bow = pp_static_is_bow(term);
    *scale = bow ? 1 : 1e6, *decimals = bow ? 4 : 1;
    return bow ? "mm" : term == PP_STATIC_SQUARENESS ? "\xc2\xb5rad" : "ppm";
}

/* ---- the promise ---- */

static void bar(pp_text *out, const pp_range3 *r, double per_mm, double left, double y,
                const char *words, const char *colour, bool dashed)
{
    double low = left + per_mm * r->low, high = left + per_mm * r->high;
    pp_text_print(out, "<rect height=\"16\" fill=\"%s\" fill-opacity=\".35\" stroke=\"%s\"%s",
                  colour, colour, dashed ? " stroke-dasharray=\"4 3\"" : "");
    pp_draw_number(out, " x=\"", low, "\"");
    pp_draw_number(out, " width=\"", fmax(2, high - low), "\"");
    pp_draw_number(out, " y=\"", y - 8, "\"/>\n");
    pp_draw_line(out, left + per_mm * r->median, y - 12, left + per_mm * r->median, y + 12,
                 "stroke=\"#1b1f24\" stroke-width=\"3\"");
    pp_draw_label(out, left - 8, y + 5, "end", words);
    pp_draw_value(out, high + 8, y + 5, "start", r->high, 4);
}

void pp_picture_promise(pp_text *out, const pp_correction *c, double limit)
{
    const double left = 118, right = 360, before = 24, after = 60, axis = 86;
    const pp_promise *p = &c->promise;
    double most = fmax(p->rms_before.high, p->rms_after.high), radius = 0.5 * limit;
    bool shows = radius < 3 * most;
    if (shows) most = fmax(most, radius);
    double per_mm = (right - left) / most;
    pp_text_add(out,
                "<svg class=\"stack-map\" viewBox=\"0 0 420 112\" role=\"img\" fill=\"" PP_DRAW_INK
                "\" aria-label=\"rms of the next plate's errors: as it is, and drilled to the "
                "list\">\n");
    bar(out, &p->rms_before, per_mm, left, before, "as it is", PP_DRAW_SOFT, true);
    bar(out, &p->rms_after, per_mm, left, after, "drilled to the list", PP_DRAW_BLUE, false);
    pp_draw_line(out, left, axis, right, axis, "stroke=\"" PP_DRAW_SOFT "\"");
    pp_draw_label(out, left, axis + 18, "middle", "0 mm");
    if (shows) {
        pp_draw_line(out, left + per_mm * radius, 10, left + per_mm * radius, axis,
                     "stroke=\"" PP_DRAW_RED "\" stroke-width=\"2\" stroke-dasharray=\"6 4\"");
        pp_draw_label(out, left + per_mm * radius, axis + 18, "end", "radius of the zone");
    }
    pp_text_add(out, "</svg>\n");
}

/* ---- the shift ---- */

/* 1, 2 or 5 times a power of ten, at most `value`. */
static double round_number(double value)
{
    double ten = pow(10, floor(log10(value)));
    return value >= 5 * ten ? 5 * ten : value >= 2 * ten ? 2 * ten : ten;
}

void pp_picture_shift(pp_text *out, const pp_correction *c)
{
    const pp_nominal *n = c->next;
    pp_place_frame f = pp_place_frame_fit(n->count, n->x, n->y, PICTURE);
    size_t step = 1 + (n->count - 1) / ARROWS_MAX;
    double times = c->largest > 0 ? round_number(60 / f.scale / c->largest) : 1;
    pp_places_open(out, &f,
                   "Arrows from each hole of the drawing to where the machine is sent, "
                   "enlarged");
    pp_places_dots(out, &f, n->count, n->x, n->y, 20000);
    for (size_t i = 0; i < n->count; i += step)
        if (c->shift_x[i] != 0 || c->shift_y[i] != 0)
            pp_places_arrow(out, &f, n->x[i], n->y[i], c->shift_x[i], c->shift_y[i], times);
    size_t far = c->largest_hole;
    if (c->largest > 0) pp_places_ring(out, &f, n->x[far], n->y[far], n->name[far]);
    pp_places_close(out);
    pp_text_add(out, "<p class=\"note\">Arrows are enlarged ");
    pp_text_add_number(out, times);
    pp_text_print(out, " times%s; the ring: the largest shift.</p>\n",
                  step > 1 ? ", and not every hole has one" : "");
}

/* ---- a term ---- */

typedef struct strip {
    double low, high, left, right, top, bottom;
    size_t places;
} strip;

static double across(const strip *s, size_t i)
{
    return s->left + (s->right - s->left) * ((double)i + 0.5) / (double)s->places;
}

static double up(const strip *s, double value)
{
    return s->bottom - (s->bottom - s->top) * (value - s->low) / (s->high - s->low);
}

static void widen(strip *s, double low, double high)
{
    if (low < s->low) s->low = low;
    if (high > s->high) s->high = high;
}

static void error_bar(pp_text *out, const strip *s, size_t i, double value, double half,
                      bool expected)
{
    double x = across(s, i), y = up(s, value);
    pp_draw_line(out, x, up(s, value - half), x, up(s, value + half),
                 expected ? "stroke=\"#1b1f24\" stroke-width=\"1.6\" stroke-dasharray=\"4 3\""
                          : "stroke=\"" PP_DRAW_BLUE "\" stroke-width=\"1.6\"");
    if (expected) {
        pp_draw_number(out,
                       "<rect width=\"9\" height=\"9\" fill=\"#fff\" stroke=\"#1b1f24\" "
                       "stroke-width=\"1.8\" x=\"",
                       x - 4.5, "\"");
        pp_draw_number(out, " y=\"", y - 4.5, "\"/>\n");
        return;
    }
    pp_draw_number(out, "<circle r=\"4\" fill=\"" PP_DRAW_BLUE "\" cx=\"", x, "\"");
    pp_draw_number(out, " cy=\"", y, "\"/>\n");
}

/* Half of the 95 % interval of the next plate. */
static double next_half(const pp_correction *c, int k)
{
    const pp_learned_term *t = &c->terms[k];
    double n = (double)c->plate_count, gauge = c->series[k].gauge;
    if (c->plate_count < 2) return NAN;
    return pp_student_quantile(P95, n - 1) * sqrt(t->variance * (1 + 1 / n) + gauge * gauge);
}

void pp_picture_term(pp_text *out, const pp_correction *c, int k)
{
    const pp_term_series *series = &c->series[k];
    const pp_learned_term *t = &c->terms[k];
    double scale, half = next_half(c, k);
    int decimals;
    const char *unit = pp_term_unit(k, &scale, &decimals);
    strip s = {0, 0, 62, 340, 14, 140, c->plate_count + 1};
    for (size_t p = 0; p < c->plate_count; p++) {
        double wide = 1.96 * series->standard_error[p];
        widen(&s, series->value[p] - wide, series->value[p] + wide);
    }
    if (!isnan(half)) widen(&s, t->mean - half, t->mean + half);
    double margin = 0.06 * (s.high - s.low);
    widen(&s, s.low - margin, s.high + margin);
    pp_text_print(out,
                  "<figure><figcaption>%s, %s</figcaption><svg class=\"chart\" viewBox=\"0 0 350 "
                  "165\" role=\"img\" fill=\"#1b1f24\" aria-label=\"%s of each plate\">\n",
                  pp_static_names[k], unit, pp_static_names[k]);
    pp_draw_line(out, s.left, up(&s, 0), s.right, up(&s, 0), "stroke=\"" PP_DRAW_SOFT "\"");
    if (t->applied != 0) {
        pp_draw_line(out, s.left, up(&s, t->applied), s.right, up(&s, t->applied),
                     "stroke=\"" PP_DRAW_RED "\" stroke-width=\"2\" stroke-dasharray=\"7 4\"");
        pp_draw_value(out, s.left - 5, up(&s, t->applied) + 4, "end", scale * t->applied, decimals);
    }
    if (t->applied == 0 || fabs(up(&s, 0) - up(&s, t->applied)) > 13)
        pp_draw_label(out, s.left - 5, up(&s, 0) + 4, "end", "0");
    for (size_t p = 0; p < c->plate_count; p++)
        error_bar(out, &s, p, series->value[p], 1.96 * series->standard_error[p], false);
    if (!isnan(half)) error_bar(out, &s, c->plate_count, t->mean, half, true);
    pp_draw_label(out, across(&s, 0), 158, "middle", "first");
    if (!isnan(half)) pp_draw_label(out, across(&s, c->plate_count), 158, "middle", "next");
    pp_text_add(out, "</svg></figure>\n");
}

/* ---- plates left out ---- */

void pp_picture_left_out(pp_text *out, const pp_correction *c)
{
    strip s = {0, 0, 70, 700, 16, 150, c->left_out_count};
    for (size_t p = 0; p < c->left_out_count; p++)
        widen(&s, 0, fmax(c->left_out[p].rms_before, c->left_out[p].rms_after));
    s.high *= 1.08;
    pp_text_add(out,
                "<div class=\"scroll\" tabindex=\"0\"><svg viewBox=\"0 0 720 180\" "
                "width=\"720\" height=\"180\" role=\"img\" fill=\"#1b1f24\" aria-label=\"rms of "
                "each plate, before and after correction by the others\">\n");
    pp_draw_line(out, s.left, s.bottom, s.right, s.bottom, "stroke=\"" PP_DRAW_SOFT "\"");
    pp_draw_label(out, s.left - 6, s.bottom + 4, "end", "0 mm");
    pp_draw_value(out, s.left - 6, up(&s, s.high / 1.08) + 4, "end", s.high / 1.08, 4);
    for (size_t p = 0; p < c->left_out_count; p++) {
        double x = across(&s, p), from = up(&s, c->left_out[p].rms_before),
               to = up(&s, c->left_out[p].rms_after);
        pp_draw_line(out, x, from, x, to, "stroke=\"" PP_DRAW_SOFT "\" stroke-width=\"1.6\"");
        pp_draw_number(out,
                       "<circle r=\"5\" fill=\"#fff\" stroke=\"" PP_DRAW_SOFT
                       "\" stroke-width=\"2\" cx=\"",
                       x, "\"");
        pp_draw_number(out, " cy=\"", from, "\"/>");
        pp_draw_number(out, "<circle r=\"5\" fill=\"" PP_DRAW_BLUE "\" cx=\"", x, "\"");
        pp_draw_number(out, " cy=\"", to, "\"/>\n");
        const pp_kept_report *r = &c->plates[p].report;
        if (c->left_out_count <= 10)
            pp_draw_label(out, x, 170, "middle", r->plate_id[0] ? r->plate_id : r->serial);
    }
    pp_text_add(out,
                "</svg></div>\n<p class=\"note\">Hollow: as it was drilled; filled: had it been "
                "corrected by what the other plates say.</p>\n");
}

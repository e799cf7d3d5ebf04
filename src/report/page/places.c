#include "report/page/places.h"

#include <math.h>

#include "report/page/markup.h"

enum { MARGIN = 22, MARK = 6, ARROW_HEAD_MIN = 3 };

static double px(const pp_place_frame *f, double x) { return (x - f->x0) * f->scale; }
static double py(const pp_place_frame *f, double y) { return (f->y0 - y) * f->scale; }

static void number(pp_text *out, const char *before, double value, const char *behind)
{
    pp_text_add(out, before);
    pp_text_add_fixed(out, value, 1);
    pp_text_add(out, behind);
}

pp_place_frame pp_place_frame_fit(size_t count, const double *x, const double *y, double pixels)
{
    double low_x = INFINITY, high_x = -INFINITY, low_y = INFINITY, high_y = -INFINITY;
    for (size_t i = 0; i < count; i++) {
        low_x = fmin(low_x, x[i]), high_x = fmax(high_x, x[i]);
        low_y = fmin(low_y, y[i]), high_y = fmax(high_y, y[i]);
    }
    if (!(high_x >= low_x)) low_x = high_x = low_y = high_y = 0;
    double width = high_x - low_x, height = high_y - low_y, longest = fmax(width, height);
    pp_place_frame f = {.scale = longest > 0 ? (pixels - 2 * MARGIN) / longest : 1};
    f.x0 = low_x - MARGIN / f.scale, f.y0 = high_y + MARGIN / f.scale;
    f.width = width * f.scale + 2 * MARGIN, f.height = height * f.scale + 2 * MARGIN;
    return f;
}

void pp_places_open(pp_text *out, const pp_place_frame *f, const char *label)
{
    pp_text_add(out, "<svg class=\"still\" role=\"img\" fill=\"#1b1f24\" aria-label=\"");
    pp_markup_add(out, label);
    number(out, "\" viewBox=\"0 0 ", f->width, " ");
    number(out, "", f->height, "\">\n");
}

void pp_places_close(pp_text *out) { pp_text_add(out, "</svg>\n"); }

void pp_places_dots(pp_text *out, const pp_place_frame *f, size_t count, const double *x,
                    const double *y, size_t most)
{
    size_t step = count > most ? (count + most - 1) / most : 1;
    pp_text_add(out, "<path fill=\"none\" stroke=\"#b8c0c8\" stroke-linecap=\"round\" "
                     "stroke-width=\"3\" d=\"");
    for (size_t i = 0; i < count; i += step) {
        if (isnan(x[i] + y[i])) continue;
        number(out, "M", px(f, x[i]), " ");
        number(out, "", py(f, y[i]), "h0");
    }
    pp_text_add(out, "\"/>\n");
}

/* ---- marks ---- */

static const struct {
    const char *look, *path; /* the path about 0, 0, of half a side of 6 */
} MARKS[PP_MARK_KINDS] = {
    [PP_MARK_CROSSED_SQUARE] = {"fill=\"#d55e00\" stroke=\"#3d1a00\" stroke-width=\"1.3\"",
                                "M-6-6h12v12h-12zM-6-6l12 12M6-6l-12 12"},
    [PP_MARK_DOWN] = {"fill=\"#d55e00\" stroke=\"#3d1a00\" stroke-width=\"1.3\"",
                      "M-7-5h14l-7 12z"},
    [PP_MARK_DIAMOND] = {"fill=\"#fff\" stroke=\"#1b1f24\" stroke-width=\"1.8\"",
                         "M0-7l7 7-7 7-7-7z"},
    [PP_MARK_UP] = {"fill=\"#0072b2\" stroke=\"#00283f\" stroke-width=\"1.3\"", "M-7 5h14l-7-12z"},
    [PP_MARK_DISC] = {"fill=\"#009e73\" stroke=\"#003b2b\" stroke-width=\"1.3\"",
                      "M-6 0a6 6 0 1 1 12 0a6 6 0 1 1-12 0z"},
    [PP_MARK_RING] = {"fill=\"none\" stroke=\"#9a4b7c\" stroke-width=\"2\" "
                      "stroke-dasharray=\"3 2\"",
                      "M-6 0a6 6 0 1 1 12 0a6 6 0 1 1-12 0z"},
};

static void add_mark(pp_text *out, pp_place_mark mark, double x, double y, const char *title)
{
    pp_text_print(out, "<path %s d=\"%s\"", MARKS[mark].look, MARKS[mark].path);
    number(out, " transform=\"translate(", x, " ");
    number(out, "", y, title ? ")\"><title>" : ")\"/>");
    if (!title) return;
    pp_markup_add(out, title);
    pp_text_add(out, "</title></path>\n");
}

void pp_places_mark(pp_text *out, const pp_place_frame *f, pp_place_mark mark, double x, double y,
                    const char *title)
{
    add_mark(out, mark, px(f, x), py(f, y), title);
}

void pp_places_key(pp_text *out, pp_place_mark mark)
{
    pp_text_add(out, "<svg class=\"mark\" viewBox=\"0 0 20 20\" aria-hidden=\"true\">");
    add_mark(out, mark, 10, 10, NULL);
    pp_text_add(out, "</svg>");
}

/* ---- arrows and amounts ---- */

void pp_places_arrow(pp_text *out, const pp_place_frame *f, double x, double y, double dx,
                     double dy, double times)
{
    double ax = px(f, x), ay = py(f, y), ux = dx * times * f->scale, uy = -dy * times * f->scale;
    double length = hypot(ux, uy);
    number(out, "<path fill=\"none\" stroke=\"#0072b2\" stroke-width=\"1.4\" d=\"M", ax, " ");
    number(out, "", ay, "l");
    number(out, "", ux, " ");
    number(out, "", uy, "");
    if (length >= ARROW_HEAD_MIN) { /* two short strokes back from the tip */
        double head = fmin(6, 0.45 * length), ex = ux / length * head, ey = uy / length * head;
        number(out, "l", -ex + 0.5 * ey, " ");
        number(out, "", -ey - 0.5 * ex, "m");
        number(out, "", ex - 0.5 * ey, " ");
        number(out, "", ey + 0.5 * ex, "l");
        number(out, "", -ex - 0.5 * ey, " ");
        number(out, "", -ey + 0.5 * ex, "");
    }
    pp_text_add(out, "\"/>\n");
}

void pp_places_amount(pp_text *out, const pp_place_frame *f, double x, double y, double share,
                      double room, bool up)
{
    number(out, "<circle cx=\"", px(f, x), "\"");
    number(out, " cy=\"", py(f, y), "\"");
    number(out, " r=\"", fmax(0.6, sqrt(fmin(1, share)) * room), "\"");
    pp_text_add(out, up ? " fill=\"#0072b2\"/>\n"
                        : " fill=\"#fff\" stroke=\"#d55e00\" stroke-width=\"1.5\"/>\n");
}

void pp_places_ring(pp_text *out, const pp_place_frame *f, double x, double y, const char *word)
{
    double at = px(f, x), across = py(f, y);
    number(out, "<circle r=\"11\" fill=\"none\" stroke=\"#1b1f24\" stroke-width=\"2\" cx=\"", at,
           "\"");
    number(out, " cy=\"", across, "\"/>");
    number(out,
           "<text font-size=\"15\" font-weight=\"700\" stroke=\"#fff\" stroke-width=\"4\" "
           "paint-order=\"stroke\" x=\"",
           at > f->width - 90 ? at - 15 : at + 15, "\"");
    number(out, " y=\"", across < 30 ? across + 20 : across - 9,
           at > f->width - 90 ? "\" text-anchor=\"end\">" : "\">");
    pp_markup_add(out, word);
    pp_text_add(out, "</text>\n");
}

/* What the diagnosis says, and a small picture where a pattern was found without a cause. */
#include <math.h>

#include "answer/for_people.h"
#include "report/page/html_parts.h"
#include "report/page/markup.h"

enum { WIDTH = 380, HEIGHT = 220, LEFT = 52, RIGHT = 12, TOP = 14, BOTTOM = 36 };

static void list_statements(pp_text *out, const pp_diagnosis *d, pp_statement_kind first,
                            pp_statement_kind last, const char *class)
{
    pp_text_print(out, "<ul class=\"%s\">\n", class);
    for (size_t i = 0; i < d->statement_count; i++) {
        if (d->statements[i].kind < first || d->statements[i].kind > last) continue;
        pp_text_add(out, "<li>");
        pp_markup_add(out, d->statements[i].text);
        pp_text_add(out, "</li>\n");
    }
    pp_text_add(out, "</ul>\n");
}

static size_t count_statements(const pp_diagnosis *d, pp_statement_kind first,
                               pp_statement_kind last)
{
    size_t count = 0;
    for (size_t i = 0; i < d->statement_count; i++)
        count += d->statements[i].kind >= first && d->statements[i].kind <= last;
    return count;
}

/* ---- the picture ---- */

typedef struct frame {
    double from, to, most; /* across; up: -most .. most, mm */
} frame;

static double largest_mean(const pp_mean_error *m, size_t count)
{
    double most = 0;
    for (size_t i = 0; i < count; i++) most = fmax(most, fmax(fabs(m[i].x), fabs(m[i].y)));
    return most > 0 ? most : 1e-3;
}

static void point(pp_text *out, double x, double y)
{
    pp_text_add_fixed(out, x, 1);
    pp_text_add(out, " ");
    pp_text_add_fixed(out, y, 1);
}

static double across(const frame *f, double at)
{
    double width = f->to > f->from ? f->to - f->from : 1;
    return LEFT + (at - f->from) / width * (WIDTH - LEFT - RIGHT);
}

static double up(const frame *f, double value)
{
    double middle = 0.5 * (TOP + HEIGHT - BOTTOM), half = 0.5 * (HEIGHT - BOTTOM - TOP);
    return middle - value / f->most * half;
}

static void draw_line(pp_text *out, const frame *f, const pp_diagnosis *d, int axis)
{
    pp_text_print(out, "<path class=\"mean-%c\" d=\"", axis ? 'y' : 'x');
    for (size_t i = 0; i < d->order_mean_count; i++) {
        const pp_mean_error *m = &d->order_means[i];
        pp_text_add(out, i ? "L" : "M");
        point(out, across(f, m->at_x), up(f, axis ? m->y : m->x));
    }
    pp_text_add(out, "\"/>\n");
}

static void label(pp_text *out, const char *anchor, double x, double y)
{
    pp_text_print(out, "<text class=\"tick\" text-anchor=\"%s\" x=\"", anchor);
    pp_text_add_fixed(out, x, 1);
    pp_text_add(out, "\" y=\"");
    pp_text_add_fixed(out, y, 1);
    pp_text_add(out, "\">");
}

static void draw_order(pp_text *out, const pp_results *r)
{
    const pp_diagnosis *d = r->diagnosis;
    frame f = {.from = d->order_means[0].at_x,
               .to = d->order_means[d->order_mean_count - 1].at_x,
               .most = largest_mean(d->order_means, d->order_mean_count)};
    pp_length_unit units = r->job->units;
    pp_text_print(out,
                  "<figure class=\"pattern\"><figcaption>Mean errors along the drilling order: x "
                  "full, y dashed</figcaption>\n<svg class=\"chart\" role=\"img\" "
                  "aria-label=\"Mean errors along the drilling order\" viewBox=\"0 0 %d %d\">\n",
                  WIDTH, HEIGHT);
    pp_text_print(out, "<path class=\"axis\" d=\"M%d %.1fH%d\"/>\n", LEFT, up(&f, 0),
                  WIDTH - RIGHT);
    draw_line(out, &f, d, 0);
    draw_line(out, &f, d, 1);
    for (int side = 1; side >= -1; side -= 2) {
        label(out, "end", LEFT - 4, up(&f, side * f.most) + (side > 0 ? 10 : 0));
        pp_text_add(out, side > 0 ? "+" : "\xe2\x88\x92");
        pp_people_number(out, units, f.most, pp_people_decimals(units, f.most, NAN));
        pp_text_add(out, "</text>");
    }
    label(out, "middle", 0.5 * (LEFT + WIDTH - RIGHT), HEIGHT - 8);
    pp_text_print(out, "place in the order, 1 to %zu; errors in %s</text>\n", d->holes,
                  pp_people_unit(units));
    pp_text_add(out, "</svg></figure>\n");
}

/* Arrows of the cells' means: the longest is as long as a cell is wide. */
static void draw_cells(pp_text *out, const pp_results *r)
{
    enum { SIDE = 260, MARGIN = 24, CELLS = 8 };
    const pp_diagnosis *d = r->diagnosis;
    double low[2] = {INFINITY, INFINITY}, high[2] = {-INFINITY, -INFINITY}, longest = 0;
    for (size_t i = 0; i < d->cell_mean_count; i++) {
        const pp_mean_error *m = &d->cell_means[i];
        low[0] = fmin(low[0], m->at_x), high[0] = fmax(high[0], m->at_x);
        low[1] = fmin(low[1], m->at_y), high[1] = fmax(high[1], m->at_y);
        longest = fmax(longest, hypot(m->x, m->y));
    }
    double extent = fmax(fmax(high[0] - low[0], high[1] - low[1]), 1e-9);
    double scale = (SIDE - 2 * MARGIN) / extent;
    double stretch = longest > 0 ? (double)(SIDE - 2 * MARGIN) / CELLS / longest : 0;
    pp_text_print(out,
                  "<figure class=\"pattern\"><figcaption>Mean errors by place on the plate, the "
                  "longest ");
    pp_people_length(out, r->job->units, longest);
    pp_text_print(out,
                  "</figcaption>\n<svg class=\"chart\" role=\"img\" aria-label=\"Mean errors by "
                  "place on the plate\" viewBox=\"0 0 %d %d\">\n",
                  SIDE, SIDE);
    for (size_t i = 0; i < d->cell_mean_count; i++) {
        const pp_mean_error *m = &d->cell_means[i];
        double x = MARGIN + (m->at_x - low[0]) * scale, y = MARGIN + (high[1] - m->at_y) * scale;
        double dx = m->x * stretch, dy = -m->y * stretch;
        pp_text_add(out, "<path class=\"mean-x\" d=\"M");
        point(out, x, y);
        pp_text_add(out, "l");
        point(out, dx, dy);
        pp_text_add(out, "m"); /* the head: two short strokes back */
        point(out, -0.3 * dx + 0.15 * dy, -0.3 * dy - 0.15 * dx);
        pp_text_add(out, "l");
        point(out, 0.3 * dx - 0.15 * dy, 0.3 * dy + 0.15 * dx);
        pp_text_add(out, "l");
        point(out, -0.3 * dx - 0.15 * dy, -0.3 * dy + 0.15 * dx);
        pp_text_add(out, "\"/>\n");
    }
    pp_text_add(out, "</svg></figure>\n");
}

static void draw_pictures(pp_text *out, const pp_results *r)
{
    const pp_diagnosis *d = r->diagnosis;
    bool place = d->left_place.left || d->left_cells.left || d->order_mean_count < 2;
    pp_text_add(out, "<div class=\"patterns\">\n");
    if (d->order_mean_count > 1) draw_order(out, r);
    if (place && d->cell_mean_count > 1) draw_cells(out, r);
    pp_text_add(out, "</div>\n");
}

/* ---- the section ---- */

void pp_html_statements(pp_text *out, const pp_results *r)
{
    const pp_diagnosis *d = r->diagnosis;
    list_statements(out, d, PP_SAYS_CAUSE, PP_SAYS_CAUSE, "causes");
    if (count_statements(d, PP_SAYS_UNCLEAR, PP_SAYS_STRUCTURE)) {
        pp_text_add(out, "<h3>Pattern found, cause unclear</h3>\n");
        list_statements(out, d, PP_SAYS_UNCLEAR, PP_SAYS_STRUCTURE, "unclear");
        draw_pictures(out, r);
    } else if (!count_statements(d, PP_SAYS_CAUSE, PP_SAYS_CAUSE)) {
        pp_text_add(out, "<p>No systematic cause that matters was found in the positions.</p>\n");
    }
    if (!count_statements(d, PP_SAYS_INFORMATION, PP_SAYS_INFORMATION)) return;
    pp_text_add(out, "<h3>For information</h3>\n");
    list_statements(out, d, PP_SAYS_INFORMATION, PP_SAYS_INFORMATION, "information");
}

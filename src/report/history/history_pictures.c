#include "report/history/history_pictures.h"

#include <math.h>
#include <stdio.h>

#include "report/history/answers.h"
#include "report/page/drawing.h"
#include "report/page/markup.h"

enum {
    WIDTH = 900,
    LEFT = 78,
    RIGHT = 20,
    DATES_SHOWN = 6,
    EARLIER_MAX = 400,
    TICKS_TALL = 6,
    TICKS_LOW = 3
};
static const double P95 = 1.96;

#define RINGED "fill=\"none\" stroke=\"" PP_DRAW_RED "\" stroke-width=\"2\""
#define HINTED                                                                                     \
    "fill=\"none\" stroke=\"" PP_DRAW_INK "\" stroke-width=\"1.4\" stroke-dasharray=\"2 2\""
#define LIMIT_LOOK "stroke=\"" PP_DRAW_RED "\" stroke-width=\"1.4\" stroke-dasharray=\"7 5\""
#define CENTRE_LOOK "stroke=\"" PP_DRAW_SOFT "\" stroke-width=\"1.4\""
#define FILLED "fill=\"" PP_DRAW_BLUE "\""
#define HOLLOW "fill=\"#fff\" stroke=\"" PP_DRAW_SOFT "\" stroke-width=\"1.4\""

typedef struct frame { /* of one panel */
    double low, high;  /* of the values */
    double top, bottom;
    size_t places;
    const char *unit;
} frame;

static double across(const frame *f, size_t i)
{
    double last = f->places > 1 ? (double)(f->places - 1) : 1;
    return LEFT + 8 + (WIDTH - LEFT - RIGHT - 16) * (double)i / last;
}

static double up(const frame *f, double value)
{
    return f->top + (f->bottom - f->top) * (f->high - value) / (f->high - f->low);
}

static void include(frame *f, double value)
{
    if (isnan(value)) return;
    f->low = fmin(f->low, value), f->high = fmax(f->high, value);
}

static void give_margin(frame *f)
{
    double margin = 0.06 * (f->high - f->low);
    if (!(margin > 0)) margin = fmax(fabs(f->high), 1) * 0.01;
    f->low -= margin, f->high += margin;
}

static void level(pp_text *out, const frame *f, double value, const char *look)
{
    pp_draw_line(out, LEFT, up(f, value), WIDTH - RIGHT, up(f, value), look);
}

/* The first step of 1, 2, 5 times a power of ten that parts `span` into at most `parts`; the
 * decimals it needs. */
static double round_step(double span, int parts, int *decimals)
{
    static const double STEPS[] = {1, 2, 5, 10};
    int power = (int)floor(log10(span / parts)), k = 0;
    while (k < 3 && STEPS[k] * pow(10, power) * parts < span * (1 - 1e-9)) k++;
    if (k == 3) power++, k = 0;
    *decimals = power < 0 ? -power : 0;
    return STEPS[k] * pow(10, power);
}

/* Round numbers at the left, in the unit people read, all with as many decimals. The exact limits
 * stand in words beside the picture. */
static void ticks(pp_text *out, const frame *f, int parts)
{
    double scale = pp_history_scale(f->unit), low = f->low * scale, high = f->high * scale;
    int decimals;
    if (!(high > low)) return;
    double step = round_step(high - low, parts, &decimals);
    for (double k = ceil(low / step - 1e-9); k * step <= high + 1e-9 * step; k++) {
        double y = up(f, k * step / scale);
        pp_draw_line(out, LEFT - 4, y, LEFT, y, CENTRE_LOOK);
        pp_draw_value(out, LEFT - 7, y + 4, "end", k == 0 ? 0 : k * step, decimals);
    }
    pp_draw_line(out, LEFT, f->top, LEFT, f->bottom, CENTRE_LOOK);
}

static void polyline(pp_text *out, const frame *f, size_t first, size_t count, const double *value)
{
    pp_text_add(out, "<polyline fill=\"none\" stroke=\"" PP_DRAW_BLUE
                     "\" stroke-width=\"1.4\" points=\"");
    for (size_t i = 0; i < count; i++) {
        pp_draw_number(out, "", across(f, first + i), ",");
        pp_draw_number(out, "", up(f, value[i]), " ");
    }
    pp_text_add(out, "\"/>\n");
}

static void point(pp_text *out, const frame *f, size_t i, double value, const pp_history_row *row,
                  bool earlier)
{
    pp_draw_disc(out, across(f, i), up(f, value), f->places > 200 ? 2 : 3.2,
                 earlier ? HOLLOW : FILLED, true);
    pp_text_add(out, "<title>");
    pp_markup_add(out, row->label);
    pp_text_add(out, ", ");
    pp_markup_add(out, row->date);
    pp_text_add(out, ": ");
    pp_history_number(out, value, f->unit);
    pp_text_add(out, "</title></circle>\n");
}

static void number_beside(pp_text *out, const frame *f, double x, double y, size_t number)
{
    char word[24];
    snprintf(word, sizeof word, "%zu", number);
    pp_draw_label(out, x, y < f->top + 20 ? y + 22 : y - 11, "middle", word);
}

static void dates(pp_text *out, const frame *f, const pp_history_row *rows, size_t first,
                  size_t count, double y)
{
    static const double WIDE = 76; /* of a date and the room beside it */
    size_t step = count > DATES_SHOWN ? (count + DATES_SHOWN - 1) / DATES_SHOWN : 1;
    double free = INFINITY; /* left of the date before, from the latest on */
    for (size_t i = count; i-- > 0;) {
        if ((count - 1 - i) % step) continue;
        double x = across(f, first + i);
        bool at_left = x<LEFT + 40, at_right = x> WIDTH - RIGHT - 40;
        double left = at_left ? x : x - (at_right ? WIDE : WIDE / 2);
        if (left + WIDE > free) continue;
        free = left;
        pp_draw_label(out, x, y, at_left ? "start" : at_right ? "end" : "middle", rows[i].date);
    }
}

/* ---- individuals and moving ranges ---- */

typedef struct charted {
    const pp_chart_answer *a;
    size_t earlier; /* points before the last event that are shown */
    frame values, ranges;
} charted;

static charted lay_out(const pp_chart_answer *a)
{
    charted c = {.a = a,
                 .earlier = a->earlier_count < EARLIER_MAX ? a->earlier_count : EARLIER_MAX};
    size_t places = c.earlier + a->rows.count;
    c.values = (frame){a->chart.lower, a->chart.upper, 26, 210, places, a->rows.unit};
    c.ranges = (frame){0, a->chart.range_upper, 236, 318, places, a->rows.unit};
    for (size_t i = 0; i < a->rows.count; i++) {
        double u = a->rows.rows[i].u;
        include(&c.values, a->value[i]);
        if (!isnan(u)) include(&c.values, a->value[i] - P95 * u);
        if (!isnan(u)) include(&c.values, a->value[i] + P95 * u);
        if (i) include(&c.ranges, fabs(a->value[i] - a->value[i - 1]));
    }
    const pp_history_row *old = a->earlier + (a->earlier_count - c.earlier);
    for (size_t i = 0; i < c.earlier; i++) include(&c.values, old[i].value);
    give_margin(&c.values);
    c.ranges.high += 0.06 * c.ranges.high;
    if (!(c.ranges.high > 0)) c.ranges.high = 1;
    return c;
}

static void draw_earlier(pp_text *out, const charted *c)
{
    if (!c->earlier) return;
    const pp_history_row *old = c->a->earlier + (c->a->earlier_count - c->earlier);
    for (size_t i = 0; i < c->earlier; i++) point(out, &c->values, i, old[i].value, &old[i], true);
    double x = 0.5 * (across(&c->values, c->earlier - 1) + across(&c->values, c->earlier));
    pp_draw_line(out, x, 16, x, c->ranges.bottom,
                 "stroke=\"" PP_DRAW_INK "\" stroke-width=\"1.6\"");
    if (!c->a->rows.event) return;
    bool right = x < 0.5 * WIDTH;
    pp_draw_label(out, right ? x + 5 : x - 5, 14, right ? "start" : "end", c->a->rows.event->text);
}

static void draw_values(pp_text *out, const charted *c)
{
    const pp_chart_answer *a = c->a;
    ticks(out, &c->values, TICKS_TALL);
    level(out, &c->values, a->chart.upper, LIMIT_LOOK);
    level(out, &c->values, a->chart.centre, CENTRE_LOOK);
    level(out, &c->values, a->chart.lower, LIMIT_LOOK);
    polyline(out, &c->values, c->earlier, a->rows.count, a->value);
    for (size_t i = 0; i < a->rows.count; i++) {
        double u = a->rows.rows[i].u, x = across(&c->values, c->earlier + i);
        if (!isnan(u) && a->rows.count <= 200)
            pp_draw_line(out, x, up(&c->values, a->value[i] - P95 * u), x,
                         up(&c->values, a->value[i] + P95 * u),
                         "stroke=\"" PP_DRAW_BLUE "\" stroke-opacity=\".6\"");
        point(out, &c->values, c->earlier + i, a->value[i], &a->rows.rows[i], false);
    }
}

static void draw_signals(pp_text *out, const charted *c)
{
    const pp_individuals *chart = &c->a->chart;
    for (int rule = 1; rule < PP_RUN_RULES; rule++)
        for (size_t k = 0; k < chart->found[rule].count; k++) {
            size_t i = chart->found[rule].points[k] - 1;
            pp_draw_disc(out, across(&c->values, c->earlier + i), up(&c->values, c->a->value[i]), 6,
                         HINTED, false);
        }
    for (size_t k = 0; k < chart->found[0].count; k++) {
        size_t i = chart->found[0].points[k] - 1;
        double x = across(&c->values, c->earlier + i), y = up(&c->values, c->a->value[i]);
        pp_draw_disc(out, x, y, 8, RINGED, false);
        number_beside(out, &c->values, x, y, k + 1);
    }
}

static void draw_ranges(pp_text *out, const charted *c)
{
    const pp_chart_answer *a = c->a;
    const pp_point_list *beyond = &a->chart.range_beyond;
    ticks(out, &c->ranges, TICKS_LOW);
    level(out, &c->ranges, a->chart.range_upper, LIMIT_LOOK);
    level(out, &c->ranges, a->chart.range_centre, CENTRE_LOOK);
    pp_text_add(out, "<polyline fill=\"none\" stroke=\"" PP_DRAW_SOFT
                     "\" stroke-width=\"1.4\" points=\"");
    for (size_t i = 1; i < a->rows.count; i++) {
        pp_draw_number(out, "", across(&c->ranges, c->earlier + i), ",");
        pp_draw_number(out, "", up(&c->ranges, fabs(a->value[i] - a->value[i - 1])), " ");
    }
    pp_text_add(out, "\"/>\n");
    for (size_t k = 0; k < beyond->count; k++) {
        size_t i = beyond->points[k] - 1;
        if (i == 0) continue;
        pp_draw_disc(out, across(&c->ranges, c->earlier + i),
                     up(&c->ranges, fabs(a->value[i] - a->value[i - 1])), 6, HINTED, false);
    }
    pp_draw_label(out, LEFT + 4, c->ranges.top - 4, "start", "moving range");
}

void pp_picture_chart(pp_text *out, const pp_chart_answer *a)
{
    charted c = lay_out(a);
    char label[200];
    snprintf(label, sizeof label, "%.100s, %zu plates, %zu beyond the limits; below, moving ranges",
             a->figure, a->rows.count, a->chart.found[0].count);
    pp_draw_open(out, WIDTH, 345, label);
    draw_earlier(out, &c);
    draw_values(out, &c);
    draw_signals(out, &c);
    draw_ranges(out, &c);
    dates(out, &c.values, a->rows.rows, c.earlier, a->rows.count, 338);
    pp_draw_close(out);
}

/* ---- shares ---- */

static void limit_steps(pp_text *out, const frame *f, const double *limit, const char *look)
{
    pp_text_add(out, "<path fill=\"none\" d=\"");
    double half = f->places > 1 ? 0.5 * (across(f, 1) - across(f, 0)) : 20;
    for (size_t i = 0; i < f->places; i++) {
        pp_draw_number(out, i ? "V" : "M", i ? up(f, limit[i]) : across(f, 0) - half, i ? "" : " ");
        if (!i) pp_draw_number(out, "", up(f, limit[0]), "");
        pp_draw_number(out, "H", across(f, i) + half, "");
    }
    pp_text_print(out, "\" %s/>\n", look);
}

void pp_picture_shares(pp_text *out, const pp_share_answer *a)
{
    const pp_shares *s = &a->chart;
    frame f = {0, 0, 16, 210, a->rows.count, NULL};
    char label[200];
    for (size_t i = 0; i < a->rows.count; i++) include(&f, s->share[i]), include(&f, s->upper[i]);
    f.high *= 1.06;
    if (!(f.high > 0)) f.high = 1;
    snprintf(label, sizeof label, "%.100s as shares of %zu plates, %zu beyond the limits",
             a->figure, a->rows.count, s->beyond.count);
    pp_draw_open(out, WIDTH, 240, label);
    ticks(out, &f, TICKS_TALL);
    level(out, &f, s->centre, CENTRE_LOOK);
    level(out, &f, 0, CENTRE_LOOK);
    limit_steps(out, &f, s->upper, LIMIT_LOOK);
    limit_steps(out, &f, s->lower, LIMIT_LOOK);
    if (s->widened) { /* what chance alone would allow, thin beside them */
        limit_steps(out, &f, s->binomial_upper,
                    "stroke=\"" PP_DRAW_SOFT "\" stroke-dasharray=\"2 3\"");
        limit_steps(out, &f, s->binomial_lower,
                    "stroke=\"" PP_DRAW_SOFT "\" stroke-dasharray=\"2 3\"");
    }
    polyline(out, &f, 0, a->rows.count, s->share);
    for (size_t i = 0; i < a->rows.count; i++)
        point(out, &f, i, s->share[i], &a->rows.rows[i], false);
    for (size_t k = 0; k < s->beyond.count; k++) {
        size_t i = s->beyond.points[k] - 1;
        double x = across(&f, i), y = up(&f, s->share[i]);
        pp_draw_disc(out, x, y, 8, RINGED, false);
        number_beside(out, &f, x, y, k + 1);
    }
    dates(out, &f, a->rows.rows, 0, a->rows.count, 232);
    pp_draw_close(out);
}

/* ---- capability ---- */

void pp_picture_size(pp_text *out, const pp_capability_answer *a)
{
    frame f = {INFINITY, -INFINITY, 16, 210, a->rows.count, "mm"};
    include(&f, a->lower), include(&f, a->upper);
    for (size_t i = 0; i < a->rows.count; i++) {
        const pp_plate_moments *m = &a->moments[i];
        double wide = 2 * sqrt(fmax(0, m->var_diameter));
        if (m->diameters < 2) continue;
        include(&f, m->mean_diameter - wide), include(&f, m->mean_diameter + wide);
    }
    give_margin(&f);
    pp_draw_open(out, WIDTH, 240, "Diameters: each plate's mean with twice its standard deviation");
    ticks(out, &f, TICKS_TALL);
    if (!isnan(a->lower)) level(out, &f, a->lower, LIMIT_LOOK);
    if (!isnan(a->upper)) level(out, &f, a->upper, LIMIT_LOOK);
    level(out, &f, a->size.mean, CENTRE_LOOK);
    for (size_t i = 0; i < a->rows.count; i++) {
        const pp_plate_moments *m = &a->moments[i];
        double wide = 2 * sqrt(fmax(0, m->var_diameter)), x = across(&f, i);
        if (m->diameters < 2) continue;
        pp_draw_line(out, x, up(&f, m->mean_diameter - wide), x, up(&f, m->mean_diameter + wide),
                     "stroke=\"" PP_DRAW_BLUE "\" stroke-width=\"1.6\"");
        point(out, &f, i, m->mean_diameter, &a->rows.rows[i], false);
    }
    dates(out, &f, a->rows.rows, 0, a->rows.count, 232);
    pp_draw_close(out);
}

/* Where 99.73 % of one plate's holes lie, about the mean: sqrt(-2 log .0027) standard deviations.
 */
static void draw_ellipse(pp_text *out, const pp_position_capability *p, double scale, double x,
                         double y)
{
    const double far = 3.4393;
    double middle = 0.5 * (p->var_x + p->var_y), half = 0.5 * (p->var_x - p->var_y);
    double root = hypot(half, p->cov), turn = 0.5 * atan2(p->cov, half) * 57.29577951308232;
    pp_draw_number(out,
                   "<ellipse fill=\"" PP_DRAW_BLUE "\" fill-opacity=\".12\" stroke=\"" PP_DRAW_BLUE
                   "\" stroke-width=\"1.6\" rx=\"",
                   scale * far * sqrt(fmax(0, middle + root)), "\"");
    pp_draw_number(out, " ry=\"", scale * far * sqrt(fmax(0, middle - root)), "\"");
    pp_draw_number(out, " transform=\"translate(", x, " ");
    pp_draw_number(out, "", y, ") rotate(");
    pp_draw_number(out, "", -turn, ")\"/>\n");
}

void pp_picture_position(pp_text *out, const pp_capability_answer *a)
{
    enum { SIZE = 304 }; /* a narrow screen shows it whole */
    const pp_position_capability *p = &a->place;
    double reach = 0.5 * a->limit, most = reach;
    double spread = 3.4393 * sqrt(fmax(p->var_x, p->var_y)) + hypot(p->mean_x, p->mean_y);
    most = fmin(fmax(most, spread), 4 * reach);
    double scale = (0.5 * SIZE - 24) / most, middle = 0.5 * SIZE;
    pp_draw_open(out, SIZE, SIZE,
                 "Positions: the limit's circle, the means of the plates, and the "
                 "ellipse in which nearly all holes lie");
    pp_draw_line(out, 10, middle, SIZE - 10, middle, CENTRE_LOOK);
    pp_draw_line(out, middle, 10, middle, SIZE - 10, CENTRE_LOOK);
    draw_ellipse(out, p, scale, middle + scale * p->mean_x, middle - scale * p->mean_y);
    pp_draw_disc(out, middle, middle, scale * reach, "fill=\"none\" " LIMIT_LOOK, false);
    for (size_t i = 0; i < a->rows.count; i++) {
        const pp_plate_moments *m = &a->moments[i];
        pp_draw_disc(out, middle + scale * m->mean_dx, middle - scale * m->mean_dy, 3.2, FILLED,
                     true);
        pp_text_add(out, "<title>");
        pp_markup_add(out, a->rows.rows[i].label);
        pp_text_add(out, "</title></circle>\n");
    }
    pp_draw_close(out);
}

/* ---- tools ---- */

typedef struct fan {
    frame f;
    double most; /* holes at the right end */
} fan;

static double along(const fan *n, double holes)
{
    return LEFT + (WIDTH - LEFT - RIGHT) * holes / n->most;
}

static void draw_tool(pp_text *out, const fan *n, const pp_tool_row *t)
{
    const pp_tool_line *l = &t->line;
    double from = (double)t->used_before, to = l->last;
    double a = l->level + l->slope * from, b = l->level + l->slope * to;
    pp_draw_line(out, along(n, from), up(&n->f, a), along(n, to), up(&n->f, b),
                 "stroke=\"" PP_DRAW_BLUE "\" stroke-width=\"1.8\"");
    pp_draw_disc(out, along(n, to), up(&n->f, b), 3.2, FILLED, true);
    pp_text_add(out, "<title>");
    pp_markup_add(out, t->tool ? t->tool : "a tool without a name");
    pp_text_add(out, ", ");
    pp_markup_add(out, t->plate);
    pp_text_add(out, "</title></circle>\n");
}

/* An upright line at so many holes, its words below the picture on the given side: "end" is left.
 */
static void mark_life(pp_text *out, const fan *n, double holes, const char *look, const char *words,
                      const char *side)
{
    if (!(holes > 0) || holes > n->most) return;
    char said[48];
    double x = along(n, holes);
    snprintf(said, sizeof said, "%s %.0f", words, floor(holes));
    pp_draw_line(out, x, n->f.top, x, n->f.bottom + 6, look);
    pp_draw_label(out, x, n->f.bottom + 20, side, said);
}

void pp_picture_tools(pp_text *out, const pp_tool_answer *a)
{
    fan n = {{INFINITY, -INFINITY, 16, 210, 1, "mm"}, 1};
    include(&n.f, a->lower), include(&n.f, a->upper);
    for (size_t i = 0; i < a->count; i++) {
        const pp_tool_line *l = &a->tools[i].line;
        n.most = fmax(n.most, l->last);
        include(&n.f, l->level + l->slope * (double)a->tools[i].used_before);
        include(&n.f, l->level + l->slope * l->last);
    }
    double life = a->life.life;
    if (isfinite(life) && life < 3 * n.most) n.most = fmax(n.most, 1.05 * life);
    give_margin(&n.f);
    pp_draw_open(out, WIDTH, 256,
                 "Diameter over the holes a tool has drilled, a line for each tool");
    ticks(out, &n.f, TICKS_TALL);
    if (!isnan(a->lower)) level(out, &n.f, a->lower, LIMIT_LOOK);
    if (!isnan(a->upper)) level(out, &n.f, a->upper, LIMIT_LOOK);
    for (size_t i = 0; i < a->count; i++) draw_tool(out, &n, &a->tools[i]);
    mark_life(out, &n, life, "stroke=\"" PP_DRAW_SOFT "\" stroke-dasharray=\"2 3\"", "life",
              along(&n, life) > 0.9 * WIDTH ? "middle" : "start");
    mark_life(out, &n, a->life.life_sure, "stroke=\"" PP_DRAW_INK "\" stroke-width=\"1.8\"", "sure",
              "end");
    pp_draw_label(out, LEFT, 248, "start", "0 holes");
    pp_draw_value(out, WIDTH - RIGHT, 248, "end", n.most, 0);
    pp_draw_close(out);
}

#include "report/bundle/bundle_pictures.h"

#include <math.h>
#include <stdlib.h>

#include "answer/bundle_summary.h"
#include "answer/for_people.h"
#include "report/page/markup.h"

enum { WIDTH = 900, STRIP = 190, MARGIN = 46, TITLES_MAX = 6000, TICKS = 5 };

/* ---- states ---- */

int pp_bundle_state(const pp_bundle_results *results, size_t tube)
{
    const pp_tube_judgement *j = &results->judgement->tube[tube];
    if (j->verdict == PP_NOT_PROVEN) return 3;
    switch ((pp_pass_class)j->class_) {
    case PP_PASS_STRAIGHT:
        return j->verdict == PP_DOES_NOT_CONFORM ? 4 : 1;
    case PP_PASS_BENDING:
        return 2;
    case PP_PASS_NOT:
        return 4;
    case PP_PASS_NOT_JUDGED:
        break;
    }
    return 0;
}

const char *pp_bundle_state_words(int state)
{
    static const char *const words[PP_BUNDLE_STATES] = {"not judged", "passes straight",
                                                        "passes by bending", "not proven",
                                                        "does not pass, or has a wrong hole"};
    return words[state];
}

/* ---- numbers in SVG ---- */

static void number(pp_text *out, const char *before, double value, const char *after)
{
    pp_text_add(out, before);
    pp_text_add_fixed(out, value, 2);
    pp_text_add(out, after);
}

static void line(pp_text *out, const char *class_, double x1, double y1, double x2, double y2)
{
    pp_text_print(out, "<line class=\"%s\"", class_);
    number(out, " x1=\"", x1, "\"");
    number(out, " y1=\"", y1, "\"");
    number(out, " x2=\"", x2, "\"");
    number(out, " y2=\"", y2, "\"/>");
}

static void word(pp_text *out, double x, double y, const char *anchor, const char *text)
{
    number(out, "<text class=\"tick\" x=\"", x, "\"");
    number(out, " y=\"", y, "\"");
    pp_text_print(out, " text-anchor=\"%s\">", anchor);
    pp_markup_add(out, text);
    pp_text_add(out, "</text>");
}

static void length_word(pp_text *out, pp_length_unit units, double x, double y, const char *anchor,
                        double mm, int decimals)
{
    pp_text piece = {0};
    pp_people_number(&piece, units, mm, decimals);
    word(out, x, y, anchor, piece.length ? piece.data : "");
    if (piece.failed) out->failed = true;
    pp_text_free(&piece);
}

/* ---- (a) the tubes from the front ---- */

static double to_spare(const pp_bundle *bundle, size_t tube)
{
    return bundle->tube[tube].margin - bundle->set->clearance_minimum;
}

double pp_bundle_most_to_spare(const pp_bundle_results *results)
{
    double most = 0;
    for (size_t k = 0; k < results->bundle->mates.tubes.count; k++)
        if (pp_bundle_state(results, k) == 1) most = fmax(most, to_spare(results->bundle, k));
    return most;
}

static int shade_of(const pp_bundle_results *r, size_t tube, double most)
{
    double steps = PP_BUNDLE_SHADES * to_spare(r->bundle, tube) / most;
    return steps > 0 ? (int)fmin(steps, PP_BUNDLE_SHADES - 1) : 0;
}

static void add_tube(pp_text *out, const pp_bundle_results *r, size_t k, double x, double y,
                     double radius, bool titled, double most)
{
    const pp_bundle *s = r->bundle;
    int state = pp_bundle_state(r, k);
    bool window = s->tube[k].plates < s->set->plate_count;
    pp_text_print(out, "<circle class=\"tube t%d%s", state, window ? " window" : "");
    if (state == 1) pp_text_print(out, " m%d", shade_of(r, k, most));
    pp_text_add(out, "\"");
    number(out, " cx=\"", x, "\"");
    number(out, " cy=\"", y, "\"");
    number(out, " r=\"", radius, "\"");
    if (!titled) {
        pp_text_add(out, "/>");
    } else {
        pp_text words = {0};
        pp_bundle_tube_words(&words, r, k);
        pp_text_add(out, "><title>");
        pp_markup_add(out, s->mates.tubes.name[k]);
        pp_text_add(out, ": ");
        pp_markup_add(out, words.length ? words.data : "");
        pp_text_add(out, "</title></circle>");
        if (words.failed) out->failed = true;
        pp_text_free(&words);
    }
    if (state < 2) return; /* a shape beside the colour */
    double d = 0.6 * radius;
    if (state == 4) line(out, "mark", x - d, y - d, x + d, y + d);
    line(out, "mark", x - d, y + d, x + d, y - d);
}

void pp_bundle_map(pp_text *out, const pp_bundle_results *results)
{
    const pp_tube_list *tubes = &results->bundle->mates.tubes;
    double low_x = INFINITY, high_x = -INFINITY, low_y = INFINITY, high_y = -INFINITY;
    double od = results->bundle->largest_diameter;
    for (size_t k = 0; k < tubes->count; k++) {
        low_x = fmin(low_x, tubes->x[k]), high_x = fmax(high_x, tubes->x[k]);
        low_y = fmin(low_y, tubes->y[k]), high_y = fmax(high_y, tubes->y[k]);
    }
    double side = fmax(high_x - low_x, high_y - low_y) + 2 * od, unit = (WIDTH - 20) / side;
    double height = (high_y - low_y + 2 * od) * unit + 20;
    double left = WIDTH / 2.0 - (low_x + high_x) / 2 * unit;
    double radius = fmax(0.5 * od * unit, 0.8), most = pp_bundle_most_to_spare(results);
    pp_text_print(out,
                  "<svg class=\"chart tubes\" viewBox=\"0 0 %d %.0f\" role=\"img\" "
                  "aria-label=\"Tubes seen from the front, by whether they pass\">",
                  WIDTH, height);
    for (int state = 0; state < PP_BUNDLE_STATES; state++) /* the worst on top */
        for (size_t k = 0; k < tubes->count; k++)
            if (pp_bundle_state(results, k) == state)
                add_tube(out, results, k, left + tubes->x[k] * unit,
                         10 + (high_y + od - tubes->y[k]) * unit, radius,
                         tubes->count <= TITLES_MAX || state > 1, most);
    pp_text_add(out, "</svg>\n");
}

/* ---- (b) one tube unrolled ---- */

typedef struct strips {
    pp_text *out;
    const pp_bundle_results *r;
    size_t tube, count;
    pp_disc disc[PP_EDGES_MAX];
    const pp_bundle_tube *t;
    double s0, along; /* station at the left edge, picture per mm */
    double half;      /* mm above and below the middle */
    double across;    /* picture per mm */
} strips;

static double centre(const strips *p, size_t i, bool y)
{
    return y ? p->disc[i].y - (p->t->line.ay + p->t->line.by * p->disc[i].s)
             : p->disc[i].x - (p->t->line.ax + p->t->line.bx * p->disc[i].s);
}

static double at(const strips *p, double s) { return MARGIN + (s - p->s0) * p->along; }

/* Crosswise the middle of the tube is cut out: what is shown is the play, the tube's edge against
 * the hole's. */
static void add_play(const strips *p, double top, bool y)
{
    double middle = top + STRIP / 2.0, tube = p->r->bundle->largest_diameter / 2;
    for (size_t i = 0; i < p->count; i++) {
        double play = p->disc[i].r - tube, c = centre(p, i, y), x = at(p, p->disc[i].s);
        line(p->out, play < 0 ? "bad-bar" : "hole-bar", x, middle - (c + fabs(play)) * p->across, x,
             middle - (c - fabs(play)) * p->across);
        line(p->out, "hole-end", x - 5, middle - (c + play) * p->across, x + 5,
             middle - (c + play) * p->across);
        line(p->out, "hole-end", x - 5, middle - (c - play) * p->across, x + 5,
             middle - (c - play) * p->across);
    }
}

static void add_bent(const strips *p, double top, bool y)
{
    if (p->t->force_first == SIZE_MAX || !p->t->bends || !p->r->bundle->bending) return;
    const pp_edge_force *f = p->r->bundle->force + p->t->force_first;
    double middle = top + STRIP / 2.0;
    pp_text_add(p->out, "<polyline class=\"bent\" points=\"");
    for (size_t i = 0; i < p->count; i++) {
        const pp_passage *l = &p->t->line;
        double w =
            y ? f[i].wy - (l->ay + l->by * p->disc[i].s) : f[i].wx - (l->ax + l->bx * p->disc[i].s);
        number(p->out, i ? " " : "", at(p, p->disc[i].s), ",");
        number(p->out, "", middle - w * p->across, "");
    }
    pp_text_add(p->out, "\"/>");
}

static void add_strip(const strips *p, double top, bool y)
{
    pp_length_unit units = p->r->set->units;
    double middle = top + STRIP / 2.0;
    line(p->out, "axis", MARGIN, middle, WIDTH - MARGIN, middle);
    add_play(p, top, y);
    add_bent(p, top, y);
    word(p->out, 4, top + 14, "start", y ? "from the side: up" : "from above: right");
    for (int sign = -1; sign <= 1; sign += 2) {
        double mm = sign * p->half * 0.7;
        line(p->out, "axis", MARGIN - 4, middle - mm * p->across, MARGIN, middle - mm * p->across);
        length_word(p->out, units, MARGIN - 6, middle - mm * p->across + 4, "end", mm,
                    units == PP_INCH ? 3 : 2);
    }
}

double pp_bundle_tube_strips(pp_text *out, const pp_bundle_results *results, size_t tube)
{
    const pp_bundle *b = results->bundle;
    strips p = {.out = out, .r = results, .tube = tube, .t = &b->tube[tube]};
    p.count = pp_bundle_discs(b, tube, p.disc);
    double length = p.disc[p.count - 1].s - p.disc[0].s;
    p.s0 = p.disc[0].s;
    p.along = (WIDTH - 2 * MARGIN) / length;
    for (size_t i = 0; i < p.count; i++)
        for (int y = 0; y < 2; y++)
            p.half =
                fmax(p.half, fabs(centre(&p, i, y)) + fabs(p.disc[i].r - b->largest_diameter / 2));
    p.half = fmax(p.half * 1.1, 0.01);
    p.across = STRIP / (2 * p.half);
    pp_text_print(out,
                  "<svg class=\"chart\" viewBox=\"0 0 %d %d\" role=\"img\" "
                  "aria-label=\"The tube unrolled: play of every edge about the best straight "
                  "line\">",
                  WIDTH, 2 * STRIP + 70);
    add_strip(&p, 6, false);
    add_strip(&p, STRIP + 22, true);
    const pp_discs *discs = &b->mates.discs;
    for (size_t i = 0; i < p.count; i += 2)
        word(out, at(&p, (p.disc[i].s + p.disc[i + 1].s) / 2),
             2 * STRIP + 40 + (i / 2 % 2 ? 14 : 0), "middle",
             results->set->plates[discs->plate[discs->first[tube] + i]].name);
    pp_text_add(out, "</svg>\n");
    return p.across / p.along;
}

/* ---- (d) cumulative margins ---- */

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

typedef struct margin_chart {
    pp_text *out;
    double low, high, height;
    size_t tubes;
} margin_chart;

static double chart_x(const margin_chart *c, double margin)
{
    return MARGIN + (margin - c->low) / (c->high - c->low) * (WIDTH - 2 * MARGIN);
}

static void add_curve(const margin_chart *c, const char *class_, const double *sorted, size_t count)
{
    enum { POINTS_MAX = 400 };
    size_t step = count > POINTS_MAX ? count / POINTS_MAX : 1;
    pp_text_print(c->out, "<polyline class=\"%s\" points=\"", class_);
    for (size_t i = 0; i < count; i += i + step < count || i == count - 1 ? step : count - 1 - i) {
        double share = (double)(count - i) / (double)c->tubes;
        number(c->out, i ? " " : "", chart_x(c, sorted[i]), ",");
        number(c->out, "", 12 + (1 - share) * c->height, "");
    }
    pp_text_add(c->out, "\"/>");
}

static void add_chart_axes(const margin_chart *c, const pp_bundle_results *r)
{
    pp_length_unit units = r->set->units;
    double zero = chart_x(c, r->set->clearance_minimum);
    line(c->out, "axis", MARGIN, 12 + c->height, WIDTH - MARGIN, 12 + c->height);
    line(c->out, "limit", zero, 12, zero, 12 + c->height);
    for (int i = 0; i <= TICKS; i++) {
        double margin = c->low + (c->high - c->low) * i / TICKS;
        length_word(c->out, units, chart_x(c, margin), 12 + c->height + 16, "middle", margin,
                    units == PP_INCH ? 3 : 2);
    }
    pp_text label = {0};
    for (int i = 0; i <= 2; i++) {
        label.length = 0;
        pp_text_print(&label, "%d %%", 50 * i);
        word(c->out, MARGIN - 6, 16 + (1 - i / 2.0) * c->height, "end",
             label.failed ? "" : label.data);
    }
    pp_text_free(&label);
}

pp_status pp_bundle_margins(pp_text *out, const pp_bundle_results *results, pp_memory *memory,
                            pp_error *error)
{
    const pp_bundle *b = results->bundle;
    double *set_out, *judged;
    size_t count = 0;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    PP_TAKE(set_out, &memory->scratch, b->mates.tubes.count);
    PP_TAKE(judged, &memory->scratch, b->mates.tubes.count);
    for (size_t k = 0; k < b->mates.tubes.count; k++) {
        if (!b->tube[k].enough) continue;
        set_out[count] = b->tube[k].margin_set_out;
        judged[count++] = b->tube[k].margin;
    }
    if (count) {
        qsort(set_out, count, sizeof *set_out, by_value);
        qsort(judged, count, sizeof *judged, by_value);
        double least = results->set->clearance_minimum;
        margin_chart c = {out, fmin(fmin(set_out[0], judged[0]), least),
                          fmax(fmax(set_out[count - 1], judged[count - 1]), least), 250, count};
        double room = fmax(0.04 * (c.high - c.low), 1e-3);
        c.low -= room, c.high += room;
        pp_text_print(out,
                      "<svg class=\"chart\" viewBox=\"0 0 %d 290\" role=\"img\" "
                      "aria-label=\"Share of the tubes that have at least a margin\">",
                      WIDTH);
        add_chart_axes(&c, results);
        if (b->judged != PP_JUDGED_AS_SET_OUT) add_curve(&c, "curve-before", set_out, count);
        add_curve(&c, "curve-after", judged, count);
        pp_text_add(out, "</svg>\n");
    }
    pp_arena_release(&memory->scratch, mark);
    return PP_OK;
}

/* ---- bars ---- */

void pp_bundle_bar(pp_text *out, double share)
{
    double width = 100 * fmin(1, fmax(0, share));
    pp_text_add(out, "<svg class=\"share\" viewBox=\"0 0 104 12\" aria-hidden=\"true\"><rect "
                     "class=\"share-room\" x=\"1\" y=\"1\" width=\"102\" height=\"10\"/><rect "
                     "class=\"bar\" x=\"2\" y=\"2\" height=\"8\"");
    number(out, " width=\"", width, "\"/></svg>");
}

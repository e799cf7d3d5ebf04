#include "base/outline.h"

#include <math.h>
#include <string.h>

#include "base/constants.h"

static const double ROUNDING = 1e-9; /* of the outline's size: a place on the edge lies on it */

/* What is cut off a disc ------------------------------------------------------------------- */

/* Distance of the cut from the disc's centre */
static double cut_distance(const pp_outline_spec *o) { return o->diameter / 2 - o->cut_height; }

static double cut_angle(const pp_outline_spec *o) { return o->cut_angle_deg * PP_PI / 180; }

static bool is_cut(const pp_outline_spec *o)
{
    return o->kind == PP_OUTLINE_SEGMENT || o->kind == PP_OUTLINE_DOUBLE_SEGMENT;
}

/* Edges ------------------------------------------------------------------------------------ */

size_t pp_outline_edge_count(const pp_outline_spec *o)
{
    switch (o->kind) {
    case PP_OUTLINE_NONE:
        return 0;
    case PP_OUTLINE_DISC:
        return 1;
    case PP_OUTLINE_SEGMENT:
    case PP_OUTLINE_ANNULUS:
        return 2;
    case PP_OUTLINE_RECTANGLE:
    case PP_OUTLINE_DOUBLE_SEGMENT:
        return 4;
    case PP_OUTLINE_POLYGON:
        return o->corner_count;
    }
    return 0;
}

static pp_edge arc(const pp_outline_spec *o, double radius, double from, double sweep)
{
    double x = o->centre_x, y = o->centre_y;
    return (pp_edge){.x0 = x + radius * cos(from),
                     .y0 = y + radius * sin(from),
                     .x1 = x + radius * cos(from + sweep),
                     .y1 = y + radius * sin(from + sweep),
                     .centre_x = x,
                     .centre_y = y,
                     .radius = radius,
                     .from = from,
                     .sweep = sweep};
}

/* The cut from the end of one arc to the beginning of the next */
static pp_edge straight(const pp_edge *before, const pp_edge *after)
{
    return (pp_edge){.x0 = before->x1, .y0 = before->y1, .x1 = after->x0, .y1 = after->y0};
}

static pp_edge edge_of_cut_disc(const pp_outline_spec *o, size_t k)
{
    double half = acos(cut_distance(o) / (o->diameter / 2)), at = cut_angle(o);
    if (o->kind == PP_OUTLINE_SEGMENT) {
        pp_edge rest = arc(o, o->diameter / 2, at + half, 2 * PP_PI - 2 * half);
        return k == 0 ? rest : straight(&rest, &rest);
    }
    pp_edge arcs[2];
    for (int i = 0; i < 2; i++)
        arcs[i] = arc(o, o->diameter / 2, at + half + i * PP_PI, PP_PI - 2 * half);
    size_t first = k / 2;
    return k % 2 == 0 ? arcs[first] : straight(&arcs[first], &arcs[1 - first]);
}

pp_edge pp_outline_edge(const pp_outline_spec *o, size_t k)
{
    static const double SIGN[5][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}, {-1, -1}};
    switch (o->kind) {
    case PP_OUTLINE_NONE:
        break;
    case PP_OUTLINE_DISC:
        return arc(o, o->diameter / 2, 0, 2 * PP_PI);
    case PP_OUTLINE_SEGMENT:
    case PP_OUTLINE_DOUBLE_SEGMENT:
        return edge_of_cut_disc(o, k);
    case PP_OUTLINE_ANNULUS:
        return k == 0 ? arc(o, o->diameter / 2, 0, 2 * PP_PI)
                      : arc(o, o->inner_diameter / 2, 0, -2 * PP_PI);
    case PP_OUTLINE_RECTANGLE: {
        const double *a = SIGN[k], *b = SIGN[k + 1];
        return (pp_edge){.x0 = o->centre_x + a[0] * o->width / 2,
                         .y0 = o->centre_y + a[1] * o->height / 2,
                         .x1 = o->centre_x + b[0] * o->width / 2,
                         .y1 = o->centre_y + b[1] * o->height / 2};
    }
    case PP_OUTLINE_POLYGON: {
        size_t next = (k + 1) % o->corner_count;
        return (pp_edge){.x0 = o->centre_x + o->corner_x[k],
                         .y0 = o->centre_y + o->corner_y[k],
                         .x1 = o->centre_x + o->corner_x[next],
                         .y1 = o->centre_y + o->corner_y[next]};
    }
    }
    return (pp_edge){0};
}

double pp_edge_length(const pp_edge *e)
{
    return e->radius > 0 ? e->radius * fabs(e->sweep) : hypot(e->x1 - e->x0, e->y1 - e->y0);
}

pp_edge_place pp_edge_at(const pp_edge *e, double share)
{
    if (e->radius > 0) {
        double angle = e->from + share * e->sweep, in = e->sweep > 0 ? -1 : 1;
        return (pp_edge_place){.x = e->centre_x + e->radius * cos(angle),
                               .y = e->centre_y + e->radius * sin(angle),
                               .inward_x = in * cos(angle),
                               .inward_y = in * sin(angle)};
    }
    double dx = e->x1 - e->x0, dy = e->y1 - e->y0, length = hypot(dx, dy);
    return (pp_edge_place){.x = e->x0 + share * dx,
                           .y = e->y0 + share * dy,
                           .inward_x = length > 0 ? -dy / length : 0,
                           .inward_y = length > 0 ? dx / length : 0};
}

/* Share of the edge at which it is nearest to a place */
static double nearest_share(const pp_edge *e, double x, double y)
{
    if (e->radius > 0) {
        double turn = (atan2(y - e->centre_y, x - e->centre_x) - e->from) / e->sweep;
        double whole = 2 * PP_PI / fabs(e->sweep);
        turn -= whole * floor(turn / whole);
        if (turn <= 1) return turn;
        return turn - 1 < whole - turn ? 1 : 0; /* the nearer end */
    }
    double dx = e->x1 - e->x0, dy = e->y1 - e->y0, square = dx * dx + dy * dy;
    if (!(square > 0)) return 0;
    return fmax(0, fmin(1, ((x - e->x0) * dx + (y - e->y0) * dy) / square));
}

pp_edge_place pp_outline_nearest(const pp_outline_spec *o, double x, double y)
{
    pp_edge_place best = {.x = o->centre_x, .y = o->centre_y, .inward_x = 1};
    double least = INFINITY;
    for (size_t k = 0; k < pp_outline_edge_count(o); k++) {
        pp_edge e = pp_outline_edge(o, k);
        pp_edge_place at = pp_edge_at(&e, nearest_share(&e, x, y));
        double distance = hypot(at.x - x, at.y - y);
        if (distance < least) least = distance, best = at;
    }
    return best;
}

void pp_outline_trace(const pp_outline_spec *o, pp_outline_visit *visit, void *context)
{
    const double step = PP_PI / 90, slack = ROUNDING * pp_outline_size(o);
    double last_x = NAN, last_y = NAN;
    for (size_t k = 0; k < pp_outline_edge_count(o); k++) {
        pp_edge e = pp_outline_edge(o, k);
        bool begins = !(hypot(e.x0 - last_x, e.y0 - last_y) <= slack);
        if (begins && k > 0) visit(context, last_x, last_y, false); /* where the piece began */
        size_t steps = e.radius > 0 ? (size_t)ceil(fabs(e.sweep) / step) : 1;
        for (size_t i = 0; i < steps; i++) {
            pp_edge_place at = pp_edge_at(&e, (double)i / (double)steps);
            visit(context, at.x, at.y, begins && i == 0);
        }
        last_x = e.x1, last_y = e.y1;
    }
}

bool pp_outline_is_cut_out(const pp_outline_spec *o)
{
    return o->kind != PP_OUTLINE_NONE && o->kind != PP_OUTLINE_DISC &&
           o->kind != PP_OUTLINE_RECTANGLE;
}

/* Inside and outside ------------------------------------------------------------------------ */

/* Even or odd number of crossings to the right of a place */
static bool within_polygon(const pp_outline_spec *o, double x, double y)
{
    bool in = false;
    for (size_t k = 0; k < o->corner_count; k++) {
        pp_edge e = pp_outline_edge(o, k);
        if ((e.y0 > y) == (e.y1 > y)) continue;
        if (x < e.x0 + (y - e.y0) / (e.y1 - e.y0) * (e.x1 - e.x0)) in = !in;
    }
    return in;
}

static bool within(const pp_outline_spec *o, double x, double y)
{
    if (o->kind == PP_OUTLINE_POLYGON) return within_polygon(o, x, y);
    double dx = x - o->centre_x, dy = y - o->centre_y, r = hypot(dx, dy);
    if (r > o->diameter / 2) return false;
    if (o->kind == PP_OUTLINE_ANNULUS) return r >= o->inner_diameter / 2;
    double towards = dx * cos(cut_angle(o)) + dy * sin(cut_angle(o));
    if (o->kind == PP_OUTLINE_DOUBLE_SEGMENT) towards = fabs(towards);
    return towards <= cut_distance(o);
}

static double distance_from_edge(const pp_outline_spec *o, double x, double y)
{
    pp_edge_place at = pp_outline_nearest(o, x, y);
    return hypot(at.x - x, at.y - y);
}

double pp_outline_margin(const pp_outline_spec *o, double x, double y)
{
    double dx = x - o->centre_x, dy = y - o->centre_y;
    switch (o->kind) {
    case PP_OUTLINE_DISC:
        return o->diameter / 2 - hypot(dx, dy);
    case PP_OUTLINE_RECTANGLE:
        return fmin(o->width / 2 - fabs(dx), o->height / 2 - fabs(dy));
    case PP_OUTLINE_NONE:
        return NAN;
    default:
        return (within(o, x, y) ? 1 : -1) * distance_from_edge(o, x, y);
    }
}

double pp_outline_beyond(const pp_outline_spec *o, double x, double y)
{
    if (o->kind != PP_OUTLINE_RECTANGLE) return -pp_outline_margin(o, x, y);
    double ox = fabs(x - o->centre_x) - o->width / 2, oy = fabs(y - o->centre_y) - o->height / 2;
    return ox <= 0 || oy <= 0 ? fmax(ox, oy) : hypot(ox, oy);
}

bool pp_outline_holds(const pp_outline_spec *o, double x, double y)
{
    double dx = fabs(x - o->centre_x), dy = fabs(y - o->centre_y);
    switch (o->kind) {
    case PP_OUTLINE_DISC:
        return hypot(dx, dy) <= o->diameter / 2 * (1 + ROUNDING);
    case PP_OUTLINE_RECTANGLE:
        return dx <= o->width / 2 * (1 + ROUNDING) && dy <= o->height / 2 * (1 + ROUNDING);
    case PP_OUTLINE_NONE:
        return false;
    default:
        return within(o, x, y) || distance_from_edge(o, x, y) <= ROUNDING * pp_outline_size(o);
    }
}

/* Size ---------------------------------------------------------------------------------------- */

static void widen(pp_box *box, double x, double y)
{
    box->x0 = fmin(box->x0, x), box->x1 = fmax(box->x1, x);
    box->y0 = fmin(box->y0, y), box->y1 = fmax(box->y1, y);
}

pp_box pp_outline_box(const pp_outline_spec *o)
{
    double x = o->centre_x, y = o->centre_y;
    double half_x = o->diameter / 2, half_y = half_x;
    if (o->kind == PP_OUTLINE_NONE) return (pp_box){x, y, x, y};
    if (o->kind == PP_OUTLINE_RECTANGLE) half_x = o->width / 2, half_y = o->height / 2;
    if (!is_cut(o) && o->kind != PP_OUTLINE_POLYGON)
        return (pp_box){x - half_x, y - half_y, x + half_x, y + half_y};
    pp_box box = {INFINITY, INFINITY, -INFINITY, -INFINITY};
    for (size_t k = 0; k < pp_outline_edge_count(o); k++) {
        pp_edge e = pp_outline_edge(o, k);
        widen(&box, e.x0, e.y0);
        for (int quarter = 0; e.radius > 0 && quarter < 4; quarter++) {
            double far_x = x + (quarter == 0 ? half_x : quarter == 2 ? -half_x : 0);
            double far_y = y + (quarter == 1 ? half_y : quarter == 3 ? -half_y : 0);
            if (within(o, x + (far_x - x) * (1 - ROUNDING), y + (far_y - y) * (1 - ROUNDING)))
                widen(&box, far_x, far_y);
        }
    }
    return box;
}

double pp_outline_size(const pp_outline_spec *o)
{
    if (o->kind == PP_OUTLINE_NONE) return NAN;
    pp_box box = pp_outline_box(o);
    return fmax(box.x1 - box.x0, box.y1 - box.y0);
}

double pp_outline_across(const pp_outline_spec *o)
{
    if (o->kind == PP_OUTLINE_NONE) return NAN;
    if (o->kind == PP_OUTLINE_ANNULUS) return (o->diameter - o->inner_diameter) / 2;
    pp_box box = pp_outline_box(o);
    return fmin(box.x1 - box.x0, box.y1 - box.y0);
}

/* Lines across it ------------------------------------------------------------------------------ */

/* The line's stretch within a circle about the centre; empty beyond it */
static pp_chord in_circle(const pp_outline_spec *o, double radius, double ox, double oy, double ex,
                          double ey)
{
    double dx = ox - o->centre_x, dy = oy - o->centre_y;
    double off = dx * ey - dy * ex, middle = -(dx * ex + dy * ey);
    double square = (radius - off) * (radius + off);
    if (!(square > 0)) return (pp_chord){1, 0};
    return (pp_chord){middle - sqrt(square), middle + sqrt(square)};
}

/* Keep of a stretch what lies where `from + s along` is at most `most`. */
static void keep_below(pp_chord *c, double from, double along, double most, double slack)
{
    if (fabs(along) < ROUNDING) {
        if (from > most + slack) c->end = c->begin - 1;
        return;
    }
    double s = (most - from) / along;
    if (along > 0)
        c->end = fmin(c->end, s);
    else
        c->begin = fmax(c->begin, s);
}

static size_t chords_of_polygon(const pp_outline_spec *o, double ox, double oy, double ex,
                                double ey, pp_chord *chords)
{
    double at[PP_OUTLINE_CORNERS_MAX];
    size_t count = 0;
    for (size_t k = 0; k < o->corner_count; k++) {
        pp_edge e = pp_outline_edge(o, k);
        double a = (e.y0 - oy) * ex - (e.x0 - ox) * ey, b = (e.y1 - oy) * ex - (e.x1 - ox) * ey;
        if ((a > 0) == (b > 0)) continue;
        double share = a / (a - b), x = e.x0 + share * (e.x1 - e.x0);
        double y = e.y0 + share * (e.y1 - e.y0), s = (x - ox) * ex + (y - oy) * ey;
        size_t i = count++;
        for (; i > 0 && at[i - 1] > s; i--) at[i] = at[i - 1];
        at[i] = s;
    }
    for (size_t i = 0; i + 1 < count; i += 2) chords[i / 2] = (pp_chord){at[i], at[i + 1]};
    return count / 2;
}

size_t pp_outline_chords(const pp_outline_spec *o, double ox, double oy, double ex, double ey,
                         pp_chord *chords)
{
    double dx = ox - o->centre_x, dy = oy - o->centre_y, slack = ROUNDING * o->diameter;
    if (o->kind == PP_OUTLINE_NONE) return 0;
    if (o->kind == PP_OUTLINE_POLYGON) return chords_of_polygon(o, ox, oy, ex, ey, chords);
    if (o->kind == PP_OUTLINE_RECTANGLE) {
        chords[0] = (pp_chord){-INFINITY, INFINITY};
        keep_below(chords, dx, ex, o->width / 2, ROUNDING * o->width);
        keep_below(chords, -dx, -ex, o->width / 2, ROUNDING * o->width);
        keep_below(chords, dy, ey, o->height / 2, ROUNDING * o->height);
        keep_below(chords, -dy, -ey, o->height / 2, ROUNDING * o->height);
        return chords[0].begin < chords[0].end;
    }
    chords[0] = in_circle(o, o->diameter / 2, ox, oy, ex, ey);
    if (!(chords[0].begin < chords[0].end)) return 0;
    if (o->kind == PP_OUTLINE_ANNULUS) {
        pp_chord open = in_circle(o, o->inner_diameter / 2, ox, oy, ex, ey);
        if (!(open.begin < open.end)) return 1;
        chords[1] = (pp_chord){open.end, chords[0].end};
        chords[0].end = open.begin;
        return 2;
    }
    if (!is_cut(o)) return 1;
    double c = cos(cut_angle(o)), s = sin(cut_angle(o));
    double from = dx * c + dy * s, along = ex * c + ey * s;
    keep_below(chords, from, along, cut_distance(o), slack);
    if (o->kind == PP_OUTLINE_DOUBLE_SEGMENT)
        keep_below(chords, -from, -along, cut_distance(o), slack);
    return chords[0].begin < chords[0].end;
}

bool pp_outline_mirrors(const pp_outline_spec *o, bool about_x)
{
    enum { PER_EDGE = 5 };
    pp_box box = pp_outline_box(o);
    double slack = 1e-6 * pp_outline_size(o);
    for (size_t k = 0; k < pp_outline_edge_count(o); k++) {
        pp_edge e = pp_outline_edge(o, k);
        for (int i = 0; i < PER_EDGE; i++) {
            pp_edge_place at = pp_edge_at(&e, (double)i / PER_EDGE);
            double x = about_x ? at.x : box.x0 + box.x1 - at.x;
            double y = about_x ? box.y0 + box.y1 - at.y : at.y;
            if (distance_from_edge(o, x, y) > slack) return false;
        }
    }
    return true;
}

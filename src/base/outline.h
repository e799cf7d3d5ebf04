/* The plate's outline in its plane: a disc, a rectangle along the axes, a disc with one or two
 * straight cuts, a ring, or a polygon. Plate frame, mm.
 *
 * An outline is a row of edges, straight or arcs of a circle, along which the plate lies to the
 * left: anticlockwise outside, clockwise about an opening. */
#ifndef PP_BASE_OUTLINE_H
#define PP_BASE_OUTLINE_H

#include <stdbool.h>
#include <stddef.h>

typedef enum pp_outline {
    PP_OUTLINE_NONE,
    PP_OUTLINE_DISC,
    PP_OUTLINE_RECTANGLE,
    PP_OUTLINE_SEGMENT,        /* a disc less what lies beyond one cut */
    PP_OUTLINE_DOUBLE_SEGMENT, /* a disc less what lies beyond two opposite cuts */
    PP_OUTLINE_ANNULUS,
    PP_OUTLINE_POLYGON
} pp_outline;

enum { PP_OUTLINE_CORNERS_MAX = 400 };

typedef struct pp_outline_spec {
    pp_outline kind;
    double diameter;           /* disc, segments, annulus */
    double width, height;      /* rectangle, along x and along y */
    double centre_x, centre_y; /* of the circles or the rectangle; corners count from it */
    double cut_height;         /* segments: from the rim to the cut, cut off */
    double cut_angle_deg;      /* segments: from the centre towards the (first) cut, from +x */
    double inner_diameter;     /* annulus */
    size_t corner_count;       /* polygon, anticlockwise */
    const double *corner_x, *corner_y;
} pp_outline_spec;

/* One edge: straight (radius 0), or an arc about (centre_x, centre_y) from the angle `from` over
 * `sweep`, in rad, negative clockwise. */
typedef struct pp_edge {
    double x0, y0, x1, y1; /* its ends */
    double centre_x, centre_y, radius, from, sweep;
} pp_edge;

/* A place on an edge, and the direction into the plate. */
typedef struct pp_edge_place {
    double x, y;
    double inward_x, inward_y;
} pp_edge_place;

typedef struct pp_box {
    double x0, y0, x1, y1;
} pp_box;

/* A stretch of a line that lies on the plate. */
typedef struct pp_chord {
    double begin, end;
} pp_chord;
enum { PP_CHORDS_MAX = PP_OUTLINE_CORNERS_MAX / 2 };

/* Smallest distance from a place within the outline to its edge; negative outside (there, of a
 * rectangle, the larger of what it is beyond either side, changed in sign). NaN without an outline.
 */
double pp_outline_margin(const pp_outline_spec *outline, double x, double y);

/* Distance of a place outside the outline from it; inside negative, minus the margin. NaN without
 * an outline. */
double pp_outline_beyond(const pp_outline_spec *outline, double x, double y);

/* Whether a place lies on the plate, its edge included but for rounding. */
bool pp_outline_holds(const pp_outline_spec *outline, double x, double y);

/* Diameter, or the longer side of the box about it; NaN without an outline. */
double pp_outline_size(const pp_outline_spec *outline);
/* The least that the plate is across: of a ring its width, else the shorter side of the box. */
double pp_outline_across(const pp_outline_spec *outline);
/* The box about it; empty at the centre without an outline. */
pp_box pp_outline_box(const pp_outline_spec *outline);
/* Its edges, loop by loop: how many (0 without an outline), edge k of them, its length. */
size_t pp_outline_edge_count(const pp_outline_spec *outline);
pp_edge pp_outline_edge(const pp_outline_spec *outline, size_t k);
double pp_edge_length(const pp_edge *edge);
/* The place at `share` (0 to 1) of an edge. */
pp_edge_place pp_edge_at(const pp_edge *edge, double share);
/* The place of the outline's edge nearest to (x, y). */
pp_edge_place pp_outline_nearest(const pp_outline_spec *outline, double x, double y);

/* Follow the outline in points, arcs by steps of two degrees; `begins` at the first of each loop,
 * which closes onto it; a loop with another after it comes back to its first point. */
typedef void pp_outline_visit(void *context, double x, double y, bool begins);
void pp_outline_trace(const pp_outline_spec *outline, pp_outline_visit *visit, void *context);

/* Whether it is one of those that are more than a disc or a rectangle. */
bool pp_outline_is_cut_out(const pp_outline_spec *outline);

/* Stretches of the line through (ox, oy) along the unit vector (ex, ey) that lie on the plate, in
 * rising order and measured from (ox, oy); chords[PP_CHORDS_MAX]. Returns their number. */
size_t pp_outline_chords(const pp_outline_spec *outline, double ox, double oy, double ex, double ey,
                         pp_chord *chords);

/* Whether the mirror image about the line through the middle of its box along x (else along y) is
 * the outline itself. */
bool pp_outline_mirrors(const pp_outline_spec *outline, bool about_x);

#endif

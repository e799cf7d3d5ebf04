/* Nominal hole patterns: tube layouts filled into a round or rectangular field.
 *
 * Triangular layouts leave one pitch between all neighbours; 30 has rows of neighbours along x, 60
 * the same turned by 90 degrees (with flow along y, the angles are those of the trade). Square
 * layouts: 90 along the axes, 45 the same turned by 45 degrees.
 */
#ifndef PP_HOLES_PATTERN_H
#define PP_HOLES_PATTERN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/memory.h"
#include "base/text.h"
#include "base/units.h"

typedef enum pp_layout { PP_TRIANGULAR_30, PP_TRIANGULAR_60, PP_SQUARE_90, PP_SQUARE_45 } pp_layout;

/* A lane left free, for a pass partition: a strip across the whole field. */
typedef struct pp_lane {
    bool vertical; /* along y at x = place; else along x at y = place */
    double place;  /* mm, of its middle */
    double width;  /* mm; no part of a hole lies within */
} pp_lane;

typedef struct pp_pattern_options { /* lengths mm */
    pp_layout layout;
    double pitch;
    bool on_cell; /* the middle of a cell (three or four holes) at the centre, not a hole */
    bool round;   /* field: a circle of `diameter`, or `width` along x by `height` */
    double diameter, width, height;
    double hole;   /* diameter; 0: only the centres must fit */
    double margin; /* least metal between a hole's edge and the field's edge */
    double centre_x, centre_y;
    size_t lane_count;
    const pp_lane *lanes;
} pp_pattern_options;

enum { PP_PATTERN_MAX = 10000000 }; /* holes: more says that a unit is wrong */

typedef struct pp_pattern {
    size_t count;
    const double *x, *y;          /* mm; by rows from the lowest, each from the left */
    const uint32_t *row, *column; /* from 1; rows by y, columns by x, the empty ones not counted */
    uint32_t row_count, column_count;
} pp_pattern;

/* Fill the field. A hole that just fits (to 1e-6 mm) is in.
 * errors: PP_EINPUT (sizes that make no sense, more than PP_PATTERN_MAX holes), PP_ENOTHING when
 * no hole fits */
pp_status pp_pattern_make(const pp_pattern_options *options, pp_memory *memory, pp_pattern *pattern,
                          pp_error *error);

/* "R012C007", with as many digits as the pattern needs, three at least; returns its length. */
enum { PP_PATTERN_NAME_MAX = 24 };
size_t pp_pattern_name(const pp_pattern *pattern, size_t hole, char name[PP_PATTERN_NAME_MAX]);

/* Add the pattern as a nominal hole list: CSV in `unit`, which the header names, to 1e-6 mm. */
void pp_pattern_csv(const pp_pattern *pattern, pp_length_unit unit, pp_text *csv);

#endif

/* Bands and lines of equal value on a regular raster, straight between its places. */
#ifndef PP_BASE_ISOBANDS_H
#define PP_BASE_ISOBANDS_H

#include <stdbool.h>
#include <stddef.h>

typedef struct pp_raster {
    size_t columns, rows;
    double x0, y0, dx, dy;
    const double *value; /* [rows * columns] row by row from y0; NaN: not known there */
} pp_raster;

/* A corner of a convex piece; `begins` at its first. */
typedef void pp_band_visit(void *context, double x, double y, bool begins);
/* The pieces of the raster where the value is at least `level` (-INFINITY: all that is known), side
 * by side without overlap; full cells of a row are one piece. Cells with an unknown corner are
 * left out. */
void pp_raster_above(const pp_raster *raster, double level, pp_band_visit *visit, void *context);

typedef void pp_line_visit(void *context, double x1, double y1, double x2, double y2);
/* The line along which the value is `level`, a straight piece (or two) for each cell it crosses. */
void pp_raster_line(const pp_raster *raster, double level, pp_line_visit *visit, void *context);

#endif

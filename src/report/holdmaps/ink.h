/* What a picture is drawn with, whatever the medium: areas, lines, dots and words. A medium gives
 * these functions; the picture calls them. Picture units, y downwards; colours 0xrrggbb. */
#ifndef PP_REPORT_HOLDMAPS_INK_H
#define PP_REPORT_HOLDMAPS_INK_H

#include <stdbool.h>
#include <stddef.h>

enum { PP_NO_COLOUR = -1 };

typedef struct pp_pen {
    long fill, stroke; /* or PP_NO_COLOUR */
    double width;
    bool broken; /* a dashed line */
} pp_pen;

typedef struct pp_dot {
    double x, y;
} pp_dot;

typedef struct pp_ink {
    void *context;
    /* a path of pieces: each begins with move; end fills and strokes them all at once */
    void (*begin)(void *context, pp_pen pen);
    void (*move)(void *context, double x, double y);
    void (*line)(void *context, double x, double y);
    void (*close)(void *context);
    void (*end)(void *context);
    void (*circle)(void *context, pp_pen pen, double x, double y, double radius);
    /* round dots of one size, `dots` in number */
    void (*dots)(void *context, long colour, double radius, size_t count, const pp_dot *dots);
    /* what is drawn until unclip shows only within the path between clip and clipped */
    void (*clip)(void *context);
    void (*clipped)(void *context);
    void (*unclip)(void *context);
    /* words from x on, their baseline at y, with a light rim so that they are read on any ground */
    void (*word)(void *context, double x, double y, double size, long colour, bool rim,
                 const char *text);
} pp_ink;

#endif

/* Places of a plate as a still picture: dots, marks that differ by shape and colour, arrows. For
 * the pages about several plates; report.html draws its own. */
#ifndef PP_REPORT_PAGE_PLACES_H
#define PP_REPORT_PAGE_PLACES_H

#include <stdbool.h>
#include <stddef.h>

#include "base/text.h"

typedef struct pp_place_frame { /* pixel = (x - x0) * scale, (y0 - y) * scale */
    double scale, x0, y0, width, height;
} pp_place_frame;

/* All of the places in a picture of at most pixels x pixels, with room for marks at its rim. */
pp_place_frame pp_place_frame_fit(size_t count, const double *x, const double *y, double pixels);

/* <svg ...>, with what it shows in words for who cannot see it; closed by pp_places_close. */
void pp_places_open(pp_text *out, const pp_place_frame *frame, const char *label);
void pp_places_close(pp_text *out);

/* Small grey dots, at most `most` of them, spread over the list. */
void pp_places_dots(pp_text *out, const pp_place_frame *frame, size_t count, const double *x,
                    const double *y, size_t most);

typedef enum pp_place_mark {
    PP_MARK_CROSSED_SQUARE, /* vermillion: bad, new */
    PP_MARK_DOWN,           /* vermillion triangle: worse */
    PP_MARK_DIAMOND,        /* hollow: still there */
    PP_MARK_UP,             /* blue triangle: better */
    PP_MARK_DISC,           /* green: done */
    PP_MARK_RING,           /* purple, dashed: nobody says */
    PP_MARK_KINDS
} pp_place_mark;

/* One mark; `title` (untrusted, NULL: none) is said by a pointer that rests on it. */
void pp_places_mark(pp_text *out, const pp_place_frame *frame, pp_place_mark mark, double x,
                    double y, const char *title);
/* The mark for a legend. */
void pp_places_key(pp_text *out, pp_place_mark mark);

/* An arrow from a place by dx, dy millimetres times `times`. */
void pp_places_arrow(pp_text *out, const pp_place_frame *frame, double x, double y, double dx,
                     double dy, double times);

/* A disc whose area goes by `share` (0..1) of room: filled upwards, hollow downwards. */
void pp_places_amount(pp_text *out, const pp_place_frame *frame, double x, double y, double share,
                      double room, bool up);

/* A ring with a number or letter beside it. */
void pp_places_ring(pp_text *out, const pp_place_frame *frame, double x, double y,
                    const char *word);

#endif

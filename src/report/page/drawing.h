/* Lines and writing of the still pictures of pages. Each appends to `out`; memory failure stays in
 * out->failed. Pictures' own units. */
#ifndef PP_REPORT_PAGE_DRAWING_H
#define PP_REPORT_PAGE_DRAWING_H

#include "base/text.h"

/* Okabe and Ito's colours; a shape or a word stands beside each. */
#define PP_DRAW_BLUE "#0072b2"
#define PP_DRAW_RED "#d55e00"
#define PP_DRAW_SOFT "#56606b"
#define PP_DRAW_INK "#1b1f24"

/* A number with one decimal between two pieces. */
void pp_draw_number(pp_text *out, const char *before, double value, const char *behind);
/* A straight line; `look`: attributes. */
void pp_draw_line(pp_text *out, double x1, double y1, double x2, double y2, const char *look);
/* Untrusted words; anchor: start, middle or end. */
void pp_draw_label(pp_text *out, double x, double y, const char *anchor, const char *words);
/* A number as such a label. */
void pp_draw_value(pp_text *out, double x, double y, const char *anchor, double value,
                   int decimals);
/* A disc; `look`: attributes. Closed by the caller where `open` (for a title inside). */
void pp_draw_disc(pp_text *out, double x, double y, double radius, const char *look, bool open);
/* <svg> of a fixed size that scrolls on a narrow screen (smaller writing could not be read), and
 * its end. label: untrusted. */
void pp_draw_open(pp_text *out, int width, int height, const char *label);
void pp_draw_close(pp_text *out);

#endif

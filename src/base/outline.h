/* The plate's outline in its plane: a disc or a rectangle along the axes. Plate frame, mm. */
#ifndef PP_BASE_OUTLINE_H
#define PP_BASE_OUTLINE_H

typedef enum pp_outline { PP_OUTLINE_NONE, PP_OUTLINE_DISC, PP_OUTLINE_RECTANGLE } pp_outline;

typedef struct pp_outline_spec {
    pp_outline kind;
    double diameter;      /* disc */
    double width, height; /* rectangle, along x and along y */
    double centre_x, centre_y;
} pp_outline_spec;

/* Smallest distance from a place within the outline to its edge; negative outside (there, of a
 * rectangle, the larger of what it is beyond either side, changed in sign). NaN without an outline.
 */
double pp_outline_margin(pp_outline_spec outline, double x, double y);

/* Distance of a place outside the outline from it; inside negative, minus the margin. NaN without
 * an outline. */
double pp_outline_beyond(pp_outline_spec outline, double x, double y);

/* Diameter, or the larger side; NaN without an outline. */
double pp_outline_size(pp_outline_spec outline);

#endif

/* The pictures of a correction's page, as SVG. */
#ifndef PP_REPORT_CORRECTION_CORRECTION_PICTURES_H
#define PP_REPORT_CORRECTION_CORRECTION_PICTURES_H

#include "base/text.h"
#include "correction/correction.h"

/* A term's unit for people; *scale to it, and how many decimals it wants. */
const char *pp_term_unit(int term, double *scale, int *decimals);

/* rms before and after as bars on one axis; limit: diametral, its half is drawn in; NaN: none. */
void pp_picture_promise(pp_text *out, const pp_correction *correction, double limit);
/* Arrows of the shift over the plate, with their scale. */
void pp_picture_shift(pp_text *out, const pp_correction *correction);
/* One term plate by plate, and where the next is expected. */
void pp_picture_term(pp_text *out, const pp_correction *correction, int term);
/* rms of each plate, and corrected by the others. */
void pp_picture_left_out(pp_text *out, const pp_correction *correction);

#endif

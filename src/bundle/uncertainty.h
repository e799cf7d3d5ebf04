/* How certain a margin is: the standard uncertainty of twice the radius that passes. */
#ifndef PP_BUNDLE_UNCERTAINTY_H
#define PP_BUNDLE_UNCERTAINTY_H

#include <stdbool.h>

#include "bundle/discs.h"

/* What is known of the discs of one tube. Standard uncertainties, mm. */
typedef struct pp_disc_doubts {
    size_t count;
    const pp_disc *disc;
    const uint8_t *plate;
    const float *u_centre; /* of one coordinate */
    const float *u_radius;
    const bool *shared;     /* its readings serve both edges of its plate */
    const double *u_placed; /* [plates] of a coordinate of where the plate stands */
} pp_disc_doubts;

/* From the shares of the discs that decide:
 *
 *     u^2 = sum l^2 u_D^2 + 4 sum |v|^2 u_c^2 + 4 sum over plates |v_front + v_rear|^2 u_placed^2,
 *
 * the readings of a plate with one face read taken once. Where more than five discs touch the
 * cylinder the shares are not determined, and u is at least that of three equal discs,
 * sqrt(3/8 (u_D^2 + 4 u_c^2)). NaN where an uncertainty is not given. */
double pp_margin_uncertainty(const pp_disc_doubts *doubts, const pp_passage *line,
                             const pp_share *share);

#endif

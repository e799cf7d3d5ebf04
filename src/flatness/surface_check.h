/* How far off the fitted surface is, by what it says of points that it was not given. */
#ifndef PP_FLATNESS_SURFACE_CHECK_H
#define PP_FLATNESS_SURFACE_CHECK_H

#include "flatness/surface.h"

/* Check a fitted surface against its own survey, mu held; check->row is of that survey.
 *
 * given    survey   the points that it was fitted to
 *          known    standard deviation of a height as stated; NaN: not stated, or refuted
 *          smoother the standard error that the smoothing claims
 * errors   PP_ENUMERIC: the matrix of the fit has no factor; PP_ENOMEM
 *
 * Leaving out without fitting again: r_i / (1 - h_i) with h_i = phi_i' (A + mu K)^-1 phi_i, and for
 * a block B (I - H_BB)^-1 r_B (Craven and Wahba, Numer. Math. 31 (1979) 377; Wahba, Spline Models
 * for Observational Data, SIAM 1990, 4.2). Above 1e5 points every k-th is left out, and no blocks.
 * The same bits for any thread count. */
pp_status pp_surface_check_make(const pp_survey *survey, const pp_surface *surface, double known,
                                double smoother, int threads, pp_memory *memory,
                                pp_surface_check *check, pp_error *error);

#endif

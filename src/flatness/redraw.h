/* What else the survey might have been: the fitted surface with fresh noise.
 *
 * The surface is linear in the heights once its smoothness is chosen, so a survey of the same plate
 * with other noise would have given the fitted surface plus M^-1 b, M = A + mu K, where b, the
 * projection of noise of standard deviation sigma, has the covariance sigma^2 A. With A = L L'
 * (singular where no point lies), b = sigma L times independent normal numbers. The numbers are the
 * same in every run. What the smoothing itself takes off the shape is not in it.
 */
#ifndef PP_FLATNESS_REDRAW_H
#define PP_FLATNESS_REDRAW_H

#include "flatness/surface.h"

/* Differences from the surface: field[count * dofs], one after the other; all 0 where the surface
 * keeps no normal matrix (made by hand). memory->keep. errors: PP_ENUMERIC: the surface's matrix
 * has no factor; PP_ENOMEM */
pp_status pp_surface_redraw(const pp_surface *surface, size_t count, pp_memory *memory,
                            double **field, pp_error *error);

#endif

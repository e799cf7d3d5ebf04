/* Survey points that no plate has, found before any surface is fitted.
 *
 * A chip under the probe, a mistyped height: a smooth surface that is free to follow such a point
 * does, and then nothing stands out any more. So each point is foretold from its neighbours alone:
 * a quadric through the nearest 14 by least absolute residuals, which one or two wild neighbours do
 * not move. What is off by more than 8 typical errors of such a forecast (over the survey, or over
 * the neighbourhood where that is more; at the rim as much more as a forecast is worse there), and
 * farther from the plane of its neighbours than the plate bends there, is taken out, the worst of
 * each neighbourhood first, and the rest is foretold anew without it, until nothing changes: points
 * that hide each other come out one after the other.
 *
 * Method: least absolute residuals by re-weighting (Bloomfield and Steiger, Least Absolute
 * Deviations, 1983); the median of |t| as scale (Rousseeuw and Leroy, Robust Regression and Outlier
 * Detection, 1987). The 14 and the 8 are ours, tried on random surfaces and noise.
 */
#ifndef PP_FLATNESS_WILD_POINTS_H
#define PP_FLATNESS_WILD_POINTS_H

#include <stdbool.h>

#include "input/lists/survey.h"

enum {
    PP_WILD_POINTS_LEAST = 20,
    PP_WILD_POINTS_MOST = 20000 /* a denser survey has so many points a cell that its surface cannot
                                   follow one of them */
};

/* Mark the wild points of a survey of that many points, plate frame; of any other: none.
 * out: wild[count], off[count] (mm above what the neighbours foretell).
 * errors   PP_ENOMEM */
pp_status pp_wild_points_find(const pp_survey *survey, int threads, pp_memory *memory, bool *wild,
                              double *off, pp_error *error);

/* Of the points marked, those that stand alone and so are no part of any plate. The others may be
 * real: three or more of one neighbourhood on the same side (two where the survey ends), one in a
 * corner of the survey, where plates are bent; and all, where they are more than one in twenty.
 * out: alone[count]
 * errors   PP_ENOMEM */
pp_status pp_wild_points_alone(const pp_survey *survey, const bool *wild, const double *off,
                               pp_memory *memory, bool *alone, pp_error *error);

#endif

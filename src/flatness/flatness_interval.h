/* Between which bounds the flatness of the plate lies at the points surveyed, each end with 5 %
 * risk of its own.
 *
 * The zone of noisy readings is wider than the plate's: by 3 to 8 standard uncertainties of a
 * height for 30 to 20000 points. Bounds from the readings alone hold for any shape: the zone less
 * what the range of so many normals reaches, and the zone with the noise of the few points that it
 * hangs on. Narrower ones come from the fitted surface, for plates without features narrower than
 * `smallest_feature`, and are given up where the readings say otherwise. docs/theory/flatness.md
 * has the rule, its reasons, and how often it errs. */
#ifndef PP_FLATNESS_FLATNESS_INTERVAL_H
#define PP_FLATNESS_FLATNESS_INTERVAL_H

#include "flatness/surface.h"
#include "planes/plane.h"

typedef struct pp_flatness_interval {
    bool valid;       /* false: no uncertainty was stated */
    bool by_surface;  /* else by the readings alone */
    const char *why;  /* not by the surface; NULL: it is */
    double u, u_used; /* standard uncertainty of a height: stated, and used (the larger, where the
                         readings refute it) */
    double low, high; /* mm */
    double estimate;  /* for information: the zone less what noise adds to it on average */
    double bias;      /* that average; NaN: not found */
    double readings_low, readings_high; /* by the readings alone */
    double noise_zone;       /* 95 % quantile of the range of so many readings of a perfect plane */
    double smallest_feature; /* mm: used; 0: readings only */
} pp_flatness_interval;

typedef struct pp_interval_options {
    double uncertainty;      /* expanded (k = 2) of one height, mm */
    double uncertainty_form; /* expanded, of flatness: common to all readings; NaN: none */
    double
        smallest_feature; /* mm; NaN: 4 pitches of the survey, at least 1/20 of the shorter side */
    bool least_squares;   /* flatness about the least-squares plane, not the minimum zone */
    int threads;
} pp_interval_options;

/* given    survey, least_squares, minimum_zone   of the same points, survey's own frame
 *          surface  fitted to them; NULL: no outline, readings only
 * errors   PP_ENOMEM; those of the planes
 * The same bits for any thread count. */
pp_status pp_flatness_interval_find(const pp_survey *survey, const pp_least_squares *least_squares,
                                    const pp_minimum_zone *minimum_zone, const pp_surface *surface,
                                    const pp_interval_options *options, pp_memory *memory,
                                    pp_flatness_interval *interval, pp_error *error);

#endif

/* How well a process keeps to limits: diameters of many plates, and positions.
 *
 * Plates weigh alike: holes of one plate share its errors, and are not so many independent proofs.
 * Terms of ISO 22514-2; intervals: docs/theory/history.md. */
#ifndef PP_PROCESS_CAPABILITY_H
#define PP_PROCESS_CAPABILITY_H

#include <stdbool.h>
#include <stddef.h>

#include "base/memory.h"

/* The holes of one plate: enough of them for everything here. mm, mm2, divisor n - 1. */
typedef struct pp_plate_moments {
    double diameters, mean_diameter, var_diameter;
    double holes, mean_dx, mean_dy, var_dx, var_dy, cov_dxdy;
} pp_plate_moments;

typedef struct pp_size_capability {
    size_t plates;
    double holes;
    double mean, within, between, total;       /* mm, standard deviations */
    double cp, cpk, pp, ppk;                   /* NaN: not to be had */
    double pp_low, pp_high, ppk_low, ppk_high; /* 95 % */
    bool in_order;                             /* no plate's mean is beyond the chart of means */
} pp_size_capability;

/* Of the diameters; plates with fewer than two diameters are passed over.
 * lower, upper   limits, NaN: none; at least one
 * errors         PP_EINPUT (limits), PP_ENOTHING (no plate), PP_ENOMEM */
pp_status pp_size_capability_find(const pp_plate_moments *plates, size_t count, double lower,
                                  double upper, pp_arena *scratch, pp_size_capability *found,
                                  pp_error *error);

typedef struct pp_position_capability {
    size_t plates;
    double holes;
    double mean_x, mean_y, var_x, var_y, cov; /* pooled */
    double median, q99865;                    /* diametral positions, mm */
    double ppk, ppk_low, ppk_high;            /* 90 %; NaN: fewer than four plates */
    double share_outside;                     /* modelled */
    double index;                             /* of that share, as a normal one: z / 3 */
} pp_position_capability;

/* Of positions within a diametral limit: (dx, dy) as one two-dimensional normal distribution, the
 * percentile method of ISO 22514-2. errors: PP_EINPUT: no limit; PP_ENOTHING: no positions, or all
 * of them alike */
pp_status pp_position_capability_find(const pp_plate_moments *plates, size_t count, double limit,
                                      pp_position_capability *found, pp_error *error);

/* P(hypot(x, y) <= r) of a two-dimensional normal distribution. */
double pp_normal_disc(double r, double mean_x, double mean_y, double var_x, double var_y,
                      double cov);
/* The r of it, 0 < share < 1. */
double pp_normal_disc_radius(double share, double mean_x, double mean_y, double var_x, double var_y,
                             double cov);

/* Upper bound of a sum of two independent mean squares, s2 = v1 + v2 (Graybill and Wang, Journal of
 * the American Statistical Association 75 (1980) 869; from memory): at most that with probability 1
 * - a. df2 <= 0: v2 is known. */
double pp_variance_sum_upper(double v1, double df1, double v2, double df2, double a);

#endif

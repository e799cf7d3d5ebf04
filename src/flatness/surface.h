/* A smooth surface through the survey: plate elements, bending energy, smoothing by REML. */
#ifndef PP_FLATNESS_SURFACE_H
#define PP_FLATNESS_SURFACE_H

#include "elements/mesh.h"
#include "input/lists/survey.h"

typedef struct pp_surface_options {
    double uncertainty; /* expanded (k = 2) of one height, mm; NaN: estimated from the survey */
    int threads;
} pp_surface_options;

/* What the fit says of points that it was not given (flatness/surface_check.h). */
typedef struct pp_surface_check {
    bool valid;             /* false: the fit hangs on some single point, or too few to tell */
    double leave_one_out;   /* rms of each point less the surface fitted without it, mm */
    double leave_block_out; /* the same without its 5 nearest neighbours either; NaN: not found */
    double standard_error;  /* of the surface, by the larger of the two: what they have beyond the
                               noise of a height; 0: nothing */
    bool sharper;           /* clearly more than the smoothing knows of */
    double x, y;            /* where a point left out differs most */
    size_t row;             /* its data row, from 1 */
} pp_surface_check;

typedef struct pp_surface {
    const pp_mesh *mesh;
    const double *field; /* [mesh->dofs] height in the plate frame, mm */
    double rms;          /* root mean square residual of the points that are in it, mm */
    double noise;        /* estimated standard deviation of one height (sigma hat), mm */
    double degrees_of_freedom;
    double standard_error; /* of the fitted surface, mm: as the smoothing claims, or what points
                              left out show where that is more */
    double standard_error_smoother; /* as the smoothing claims: sigma sqrt(df / N) */
    pp_surface_check check;
    double smoothing;     /* mu chosen */
    double used_noise;    /* sigma in force: as stated, or found where none was, it was refuted,
                             or the survey is quieter and has twice the points it needs, mm */
    const double *normal; /* A of the fit, a lower band of the mesh; for redraw.h */
    const double *factor; /* of A + mu K, lower band */
    const struct pp_surface_system *system; /* all its equations; NULL: points are weighted */
    double condition;                       /* estimated condition number of the system solved */
    bool noisier_than_stated;               /* noise > 1.5 * uncertainty / 2 */
    bool noise_unreliable;  /* uncertainty not stated, and so few points for such a shape that the
                               heights alone hardly tell noise from shape */
    size_t outlier_count;   /* points far off their neighbours or the surface */
    const size_t *outliers; /* their data rows, from 1, ascending */
    const bool *left_out;   /* [outlier_count] stands alone and is no part of the surface; the
                               others may be real and stay in. NULL: none is left out */
    size_t left_out_count;
    size_t outside_count; /* points too far beyond the outline for the surface to follow */
    double unseen_share;  /* share of the plate's area farther than 2 survey pitches from a point */
    double covered_share; /* share of the area within a tenth of the shorter side of a point */
    double unseen_x, unseen_y; /* the place farthest from any point */
    double unseen_distance;    /* and its distance, mm */
    double pitch;              /* survey pitch: sqrt(area / points) */
} pp_surface;

/* Height and derivatives (per mm) at one place. */
typedef struct pp_surface_value {
    double w, wx, wy, wxx, wxy, wyy;
} pp_surface_value;

/* Fit the surface w that minimises sum weight (w - z)^2 + mu * (bending energy of w for D = 1).
 *
 * given    survey       points; those beyond the outline by more than a quarter cell are left out
 *                       and counted
 *          mesh         of the outline; kept by the surface
 * memory   keep         the field and the list of outliers
 * errors   PP_EINPUT    fewer than 3 points on the plate, or almost in one line
 *          PP_ENUMERIC  the points do not determine a surface
 *          PP_ENOMEM
 *
 * Points that stand alone far off their neighbours (wild_points.h) are left out first, whatever
 * uncertainty is stated, unless they are within it; and in up to four rounds those that stand alone
 * far off the surface found.
 *
 * mu by restricted maximum likelihood (smoothing.h). When a residual lies beyond what one survey in
 * twenty of this size would show (at least 5 standard deviations, the scale from the median of the
 * residuals), up to three passes with Huber's weights follow. The same bits for any thread count.
 */
pp_status pp_surface_fit(const pp_survey *survey, const pp_mesh *mesh,
                         const pp_surface_options *options, pp_memory *memory, pp_surface *surface,
                         pp_error *error);

/* Height at a place of the plate frame, mm. */
double pp_surface_height(const pp_surface *surface, double x, double y);
/* Height and all derivatives up to the second there. */
pp_surface_value pp_surface_at(const pp_surface *surface, double x, double y);

#endif

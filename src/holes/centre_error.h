/* How uncertain an aligned centre is: its own reading, and what the readings that aligned it carry
 * into it. First order in the errors (JCGM 100:2008, 5.1 and 5.2); plate frame, mm.
 *
 * A reading's two coordinates err independently and alike, with u^2 = (U_position/2)^2 +
 * (U_per_metre r/2000)^2, r from the alignment's reference. Errors of scale (the plate's
 * temperature, its expansion) are common to the whole plate and act along the line from the place
 * that the alignment turns about. docs/theory/holes.md derives the covariances. */
#ifndef PP_HOLES_CENTRE_ERROR_H
#define PP_HOLES_CENTRE_ERROR_H

#include "holes/alignment.h"

/* How uncertain the measuring is, as the job states it; NaN: not stated. */
typedef struct pp_hole_uncertainty {
    double position;           /* expanded (k = 2), of one coordinate, mm */
    double per_metre;          /* expanded, of distance from the reference, mm/m */
    double diameter, ligament; /* expanded, mm */
    double scale; /* standard, relative: of the plate's temperature, and of its expansion between
                     the temperature stated and 20 C; 0: not stated */
} pp_hole_uncertainty;

/* As the job states them. */
pp_hole_uncertainty pp_hole_uncertainty_of(const pp_job *job);

typedef struct pp_covariance { /* of two coordinates, mm2 */
    double xx, xy, yy;
} pp_covariance;

/* What the alignment of one face has from the readings it was found by. */
typedef struct pp_pose_error {
    double x, y;           /* where it turns about: the first datum hole, the centroid of the fit */
    pp_covariance shift;   /* of the shift there */
    double turn_x, turn_y; /* covariances of the shift with the angle, mm rad */
    double turn;           /* variance of the angle, rad2 */
    uint32_t datum[2];     /* two-holes: the holes it was found by; else PP_NONE */
    uint8_t face;          /* pp_face: whose readings it was found by */
    bool fitted;           /* by a best fit over the face's tube holes ... */
    double count, moment;  /* ... so many, with this sum of |d|^2 about the centroid, mm2 */
} pp_pose_error;

typedef struct pp_centre_errors {
    pp_hole_uncertainty stated;
    const pp_nominal *nominal;
    double reference_x, reference_y; /* where uncertainty per metre starts from */
    pp_pose_error pose[2];           /* [pp_face] */
} pp_centre_errors;

/* An alignment whose errors are asked for. */
typedef struct pp_aligned_by {
    const pp_hole_files *files; /* nominal holes, datum points */
    const pp_gathered *gathered;
    const pp_align_options *options;
    const pp_alignment *alignment; /* from pp_alignment_find of the same, which has refused what
                                      cannot be aligned */
} pp_aligned_by;

/* The errors of the alignment in force; `stated` of single readings. */
pp_status pp_centre_errors_find(const pp_aligned_by *by, const pp_hole_uncertainty *stated,
                                int threads, pp_centre_errors *errors, pp_error *error);

/* The errors of laying the pattern on itself by best fit, on top of that alignment: the
 * alignment's own drop out. */
pp_status pp_centre_errors_within(const pp_centre_errors *aligned, const pp_gathered *gathered,
                                  int threads, pp_centre_errors *errors, pp_error *error);

/* u^2 of one coordinate of a reading at a place, the alignment left out, mm2. */
double pp_reading_variance(const pp_centre_errors *errors, double x, double y);

/* Covariance of the centre of a bore: at its nominal place, or where it lies for an extra hole
 * (`hole` PP_NONE). Without the common error of scale where `scaled` is false. */
pp_covariance pp_centre_covariance(const pp_centre_errors *errors, uint8_t face, uint32_t hole,
                                   pp_plate_point at, bool scaled);

/* Standard uncertainty and first-order bias of `factor` times the length of (dx, dy), a vector of
 * that covariance: the uncertainty is that along the worst direction, since an error turns the
 * vector itself; the bias never exceeds half the length measured. */
pp_distance_error pp_distance_error_of(pp_covariance covariance, double dx, double dy,
                                       double factor);

/* The share of the largest variance that is not the bore's own reading's: what it has in common
 * with the rest of the plate. NaN where there is no variance. */
double pp_common_share(const pp_centre_errors *errors, uint32_t hole, pp_covariance covariance);

/* Standard uncertainty along a direction (unit). */
double pp_covariance_along(pp_covariance covariance, double nx, double ny);

/* Of the sum of two errors that have nothing in common. */
static inline pp_covariance pp_covariance_add(pp_covariance a, pp_covariance b)
{
    return (pp_covariance){a.xx + b.xx, a.xy + b.xy, a.yy + b.yy};
}

#endif
